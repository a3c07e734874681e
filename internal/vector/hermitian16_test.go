// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package vector

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"golang.org/x/sys/cpu"

	"github.com/isochron-imaging/isochron/internal/guard"
)

// samples16 returns samples up to the largest that a filter takes. Half of them are the largest.
func samples16(r *rand.Rand, n int) []int16 {
	s := make([]int16, n)
	for i := range s {
		s[i] = int16(r.IntN(2*MaxHermitianInt16+1) - MaxHermitianInt16)
		if r.IntN(2) == 0 {
			s[i] = MaxHermitianInt16 * int16(1-2*r.IntN(2))
		}
	}
	return s
}

// TestHermitianInt16 compares each form with the definition, bit by bit, between unreadable pages.
func TestHermitianInt16(t *testing.T) {
	eachForm(t, func(t *testing.T) {
		for _, side := range guard.Sides {
			m := guard.New(t, side)
			r := rand.New(rand.NewPCG(1, 8))
			for blocks := range 6 {
				for half := range 20 {
					n := blocks * HermitianBlock
					h := NewHermitianInt16(hermitianTaps(r, half))
					x := samples16(r, n+2*h.Half())
					m.Reset()
					h.taps = guard.Copy(m, "taps", h.taps)
					re, im := guard.Copy(m, "re", random(r, n)), guard.Copy(m, "im", random(r, n))
					in, spare := guard.Copy(m, "x", x), guard.Copy(m, "spare", make([]int16, h.Spare(n)))
					what := fmt.Sprintf("%d outputs, %d taps to a side, guard %s", n, half, side)
					if err := m.Run(func() { h.Convolve(re, im, in, spare, 0.5) }); err != nil {
						t.Fatalf("%s: %v", what, err)
					}
					unit := float32(0.5 * h.unit)
					for k := range re {
						want := 0i // an integer, in units
						for j := -h.half; j <= h.half; j++ {
							tapRe, tapIm := h.tap(max(j, -j))
							if j < 0 {
								tapIm = -tapIm
							}
							want += complex(float64(tapRe), float64(tapIm)) * complex(float64(x[k+h.half-j]), 0)
						}
						if re[k] != float32(real(want))*unit || im[k] != float32(imag(want))*unit {
							t.Fatalf("%s: output %d is %v and %v, want %v times %v", what, k, re[k], im[k], want, unit)
						}
					}
				}
			}
		}
	})
}

// TestHermitianInt16Largest takes the samples that add all products with one sign, for short and
// long filters. No sum may overflow.
func TestHermitianInt16Largest(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 9))
	for _, half := range []int{0, 1, 2, 5, 35, 300} {
		for _, part := range []func(int32, int32) int32{
			func(re, _ int32) int32 { return re },
			func(_, im int32) int32 { return im },
		} {
			h := NewHermitianInt16(hermitianTaps(r, half))
			x, total := make([]int16, HermitianBlock+2*h.half), int64(0)
			for j := -h.half; j <= h.half; j++ {
				re, im := h.tap(max(j, -j))
				if j < 0 {
					im = -im
				}
				x[h.half-j] = MaxHermitianInt16
				if part(re, im) < 0 {
					x[h.half-j] *= -1
				}
				total += MaxHermitianInt16 * int64(max(part(re, im), -part(re, im)))
			}
			if total > math.MaxInt32 {
				t.Errorf("%d taps to a side: the largest sum is %d, above %d", half, total, math.MaxInt32)
			}
			re, im := make([]float32, HermitianBlock), make([]float32, HermitianBlock)
			h.Convolve(re, im, x, make([]int16, h.Spare(HermitianBlock)), 1/h.unit)
			if got := max(re[0], im[0]); got != float32(total) {
				t.Errorf("%d taps to a side: %v, want %d", half, got, total)
			}
		}
	}
}

// TestHermitianInt16Taps checks that the sums of taps from the outside are rounded to half a unit,
// that so is the response to a constant, and that the unit is as small as it can be.
func TestHermitianInt16Taps(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 10))
	for half := range 40 {
		taps := hermitianTaps(r, half)
		h := NewHermitianInt16(taps)
		tolerance := h.unit / 2 * (1 + 1e-6)
		largest, sumRe, sumIm, outer := 0.0, 0.0, 0.0, 0i
		for j := h.half; j > 0; j-- {
			want := 0i
			if j < len(taps) {
				want = complex128(taps[j])
			}
			if outer += h.Tap(j) - want; !(max(math.Abs(real(outer)), math.Abs(imag(outer))) <= tolerance) {
				t.Errorf("%d taps to a side: the sum from tap %d on is off by %v, want half of %v at most", half, j, outer, h.unit)
			}
			re, im := math.Abs(real(h.Tap(j)))/h.unit, math.Abs(imag(h.Tap(j)))/h.unit
			largest, sumRe, sumIm = max(largest, re, im), sumRe+2*re, sumIm+2*im
		}
		first := math.Abs(real(h.Tap(0))) / h.unit
		largest, sumRe = max(largest, first), sumRe+first
		if off := real(h.Tap(0)) - float64(real(taps[0])) + 2*real(outer); !(math.Abs(off) <= tolerance) {
			t.Errorf("%d taps to a side: the response to a constant is off by %v, want half of %v at most", half, off, h.unit)
		}
		// A tap of 16 bits is used up, or the sum of 32 bits but for the rounding of the taps.
		if full := math.MaxInt32/float64(MaxHermitianInt16) - 4*float64(h.half+1); largest < math.MaxInt16-4 && max(sumRe, sumIm) < full {
			t.Errorf("%d taps to a side: the largest tap is %v, and the sums are %v and %v", half, largest, sumRe, sumIm)
		}
	}
	if h := NewHermitianInt16([]complex64{0, 0}); h.Tap(0) != 0 || h.Tap(1) != 0 {
		t.Errorf("taps of a filter of zeros: %v", h.taps)
	}
}

// TestHermitianInt16Dispatch checks that a filter runs in the assembly of the best form.
func TestHermitianInt16Dispatch(t *testing.T) {
	h := NewHermitianInt16(hermitianTaps(rand.New(rand.NewPCG(1, 11)), 4))
	if got, want := h.Fast(), expected() != "" && expected() != "NEON"; got != want {
		t.Fatalf("fast %t, want %t", got, want)
	}
	if !guard.Pages || !h.Fast() {
		t.Skip("no unreadable pages, or no assembly")
	}
	convolve := "vector.convolveInt16" + best.name
	if best.name == "AVX512" && cpu.X86.HasAVX512VNNI {
		convolve = "vector.convolveInt16VNNI"
	}
	out, x, spare := make([]float32, HermitianBlock), make([]int16, HermitianBlock+8), make([]int16, h.Spare(HermitianBlock))
	for _, test := range []struct {
		want string
		run  func()
	}{
		{"vector.interleaveInt16" + best.name, func() { h.Convolve(out, out, guard.Unreadable[int16](t, len(x)), spare, 1) }},
		{convolve, func() { h.Convolve(guard.Unreadable[float32](t, len(out)), out, x, spare, 1) }},
	} {
		if got := guard.Toucher(test.run); got != test.want {
			t.Errorf("%q touched the samples, want %q", got, test.want)
		}
	}
}

// BenchmarkHermitianInt16 filters a trace of 2,048 samples with 69 taps in integers and in single
// precision.
func BenchmarkHermitianInt16(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 12))
	const n, half = 2048, 34
	taps := hermitianTaps(r, half)
	h, single := NewHermitianInt16(taps), NewHermitian(taps)
	re, im, x, xs := make([]float32, n), make([]float32, n), samples16(r, n+2*h.half), random(r, n+2*half)
	selected := best
	defer func() { best = selected }()
	for i, form := range available() {
		best = form
		b.Run(fmt.Sprintf("int16/form=%d-%s", i, best.name), func(b *testing.B) {
			spare := make([]int16, h.Spare(n))
			for b.Loop() {
				h.Convolve(re, im, x, spare, 1)
			}
		})
		b.Run(fmt.Sprintf("single/form=%d-%s", i, best.name), func(b *testing.B) {
			spare := make([]float32, single.Spare(n))
			for b.Loop() {
				single.Convolve(re, im, xs, spare)
			}
		})
	}
}
