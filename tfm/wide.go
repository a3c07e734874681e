// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"

	"github.com/isochron-imaging/isochron/internal/vector"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
)

// wideFrame16 is a frame of powers in 30 bits. Powers have twice the range of amplitudes in dB,
// and 16 bits would lose all echoes that are 45 dB below the strongest echo. The real part of a
// sample holds the high bits of the power, the imaginary part the low bits. Both are summed
// linearly, so the kernel for complex samples sums them.
type wideFrame16 struct{ *frame16 }

// A power is high·2^wideBits + low, with low in ±2^(wideBits-1).
const wideBits = 15

// lowBits is the value of a low bit relative to a high bit.
const lowBits = 1. / (1 << wideBits)

// wideScale is the largest packed power: its high part is half of the range of an int16, so that
// rounding does not overflow.
const wideScale = 1 << 29

// split returns the high and the low part of v.
func split(v int32) (high, low int16) {
	high = int16((v + 1<<(wideBits-1)) >> wideBits)
	return high, int16(v - int32(high)<<wideBits)
}

// pack packs the powers re at the scale of the power of two above their peak.
func (f *wideFrame16) pack(i int, re, _ []float32, _ float32) {
	r := f.ranges[i]
	re = re[r.From:r.To]
	_, exponent := math.Frexp(float64(vector.Peak(re)))
	peak := float32(math.Ldexp(1, exponent))
	scale := wideScale / peak
	if len(re) == 0 || math.IsInf(float64(scale), 0) || math.IsInf(float64(peak), 0) {
		peak, scale = 0, 0 // nothing, or next to it
	}
	f.peaks[i] = peak
	high, low := f.ints(i)
	for k, v := range re {
		h, l := split(int32(v * scale))
		high.Set(k, h)
		low.Set(k, l)
	}
}

func (f *wideFrame16) needsLevel() bool {
	f.frame16.needsLevel()
	f.unit = f.peak / wideScale * (1 << wideBits) / float32(int(1)<<window.Format16.Fraction)
	return true
}

// level moves the bits of trace i, because all peaks are powers of two.
func (f *wideFrame16) level(i int) {
	if f.peaks[i] == f.peak {
		return
	}
	high, low := f.ints(i)
	r := f.ranges[i]
	if f.peaks[i] == 0 {
		for k := range r.To - r.From {
			high.Set(k, 0)
			low.Set(k, 0)
		}
		return
	}
	_, exponent := math.Frexp(float64(f.peak / f.peaks[i]))
	shift := min(uint(exponent-1), 31)
	for k := range r.To - r.From {
		v := int64(high.At(k))<<wideBits + int64(low.At(k))
		h, l := split(int32((v + 1<<(shift-1)) >> shift))
		high.Set(k, h)
		low.Set(k, l)
	}
}
