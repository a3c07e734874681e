// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"encoding/binary"
	"fmt"
	"io"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
)

// chunk is the number of samples that are converted at once.
const chunk = 1 << 13

// readSamples reads the samples after header h to the end of r. checked states that r holds as many
// samples as h states: their memory is then allocated at once.
//
// A sample of type float64 is rounded to float32. A sample beyond the range of float32 becomes
// ±Inf, which package fmc refuses.
func readSamples(r io.Reader, h header, checked bool) ([]float32, error) {
	n := h.count()
	var data []float32
	if checked {
		data = make([]float32, 0, n)
	}
	data, err := gather(data, n, r, make([]byte, min(n, chunk)*h.size()), h, header.appendDecoded)
	if err != nil {
		return nil, arrayError("samples of %d bytes: %w", n*h.size(), err)
	}
	return data, h.checkEnd(r)
}

// gather reads n samples from r and decodes them into samples, from the beginning of the slice. buf
// holds a chunk. If samples has no room, it grows as the samples arrive, whatever the header
// states. It grows fourfold, so that all its copies together take less than 4/3 of the last copy.
func gather[T int16 | float32](samples []T, n int, r io.Reader, buf []byte, h header,
	decode func(header, []T, []byte) []T) ([]T, error) {
	samples = samples[:0]
	for len(samples) < n {
		if len(samples) == cap(samples) {
			room := n
			for room/4 >= max(chunk, 4*len(samples)) {
				room /= 4
			}
			samples = append(make([]T, 0, room), samples...)
		}
		part := buf[:min(n-len(samples), cap(samples)-len(samples), chunk)*h.size()]
		if _, err := io.ReadFull(r, part); err != nil {
			return nil, eofUnexpected(err)
		}
		samples = decode(h, samples, part)
	}
	return samples, nil
}

// checkEnd checks that nothing follows the samples, which r has yielded.
func (h header) checkEnd(r io.Reader) error {
	var extra [1]byte
	if n, err := io.ReadFull(r, extra[:]); n > 0 {
		return arrayError("more than the %d bytes of samples that the header states",
			h.count()*h.size())
	} else if err != io.EOF {
		return arrayError("end of the samples: %w", err)
	}
	return nil
}

// appendDecoded appends the samples that b holds to data.
func (h header) appendDecoded(data []float32, b []byte) []float32 {
	order := h.byteOrder
	switch h.sampleType {
	case Int16:
		for ; len(b) > 0; b = b[2:] {
			data = append(data, float32(int16(order.Uint16(b))))
		}
	case Float32:
		for ; len(b) > 0; b = b[4:] {
			data = append(data, math.Float32frombits(order.Uint32(b)))
		}
	case Float64:
		for ; len(b) > 0; b = b[8:] {
			data = append(data, float32(math.Float64frombits(order.Uint64(b))))
		}
	}
	return data
}

// chunkBuffer returns a buffer for writeSamples.
func (t SampleType) chunkBuffer() []byte { return make([]byte, 0, chunk*sampleTypes[t].size) }

// writeSamples writes samples of type t, little-endian, chunk by chunk in buf. The samples fit t.
func (t SampleType) writeSamples(w io.Writer, samples []float32, buf []byte) error {
	for from := 0; from < len(samples); from += chunk {
		buf = t.appendEncoded(buf[:0], samples[from:min(from+chunk, len(samples))])
		if _, err := w.Write(buf); err != nil {
			return err
		}
	}
	return nil
}

// appendEncoded appends samples to b as little-endian numbers of type t.
func (t SampleType) appendEncoded(b []byte, samples []float32) []byte {
	for _, v := range samples {
		switch t {
		case Int16:
			b = binary.LittleEndian.AppendUint16(b, uint16(int16(v)))
		case Float32:
			b = binary.LittleEndian.AppendUint32(b, math.Float32bits(v))
		case Float64:
			b = binary.LittleEndian.AppendUint64(b, math.Float64bits(float64(v)))
		}
	}
	return b
}

// validate checks that every sample of c can be written as t without loss.
func (t SampleType) validate(c *fmc.Capture) error {
	if int(t) >= len(sampleTypes) {
		return fmt.Errorf("sample type %v: want int16, float32 or float64", t)
	}
	if t != Int16 {
		return nil
	}
	for i, v := range c.Data {
		if !(v >= math.MinInt16 && v <= math.MaxInt16) || v != float32(int16(v)) {
			p, k := i/c.Samples, i%c.Samples
			return fmt.Errorf(
				"%w: sample %d of pair %d (%v) is %v: want an integer from -32768 to 32767, or type Float32",
				ErrNotInt16, k, p, c.Pairs[p], v)
		}
	}
	return nil
}
