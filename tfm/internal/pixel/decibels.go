// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package pixel

import "math"

// Levels says how amplitudes become levels in decibels.
type Levels struct {
	Scale     float64 // 1/reference
	Threshold float32 // the amplitude below which a level is Floor
	Floor     float32 // dB
}

// Decibels writes the levels of src in decibels to dst: 20·log10(amplitude/reference), or the
// floor if that is higher. dst has the length of src, and may be src.
func Decibels(dst, src []float32, l Levels) {
	dst = dst[:len(src)]
	scale := float32(l.Scale)
	if n := len(src) / lanes; fast && n > 0 && normal(scale) {
		done := lanes * decibels(&dst[0], &src[0], n, scale, l.Threshold, l.Floor)
		dst, src = dst[done:], src[done:]
	}
	for i, v := range src {
		level := l.Floor
		if v > l.Threshold {
			level = max(l.Floor, l.of(v, scale))
		}
		dst[i] = level
	}
}

// of returns the level of an amplitude above 0. The scale is l.Scale in single precision.
func (l *Levels) of(amplitude, scale float32) float32 {
	if ratio := amplitude * scale; normal(scale) && normal(ratio) {
		return of(ratio)
	}
	return float32(20 * math.Log10(float64(amplitude)*l.Scale))
}

// normal reports whether r is above 0, finite, and not so small that it loses bits.
func normal(r float32) bool { return r >= 0x1p-126 && r <= math.MaxFloat32 }

// The ratio is m·2^exponent with m from 3/4 to 3/2. With s = (m-1)/(m+1) the logarithm is
// ln(m) = 2·(s + s³/3 + s⁵/5 + …). |s| is at most 1/5, and the terms from s¹¹ on are below 4e-9.
const (
	threeQuarters = 0x3f400000 // the bits of 0.75
	perBit        = 20 * math.Ln2 / math.Ln10
	perNeper      = 20 / math.Ln10
)

// of returns 20·log10(r) in decibels, within 1e-5 dB, for a normal number above 0. It is several
// times faster than [math.Log10]. Levels are computed for every pixel of every frame.
func of(r float32) float32 {
	bits := int32(math.Float32bits(r))
	exponent := (bits - threeQuarters) >> 23
	m := math.Float32frombits(uint32(bits - exponent<<23))
	s := (m - 1) / (m + 1)
	q := float32(s * s)
	series := float32(q * (1. / 9))
	for _, term := range [...]float32{1. / 7, 1. / 5, 1. / 3} {
		series = float32(q * (term + series))
	}
	return float32(perBit*float32(exponent)) + float32(perNeper*float32(2*s*(1+series)))
}
