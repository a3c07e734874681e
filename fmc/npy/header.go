// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"

	"github.com/isochron-imaging/isochron/internal/numpy"
)

// A SampleType is the type of the samples in a .npy file.
type SampleType uint8

// The types of samples.
const (
	Int16   SampleType = iota // two's complement
	Float32                   // IEEE 754 binary32, the type of the samples in fmc.Capture
	Float64                   // IEEE 754 binary64
)

// String returns "int16", "float32" or "float64".
func (t SampleType) String() string {
	if int(t) < len(sampleTypes) {
		return sampleTypes[t].name
	}
	return fmt.Sprintf("SampleType(%d)", uint8(t))
}

// sampleTypes holds the name, the code without the byte order and the size in bytes of each type.
var sampleTypes = [...]struct {
	name, code string
	size       int
}{
	Int16:   {"int16", "i2", 2},
	Float32: {"float32", "f4", 4},
	Float64: {"float64", "f8", 8},
}

// header is the header of a .npy file, which precedes the samples.
type header struct {
	sampleType SampleType
	byteOrder  binary.ByteOrder
	shape      []int // two to four numbers from 1; their product times the size fits an int
	length     int64 // bytes of the header
}

// maxHeader is the greatest length in bytes of the dictionary of a header: the greatest that
// version 1.0 of the format can state, and a hundred times the length that a capture needs.
const maxHeader = 1<<16 - 1

// readHeader reads the header of a .npy file and nothing after it. Every error wraps [ErrArray],
// also an error of r.
func readHeader(r io.Reader) (header, error) {
	start := make([]byte, len(numpy.Magic)+2, len(numpy.Magic)+6)
	if _, err := io.ReadFull(r, start); err != nil {
		return header{}, arrayError("header: %w", eofUnexpected(err))
	}
	if string(start[:len(numpy.Magic)]) != numpy.Magic {
		return header{}, arrayError("header begins with %q: want %q", start[:len(numpy.Magic)], numpy.Magic)
	}
	size := 2
	switch major, minor := start[len(numpy.Magic)], start[len(numpy.Magic)+1]; {
	case minor != 0 || major < 1 || major > 2:
		return header{}, arrayError("header of version %d.%d: want 1.0 or 2.0", major, minor)
	case major == 2:
		size = 4
	}
	number := start[len(start) : len(start)+size]
	if _, err := io.ReadFull(r, number); err != nil {
		return header{}, arrayError("header: %w", eofUnexpected(err))
	}
	length := int64(binary.LittleEndian.Uint16(number))
	if size == 4 {
		length = int64(binary.LittleEndian.Uint32(number))
	}
	if length > maxHeader {
		return header{}, arrayError("header of %d bytes: want %d at most", length, maxHeader)
	}
	dictionary, err := io.ReadAll(io.LimitReader(r, length))
	if err == nil && int64(len(dictionary)) < length {
		err = io.ErrUnexpectedEOF
	}
	if err != nil {
		return header{}, arrayError("header: %w", err)
	}
	h, err := parseDictionary(string(dictionary))
	if err != nil {
		return header{}, err
	}
	h.length = int64(len(start) + size + len(dictionary))
	return h, h.validateShape()
}

// dictionaryForm matches the dictionary of a header and selects the type, the order and the numbers
// of the shape.
var dictionaryForm = regexp.MustCompile(
	`^\{'descr': (.+), 'fortran_order': (.+), 'shape': \(([^()]*)\),? ?\} *\n$`)

// parseDictionary parses the dictionary of a header.
func parseDictionary(text string) (h header, err error) {
	parts := dictionaryForm.FindStringSubmatch(text)
	if parts == nil {
		return h, arrayError("malformed header %s", quoted(text))
	}
	if h.sampleType, h.byteOrder, err = parseType(parts[1]); err != nil {
		return h, err
	}
	if parts[2] != "False" {
		return h, arrayError("fortran_order %s: want False, which is C order", quoted(parts[2]))
	}
	shape := strings.TrimSuffix(parts[3], ",")
	if shape == "" {
		return h, nil
	}
	for number := range strings.SplitSeq(shape, ",") {
		n, err := strconv.Atoi(strings.TrimSpace(number))
		if errors.Is(err, strconv.ErrRange) {
			return h, arrayError("shape with the number %s, which is out of range", quoted(number))
		} else if err != nil {
			return h, arrayError("malformed header %s", quoted(text))
		}
		h.shape = append(h.shape, n)
	}
	return h, nil
}

// parseType parses the type in a dictionary, with its quotes: '<i2' is little-endian int16.
func parseType(text string) (SampleType, binary.ByteOrder, error) {
	for t, known := range sampleTypes {
		switch text {
		case "'<" + known.code + "'":
			return SampleType(t), binary.LittleEndian, nil
		case "'>" + known.code + "'":
			return SampleType(t), binary.BigEndian, nil
		}
	}
	return 0, nil, arrayError(
		"type %s: want int16, float32 or float64 ('<i2', '<f4', '<f8', or '>' for big-endian)",
		quoted(text))
}

func (h header) validateShape() error {
	if len(h.shape) < 2 || len(h.shape) > 4 {
		return arrayError("%d dimensions: want 2 to 4", len(h.shape))
	}
	room := math.MaxInt / h.size()
	for _, n := range h.shape {
		if n < 1 || n > room {
			return arrayError("shape %v: want numbers from 1, and less than 2^%d bytes in all",
				h.shape, strconv.IntSize-1)
		}
		room /= n
	}
	return nil
}

// size returns the bytes of a sample.
func (h header) size() int { return sampleTypes[h.sampleType].size }

// count returns the number of samples.
func (h header) count() int {
	n := 1
	for _, d := range h.shape {
		n *= d
	}
	return n
}

// bytes returns the header in version 1.0 of the format, padded with spaces to a multiple of 64
// bytes, and to at least the given number of bytes. So the samples are aligned in memory that maps
// the file.
func (h header) bytes(least int) []byte {
	return numpy.Header("<"+sampleTypes[h.sampleType].code, h.shape, least)
}

// arrayError returns an error that wraps [ErrArray].
func arrayError(format string, args ...any) error {
	return fmt.Errorf("%w: %w", ErrArray, fmt.Errorf(format, args...))
}
