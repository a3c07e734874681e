// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package vector

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// The operations in every form of this build.
var forms = map[string]struct {
	sum      func(src []float32) float64
	shift    func(dst []float32, by float32)
	multiply func(dst, weights []float32)
	convolve func(dst, x, taps []float32)
}{
	"dispatched": {Sum, Shift, Multiply, Convolve},
	"plain":      {plainSum, plainShift, plainMultiply, plainConvolve},
}

func random(r *rand.Rand, n int) []float32 {
	s := make([]float32, n)
	for i := range s {
		s[i] = float32(r.NormFloat64())
	}
	return s
}

// guarded returns a copy of s between NaN, and whether these are still there.
func guarded(s []float32) ([]float32, func() bool) {
	const margin = 16
	nan := float32(math.NaN())
	all := slices.Repeat([]float32{nan}, len(s)+2*margin)
	copy(all[margin:], s)
	return all[margin : margin+len(s) : margin+len(s)], func() bool {
		for i := range margin {
			if all[i] == all[i] || all[len(all)-1-i] == all[len(all)-1-i] {
				return false
			}
		}
		return true
	}
}

// TestForms compares each form with plain loops in float64, over every short
// length, between NaN that would show in the result if they were read.
func TestForms(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for n := range 300 {
		src, weights := random(r, n), random(r, n)
		taps := random(r, 1+n%37)
		x := random(r, n+len(taps)-1)
		for name, form := range forms {
			total := 0.0
			for _, v := range src {
				total += float64(v)
			}
			in, whole := guarded(src)
			if got := form.sum(in); !(math.Abs(got-total) <= 1e-12*float64(n)) {
				t.Fatalf("%s: sum of %d samples: got %v, want %v", name, n, got, total)
			}
			compare := func(what string, dst []float32, want func(k int) float64) {
				for k, v := range dst {
					if !(math.Abs(float64(v)-want(k)) <= 1e-5) {
						t.Fatalf("%s: %s of %d samples: sample %d: got %v, want %v", name, what, n, k, v, want(k))
					}
				}
				if !whole() {
					t.Fatalf("%s: %s of %d samples wrote beyond them", name, what, n)
				}
			}
			form.shift(in, 0.75)
			compare("shift", in, func(k int) float64 { return float64(src[k]) + 0.75 })
			in, whole = guarded(src)
			factors, _ := guarded(weights)
			form.multiply(in, factors)
			compare("product", in, func(k int) float64 { return float64(src[k]) * float64(weights[k]) })
			in, whole = guarded(src)
			row, _ := guarded(x)
			coefficients, _ := guarded(taps)
			form.convolve(in, row, coefficients)
			compare("convolution", in, func(k int) float64 {
				y := 0.0
				for j, h := range taps {
					y += float64(h) * float64(x[k+j])
				}
				return y
			})
		}
	}
}

// A sum is finite exactly if all samples are.
func TestSumShowsWhatIsNotFinite(t *testing.T) {
	for name, form := range forms {
		for _, n := range []int{1, 31, 32, 33, 100, 257} {
			src := slices.Repeat([]float32{math.MaxFloat32}, n)
			if got := form.sum(src); math.IsInf(got, 0) || math.IsNaN(got) {
				t.Errorf("%s: sum of %d largest samples: %v", name, n, got)
			}
			for k := range n {
				for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
					src[k] = float32(bad)
					if got := form.sum(src); !math.IsInf(got, 0) && !math.IsNaN(got) {
						t.Errorf("%s: sum with %v: %v", name, bad, got)
					}
					src[k] = math.MaxFloat32
				}
			}
		}
	}
}

func BenchmarkConvolve(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 3))
	dst, x, taps := random(r, 2048), random(r, 2048+86), random(r, 87)
	for name, form := range forms {
		b.Run("form="+name, func(b *testing.B) {
			for b.Loop() {
				form.convolve(dst, x, taps)
			}
		})
	}
}
