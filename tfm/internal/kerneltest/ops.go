// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package kerneltest

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/internal/guard"
	"github.com/isochron-imaging/isochron/tfm/internal/trace"
)

// Ops compares operations on traces with plain Go over every short length, between
// unreadable pages, and counts the elements that the assembly did.
func Ops(t *testing.T, v trace.Vectors) {
	t.Helper()
	plain := trace.Plain()
	done := 0
	v = counted(v, &done)
	rng := rand.New(rand.NewPCG(6, 6))
	for n := range max(150, 9*v.Lanes) {
		t.Run(fmt.Sprintf("n=%d", n), func(t *testing.T) {
			vector := GuardedOps(t, v.Ops())
			needDone := func(what string, want int) {
				t.Helper()
				if want *= len(guard.Sides); done != want {
					t.Errorf("%s: assembly did %d elements, want %d", what, done, want)
				}
				done = 0
			}
			whole := n / v.Lanes * v.Lanes
			x, y := make([]float32, n+40), make([]float32, n)
			ints := make([]int16, n)
			for i := range x {
				x[i] = float32(rng.NormFloat64())
			}
			for i := range ints {
				ints[i] = int16(rng.Uint32())
				y[i] = float32(rng.NormFloat64())
			}
			taps := make([]complex64, 1+rng.IntN(9))
			for i := range taps {
				taps[i] = complex(float32(rng.NormFloat64()), float32(rng.NormFloat64()))
			}
			floats := func(what string, elements int, do func(o trace.Ops, dst []float32)) {
				t.Helper()
				got, want := slices.Clone(y), slices.Clone(y)
				do(plain, want)
				do(vector, got)
				needDone(what, elements)
				for i, v := range want {
					if !(math.Abs(float64(got[i]-v)) <= 1e-5+1e-6*math.Abs(float64(v))) {
						t.Fatalf("%s: element %d is %v, want %v", what, i, got[i], v)
					}
				}
			}
			floats("AddInt16", whole, func(o trace.Ops, dst []float32) { o.AddInt16(dst, ints, 0.7) })
			floats("AddFloat32", whole, func(o trace.Ops, dst []float32) { o.AddFloat32(dst, x[:n], -1.7) })
			floats("Shift", whole, func(o trace.Ops, dst []float32) { o.Shift(dst, 0.3) })
			blocks := n / (4 * v.Lanes) * 4 * v.Lanes
			other, in := make([]float32, n), x[:n+len(taps)-1]
			floats("Convolve", blocks, func(o trace.Ops, dst []float32) { o.Convolve(dst, other, in, taps) })
			floats("Convolve", blocks, func(o trace.Ops, dst []float32) { o.Convolve(other, dst, in, taps) })
			if got, want := vector.Sum(y), plain.Sum(y); !(math.Abs(got-want) <= 1e-5) {
				t.Errorf("sum %v, want %v", got, want)
			}
			needDone("Sum", whole)
			if got, want := vector.Peak(y), plain.Peak(y); got != want {
				t.Errorf("peak %v, want %v", got, want)
			}
			if n < v.Lanes {
				needDone("Peak", 0)
			} else {
				needDone("Peak", n) // its last vector overlaps the one before
			}
			integers := func(what string, do func(o trace.Ops, dst []int16)) {
				t.Helper()
				got, want := slices.Clone(ints), slices.Clone(ints)
				do(plain, want)
				do(vector, got)
				needDone(what, whole)
				if !slices.Equal(got, want) {
					t.Errorf("%s: %v, want %v", what, got, want)
				}
			}
			integers("Pack", func(o trace.Ops, dst []int16) { o.Pack(dst, x[:n], 6000) })
			integers("Scale", func(o trace.Ops, dst []int16) { o.Scale(dst, 0.37) })
		})
	}
	vector := v.Ops()
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

// counted returns v, whose functions add the number of elements that they do to done.
func counted(v trace.Vectors, done *int) trace.Vectors {
	c := v
	c.Convolve = func(re, im, x *float32, taps *complex64, n, blocks int) {
		*done += blocks * 4 * v.Lanes
		v.Convolve(re, im, x, taps, n, blocks)
	}
	c.AddInt16 = func(dst *float32, src *int16, vectors int, weight float32) {
		*done += vectors * v.Lanes
		v.AddInt16(dst, src, vectors, weight)
	}
	c.AddFloat32 = func(dst, src *float32, vectors int, weight float32) {
		*done += vectors * v.Lanes
		v.AddFloat32(dst, src, vectors, weight)
	}
	c.Sum = func(src *float32, vectors int) float32 {
		*done += vectors * v.Lanes
		return v.Sum(src, vectors)
	}
	c.Shift = func(dst *float32, vectors int, by float32) {
		*done += vectors * v.Lanes
		v.Shift(dst, vectors, by)
	}
	c.Peak = func(src *float32, n int) float32 {
		*done += n
		return v.Peak(src, n)
	}
	c.Pack = func(dst *int16, src *float32, vectors int, scale float32) {
		*done += vectors * v.Lanes
		v.Pack(dst, src, vectors, scale)
	}
	c.Scale = func(dst *int16, vectors int, by float32) {
		*done += vectors * v.Lanes
		v.Scale(dst, vectors, by)
	}
	return c
}
