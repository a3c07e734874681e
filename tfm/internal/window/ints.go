// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import (
	"unsafe"

	"github.com/isochron-imaging/isochron/internal/vector"
)

// Ints holds packed samples of 16 bits: real parts or imaginary parts of a trace. It stores whole
// samples, or, in formats with Bytes, the low bytes of all samples and then their high bytes.
type Ints struct {
	whole     []int16
	low, high []uint8
}

// NewInts returns the samples of a range in the format f. Data begins with a plane of the given
// number of samples.
func (f Format) NewInts(data []int16, plane int, r Range) Ints {
	if !f.Bytes {
		return Ints{whole: data[r.From:r.To]}
	}
	all := unsafe.Slice((*uint8)(unsafe.Pointer(unsafe.SliceData(data))), 2*plane)
	return Ints{low: all[r.From:r.To], high: all[plane:][r.From:r.To]}
}

// At returns sample k.
func (s *Ints) At(k int) int16 {
	if s.whole != nil {
		return s.whole[k]
	}
	return int16(s.high[k])<<8 | int16(s.low[k])
}

// Set sets sample k.
func (s *Ints) Set(k int, v int16) {
	if s.whole != nil {
		s.whole[k] = v
	} else {
		s.low[k], s.high[k] = uint8(v), uint8(v>>8)
	}
}

// Pack sets all samples to scale·src, rounded to integers, halves to the even integer. The
// products must fit into 16 bits.
func (s *Ints) Pack(src []float32, scale float32) {
	if s.whole != nil {
		vector.Pack(s.whole, src, scale)
	} else {
		vector.PackBytes(s.low, s.high, src, scale)
	}
}

// Scale multiplies all samples by a factor from 0 to 1 and rounds to integers, halves to the even
// integer.
func (s *Ints) Scale(by float32) {
	if s.whole != nil {
		vector.Scale(s.whole, by)
	} else {
		vector.ScaleBytes(s.low, s.high, by)
	}
}
