// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	npyio "codeberg.org/sbinet/npyio/npy"
)

// A SampleType is the type of the samples in a .npy file.
type SampleType uint8

// The types of samples.
const (
	Int16   SampleType = iota // two's complement
	Float32                   // IEEE 754 binary32, the samples of fmc.Capture as they are
	Float64                   // IEEE 754 binary64
)

// String returns "int16", "float32" or "float64".
func (t SampleType) String() string {
	if int(t) < len(sampleTypes) {
		return sampleTypes[t].name
	}
	return fmt.Sprintf("SampleType(%d)", uint8(t))
}

// sampleTypes holds the name, the code without the byte order and the size in
// bytes of each type.
var sampleTypes = [...]struct {
	name, code string
	size       int
}{
	Int16:   {"int16", "i2", 2},
	Float32: {"float32", "f4", 4},
	Float64: {"float64", "f8", 8},
}

// header is what stands before the samples of a .npy file.
type header struct {
	sampleType SampleType
	byteOrder  binary.ByteOrder
	shape      []int // two to four numbers, each at least 1, whose product times the size fits an int
	length     int64 // bytes of the header itself
}

// maxHeader bounds the dictionary of a header: it is the longest that version
// 1.0 of the format can hold, and a hundred times what a capture takes.
const maxHeader = 1<<16 - 1

// readHeader reads the header of a .npy file and nothing after it. Its errors
// wrap [ErrArray], also where r ends or fails.
func readHeader(r io.Reader) (header, error) {
	start := make([]byte, len(npyio.Magic)+2, len(npyio.Magic)+6)
	if _, err := io.ReadFull(r, start); err != nil {
		return header{}, arrayError("header: %w", eofUnexpected(err))
	}
	size := 2
	if start[len(npyio.Magic)] > 1 {
		size = 4
	}
	start = start[:len(start)+size]
	if _, err := io.ReadFull(r, start[len(start)-size:]); err != nil {
		return header{}, arrayError("header: %w", eofUnexpected(err))
	}
	length := int64(binary.LittleEndian.Uint16(start[8:]))
	if size == 4 {
		length = int64(binary.LittleEndian.Uint32(start[8:]))
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
	parsed, err := parseHeader(append(start, dictionary...))
	if err != nil {
		return header{}, err
	}
	h := header{shape: parsed.Descr.Shape, length: int64(len(start) + len(dictionary))}
	if h.sampleType, h.byteOrder, err = parseType(parsed.Descr.Type); err != nil {
		return header{}, err
	}
	if parsed.Descr.Fortran {
		return header{}, arrayError("Fortran order: want C order")
	}
	return h, h.validateShape()
}

// parseHeader has npyio parse a whole header. npyio panics on some malformed
// dictionaries, which is an error here like any other.
func parseHeader(text []byte) (h npyio.Header, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = arrayError("malformed header %.200q", text)
		}
	}()
	r, err := npyio.NewReader(bytes.NewReader(text))
	if err != nil {
		return h, arrayError("header: %w", err)
	}
	return r.Header, nil
}

// parseType parses a type as it stands in the dictionary, quotes included:
// '<i2' is little-endian int16.
func parseType(text string) (SampleType, binary.ByteOrder, error) {
	code := strings.Trim(text, "'")
	for t, known := range sampleTypes {
		switch code {
		case "<" + known.code:
			return SampleType(t), binary.LittleEndian, nil
		case ">" + known.code:
			return SampleType(t), binary.BigEndian, nil
		}
	}
	return 0, nil, arrayError("type %.50s: want int16, float32 or float64 ('<i2', '<f4', '<f8', or '>' for big-endian)", text)
}

func (h header) validateShape() error {
	if len(h.shape) < 2 || len(h.shape) > 4 {
		return arrayError("%d dimensions: want 2 to 4", len(h.shape))
	}
	room := math.MaxInt / h.size()
	for _, n := range h.shape {
		if n < 1 || n > room {
			return arrayError("shape %v: want numbers from 1, and less than 2^%d bytes in all", h.shape, strconv.IntSize-1)
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

// bytes returns the header in version 1.0 of the format, padded with spaces to
// a multiple of 64 bytes, so that the samples lie aligned in memory that maps
// the file, and to least bytes at least.
func (h header) bytes(least int) []byte {
	shape := make([]string, len(h.shape))
	for i, n := range h.shape {
		shape[i] = strconv.Itoa(n)
	}
	dictionary := fmt.Sprintf("{'descr': '<%s', 'fortran_order': False, 'shape': (%s), }",
		sampleTypes[h.sampleType].code, strings.Join(shape, ", "))
	const align = 64
	length := len(npyio.Magic) + 4
	padded := max(length+len(dictionary)+1, least)
	padded += (align - padded%align) % align
	dictionary += strings.Repeat(" ", padded-length-len(dictionary)-1) + "\n"

	b := append(make([]byte, 0, length+len(dictionary)), npyio.Magic[:]...)
	b = append(b, 1, 0)
	b = binary.LittleEndian.AppendUint16(b, uint16(len(dictionary)))
	return append(b, dictionary...)
}

// arrayError returns an error that wraps [ErrArray].
func arrayError(format string, args ...any) error {
	return fmt.Errorf("%w: %w", ErrArray, fmt.Errorf(format, args...))
}
