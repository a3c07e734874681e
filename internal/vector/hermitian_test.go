// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package vector

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/internal/guard"
)

// hermitianTaps returns random taps h[0] to h[half]. h[0] is real.
func hermitianTaps(r *rand.Rand, half int) []complex64 {
	taps := make([]complex64, half+1)
	for j := range taps {
		taps[j] = complex(float32(r.NormFloat64()), float32(r.NormFloat64()))
	}
	taps[0] = complex(real(taps[0]), 0)
	return taps
}

// TestHermitian compares each form with the definition in complex128, between unreadable pages.
func TestHermitian(t *testing.T) {
	eachForm(t, func(t *testing.T) {
		for _, side := range guard.Sides {
			m := guard.New(t, side)
			r := rand.New(rand.NewPCG(1, 5))
			for blocks := range 6 {
				for half := range 12 {
					n, taps := blocks*HermitianBlock, hermitianTaps(r, half)
					x := random(r, n+2*half)
					h := NewHermitian(taps)
					m.Reset()
					h.taps, h.all = guard.Copy(m, "taps", h.taps), guard.Copy(m, "all taps", h.all)
					re, im := guard.Copy(m, "re", random(r, n)), guard.Copy(m, "im", random(r, n))
					in, spare := guard.Copy(m, "x", x), guard.Copy(m, "spare", make([]float32, h.Spare(n)))
					what := fmt.Sprintf("%d outputs, %d taps to a side, guard %s", n, half, side)
					if err := m.Run(func() { h.Convolve(re, im, in, spare) }); err != nil {
						t.Fatalf("%s: %v", what, err)
					}
					for k := range re {
						want := 0i
						for j := -half; j <= half; j++ {
							tap := complex128(taps[max(j, -j)])
							if j < 0 {
								tap = complex(real(tap), -imag(tap))
							}
							want += tap * complex(float64(x[k+half-j]), 0)
						}
						if d := max(math.Abs(float64(re[k])-real(want)), math.Abs(float64(im[k])-imag(want))); !(d <= 1e-5) {
							t.Fatalf("%s: output %d is %v and %v, want %v", what, k, re[k], im[k], want)
						}
					}
				}
			}
		}
	})
}

// TestHermitianDispatch checks that a filter runs in the assembly of the best form.
func TestHermitianDispatch(t *testing.T) {
	if !guard.Pages || best.lanes == 0 {
		t.Skip("no unreadable pages, or no assembly")
	}
	r := rand.New(rand.NewPCG(1, 6))
	h := NewHermitian(hermitianTaps(r, 3))
	out, x, spare := make([]float32, HermitianBlock), random(r, HermitianBlock+6), make([]float32, h.Spare(HermitianBlock))
	interleave, convolve := "vector.interleave"+best.name, "vector.convolveHermitian"+best.name
	if best.name == "NEON" {
		interleave, convolve = "vector.convolveComplexNEON", "vector.convolveComplexNEON"
	}
	for _, test := range []struct {
		want string
		run  func()
	}{
		{interleave, func() { h.Convolve(out, out, guard.Unreadable[float32](t, len(x)), spare) }},
		{convolve, func() { h.Convolve(guard.Unreadable[float32](t, len(out)), out, x, spare) }},
	} {
		if got := guard.Toucher(test.run); got != test.want {
			t.Errorf("%q touched the samples, want %q", got, test.want)
		}
	}
}

// BenchmarkHermitian filters a trace of 2,048 samples with 71 taps.
func BenchmarkHermitian(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 7))
	const n, half = 2048, 35
	h := NewHermitian(hermitianTaps(r, half))
	re, im, x := make([]float32, n), make([]float32, n), random(r, n+2*half)
	selected := best
	defer func() { best = selected }()
	for _, best = range append(available(), assembly{name: "plain"}) {
		b.Run("pairs/form="+best.name, func(b *testing.B) {
			spare := make([]float32, h.Spare(n))
			for b.Loop() {
				h.Convolve(re, im, x, spare)
			}
		})
		b.Run("taps/form="+best.name, func(b *testing.B) {
			for b.Loop() {
				ConvolveComplex(re, im, x, h.all)
			}
		})
	}
}
