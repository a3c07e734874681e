// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// TestDirectInt16 checks that samples of 16 bits give the bits of the same samples as float32, for
// weights whose products and sums single precision holds, and for others.
func TestDirectInt16(t *testing.T) {
	const samples = 700
	rng := rand.New(rand.NewPCG(5, 17))
	ints, floats := make([]int16, 2*samples), make([]float32, 2*samples)
	for i := range ints {
		// A mean near 0 shows the rounding of each product.
		ints[i] = int16(rng.IntN(1<<16-3) - math.MaxInt16 + 2)
		if i%2 == 1 {
			ints[i] = 2 - ints[i-1]
		}
		floats[i] = float32(ints[i])
	}
	d := newDirect(check.Must(NewAnalytic(samples, 50e6, Band{Low: 2e6, High: 8e6})), Single)
	for _, weights := range [][]float64{{1}, {-2}, {0.5}, {0.3}, {-1.7}, {128}, {1<<20 - 1}, {1, 1}, {-128, 127}, {2, 0.7}, {1 << 20, 1}, {0, 0}} {
		sum := traceSum{count: len(weights)}
		for k, w := range weights {
			sum.terms[k] = term{pair: k, weight: w}
		}
		for _, reads := range [][2]int{{0, samples}, {0, 1}, {samples - 1, samples}, {300, 420}, {0, 0}} {
			t.Run(fmt.Sprint(weights, reads), func(t *testing.T) {
				want, got := newPlanes(samples), newPlanes(samples)
				s := d.newScratch()
				check.Must(0, d.loadFloat32(s, floats, sum))
				d.transform(s, want.re, want.im, reads)
				s = d.newScratch()
				check.Must(0, d.loadInt16(s, ints, sum, reads))
				d.transform(s, got.re, got.im, reads)
				if !slices.Equal(got.re, want.re) || !slices.Equal(got.im, want.im) {
					t.Error("another signal than of float32")
				}
			})
		}
	}
}

// TestExact checks that exact allows whole weights up to 2^7 only. Rounded products may cancel in
// the mean, so signals do not show each weight that is too large.
func TestExact(t *testing.T) {
	for weight, want := range map[float64]bool{
		0: true, 1: true, -3: true, 127: true, 128: true, -128: true,
		0.5: false, 1.5: false, 129: false, -129: false, 256: false, 1 << 20: false, math.Inf(1): false,
	} {
		if got := exact(weight); got != want {
			t.Errorf("weight %v: exact %t, want %t", weight, got, want)
		}
		// The sum of two products fits into the 24 bits of a significand.
		if sum := 2 * math.Abs(weight) * -math.MinInt16; exact(weight) && !(sum <= 1<<24) {
			t.Errorf("weight %v: the sum of two products reaches %v, above 2^24", weight, sum)
		}
	}
}

// TestFilters images noise with short filters, which are convolved, and with filters so long that
// the transform is faster.
func TestFilters(t *testing.T) {
	c := randomCapture(8, 4, 600, fmc.HalfPairs(4))
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.2e-3))
	times := contact(c.Array, g.Points(), 5900)
	for _, test := range []struct {
		low    float64 // Hz
		direct bool
	}{
		{2e6, true},
		{0.05e6, false},
	} {
		band := Band{Low: test.low, High: 0.4 * c.SampleRate}
		want := doubleLoop(t, c, g, times, times, Options{Band: band})
		for _, name := range kernelNames() {
			p := check.Must(NewPlan(c, g, times, times, &Options{Band: band, kernel: name}))
			if got := p.direct != nil; got != test.direct {
				t.Errorf("%s, %d taps: convolved %t, want %t", name, len(p.analytic.taps), got, test.direct)
			}
			wantImage(t, check.Must(p.Image(background, c)).Data, want, 5e-6)
		}
	}
}
