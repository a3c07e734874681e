// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package kerneltest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/tfm/internal/trace"
)

// Ops compares operations on traces with plain Go over every short length,
// with guards behind what they write.
func Ops(t *testing.T, vector trace.Ops) {
	t.Helper()
	plain := trace.Plain()
	rng := rand.New(rand.NewPCG(6, 6))
	const guard = 12345
	for n := range 150 {
		t.Run(fmt.Sprintf("n=%d", n), func(t *testing.T) {
			x, y := make([]float32, n+40), make([]float32, n)
			ints := make([]int16, n)
			for i := range x {
				x[i] = float32(rng.NormFloat64())
			}
			for i := range ints {
				ints[i] = int16(rng.Uint32())
				y[i] = float32(rng.NormFloat64())
			}
			taps := make([]complex64, 7)
			for i := range taps {
				taps[i] = complex(float32(rng.NormFloat64()), float32(rng.NormFloat64()))
			}
			floats := func(do func(o trace.Ops, dst []float32)) {
				t.Helper()
				var results [2][]float32
				for i, o := range []trace.Ops{vector, plain} {
					dst := append(slices.Clone(y), guard)
					do(o, dst[:n:n])
					results[i] = dst
				}
				for i, want := range results[1] {
					if got := results[0][i]; !(math.Abs(float64(got-want)) <= 1e-2*math.Ldexp(1, -10)+1e-6*math.Abs(float64(want))) {
						t.Fatalf("element %d is %v, want %v", i, got, want)
					}
				}
			}
			floats(func(o trace.Ops, dst []float32) { o.AddInt16(dst, ints, 0.7) })
			floats(func(o trace.Ops, dst []float32) { o.AddFloat32(dst, x[:n], -1.7) })
			floats(func(o trace.Ops, dst []float32) { o.Shift(dst, 0.3) })
			floats(func(o trace.Ops, dst []float32) { o.Convolve(dst, make([]float32, n), x[:n+6], taps) })
			floats(func(o trace.Ops, dst []float32) { o.Convolve(make([]float32, n), dst, x[:n+6], taps) })
			if got, want := vector.Sum(y), plain.Sum(y); !(math.Abs(got-want) <= 1e-5) {
				t.Errorf("sum %v, want %v", got, want)
			}
			if got, want := vector.Peak(y), plain.Peak(y); got != want {
				t.Errorf("peak %v, want %v", got, want)
			}
			var results [2][]int16
			for i, o := range []trace.Ops{vector, plain} {
				packed, scaled := append(slices.Clone(ints), 1234), append(slices.Clone(ints), 1234)
				o.Pack(packed[:n:n], x[:n], 6000)
				o.Scale(scaled[:n:n], 0.37)
				results[i] = append(packed, scaled...)
			}
			if !slices.Equal(results[0], results[1]) {
				t.Errorf("packed and scaled %v, want %v", results[0], results[1])
			}
		})
	}
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		for i := range 40 {
			x := make([]float32, 40)
			x[i] = float32(bad)
			if peak := float64(vector.Peak(x)); !math.IsNaN(peak) && !math.IsInf(peak, 1) {
				t.Errorf("peak %v with %v at %d", peak, bad, i)
			}
		}
	}
}
