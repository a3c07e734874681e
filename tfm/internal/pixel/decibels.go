// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package pixel

import "math"

// Levels says how amplitudes become levels.
type Levels struct {
	Scale     float64 // 1/reference
	Threshold float32 // the amplitude below which a level is Floor
	Floor     float32 // dB
}

// Decibels writes the levels of src, 20·log10(amplitude/reference) or the floor where
// that is higher, to dst, of its length.
func Decibels(dst, src []float32, l Levels) {
	for i, v := range src {
		level := l.Floor
		if v > l.Threshold {
			level = max(l.Floor, of(float64(v)*l.Scale))
		}
		dst[i] = level
	}
}

// The ratio is m·2^exponent with m from 3/4 to 3/2. With s = (m-1)/(m+1),
// ln(m) = 2·(s + s³/3 + s⁵/5 + …); |s| is at most 1/5, and the terms from s¹¹ on
// are below 4e-9.
const (
	ThreeQuarters = 0x3f400000 // the bits of 0.75
	PerBit        = 20 * math.Ln2 / math.Ln10
	PerNeper      = 20 / math.Ln10
)

// of returns 20·log10(ratio) within 1e-5 dB, for a ratio above 0. It is several
// times faster than [math.Log10], which an image of 65,536 pixels feels.
func of(ratio float64) float32 {
	r := float32(ratio)
	if !(r >= 0x1p-126 && r <= math.MaxFloat32) {
		return float32(20 * math.Log10(ratio)) // not a normal float32
	}
	bits := int32(math.Float32bits(r))
	exponent := (bits - ThreeQuarters) >> 23
	m := math.Float32frombits(uint32(bits - exponent<<23))
	s := (m - 1) / (m + 1)
	q := float32(s * s)
	series := float32(q * (1. / 9))
	for _, term := range [...]float32{1. / 7, 1. / 5, 1. / 3} {
		series = float32(q * (term + series))
	}
	return float32(PerBit*float32(exponent)) + float32(PerNeper*float32(2*s*(1+series)))
}
