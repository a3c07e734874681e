// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package portable

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

const pixels, record = 301, 5000

// randomTrace returns a record of random samples and the same record packed, with room for the
// windows behind it.
func randomTrace(rng *rand.Rand) (samples []complex64, packed []Sample) {
	re, im := make([]float32, record), make([]float32, record)
	for k := range re {
		re[k], im[k] = float32(rng.NormFloat64()), float32(rng.NormFloat64())
		samples = append(samples, complex(re[k], im[k]))
	}
	packed = make([]Sample, record-1+len(Window{}))
	Pack(packed[:record-1], re, im)
	return samples, packed
}

// randomDelays returns delays from low to high samples in fixed point.
func randomDelays(rng *rand.Rand, low, high float64, bits uint) []int32 {
	delays := make([]int32, pixels)
	for p := range delays {
		delays[p] = int32((low + (high-low)*rng.Float64()) * float64(int(1)<<bits))
	}
	return delays
}

// TestSum compares sums with linear interpolation in float64, for delays that begin before the
// record and end behind it.
func TestSum(t *testing.T) {
	for _, test := range []struct {
		name      string
		bits      uint
		base      int
		low, high float64
	}{
		{"long records", 17, 0, -200, 2700},
		{"whole delays", 19, 0, -100, 2000},
		{"from a base within the record", FractionBits, 1500, 0, 1000},
		{"from a base before the record", FractionBits, -700, 0, 1000},
		{"from a base near the end", FractionBits, 4000, 0, 1000},
	} {
		t.Run(test.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(1, 2))
			samples, packed := randomTrace(rng)
			tx, rx := randomDelays(rng, test.low, test.high, test.bits), randomDelays(rng, test.low, test.high, test.bits)
			acc := make([]complex64, pixels)
			Sum(acc, tx, rx, packed[:record-1], test.base, test.bits)
			for p, got := range acc {
				delay := float64(test.base) + float64(int64(tx[p])+int64(rx[p]))/float64(int(1)<<test.bits)
				k := int(math.Floor(delay))
				want := complex128(0)
				if k >= 0 && k < record-1 {
					f := complex(delay-float64(k), 0)
					want = complex128(samples[k])*(1-f) + complex128(samples[k+1])*f
				}
				if d := complex128(got) - want; !(math.Hypot(real(d), imag(d)) <= 1e-6) {
					t.Fatalf("pixel %d at sample %v is %v, want %v", p, delay, got, want)
				}
			}
		})
	}
}

// TestSum2 compares Sum2 with two calls of Sum, bit by bit, over every small number of pixels.
func TestSum2(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	_, first := randomTrace(rng)
	_, second := randomTrace(rng)
	for n := range 20 {
		for _, base := range []int{0, 7, 3000} {
			t.Run(fmt.Sprintf("pixels=%d/base=%d", n, base), func(t *testing.T) {
				tx := randomDelays(rng, 0, 999, FractionBits)[:n]
				rx0, rx1 := randomDelays(rng, 0, 999, FractionBits)[:n], randomDelays(rng, 0, 999, FractionBits)[:n]
				got, want := make([]complex64, n), make([]complex64, n)
				for p := range got {
					got[p] = complex(float32(p), 1)
					want[p] = got[p]
				}
				Sum2(got, tx, rx0, rx1, (*Window)(first[base:]), (*Window)(second[base:]))
				Sum(want, tx, rx0, first[:record-1], base, FractionBits)
				Sum(want, tx, rx1, second[:record-1], base, FractionBits)
				if !slices.Equal(got, want) {
					t.Errorf("%v, want %v", got, want)
				}
			})
		}
	}
}
