// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/internal/vector"
)

// integerFilter reports whether p filters in integers, as it must where they are fast.
func integerFilter(t *testing.T, p *Plan) bool {
	t.Helper()
	if p.direct == nil {
		return false
	}
	fast := vector.NewHermitianInt16([]complex64{1}).Fast()
	if got := p.direct.integers != nil; got != fast {
		t.Fatalf("a filter in integers: %t, want %t", got, fast)
	}
	return fast
}

// TestIntegers images noise of a digitiser in 16 bits, and compares it with a sum in float64.
// Noise has all frequencies, so that each error of the filter counts. The offset is not in the
// band.
func TestIntegers(t *testing.T) {
	g := check.Must(NewSection(-4e-3, 4e-3, 3e-3, 14e-3, 0.25e-3))
	for _, pairs := range [][]fmc.Pair{fmc.HalfPairs(16), fmc.FullPairs(16)} {
		for _, bits := range []int{6, 12, 14, 16} {
			t.Run(fmt.Sprintf("%d pairs, %d bits", len(pairs), bits), func(t *testing.T) {
				c := randomCapture(3, 16, 800, pairs)
				r := rand.New(rand.NewPCG(3, uint64(bits)))
				samples := make([]int16, len(c.Data))
				for i := range samples {
					samples[i] = int16(r.IntN(3<<(bits-2)) - 1<<(bits-2))
					c.Data[i] = float32(samples[i])
				}
				tx, rx := tables(plate(), "L-L", c, g)
				p := check.Must(NewPlan(c, g, tx, rx, &Options{Precision: Fixed16}))
				integerFilter(t, p)
				image := NewImage(g)
				if err := p.NewScratch().ReconstructInt16(background, image, samples); err != nil {
					t.Fatal(err)
				}
				wantImage(t, image.Data, doubleLoop(t, c, g, tx, rx, Options{}), 4e-4)
				single := check.Must(p.Image(background, c)) // whose filter is in single precision
				wantImage(t, image.Data, complex128s(single.Data), 1.5e-4)
			})
		}
	}
}

func complex128s(data []complex64) []complex128 {
	out := make([]complex128, len(data))
	for i, v := range data {
		out[i] = complex128(v)
	}
	return out
}

// TestRound checks which traces are filtered in integers, and at which scale.
func TestRound(t *testing.T) {
	c := randomCapture(3, 2, 400, fmc.FullPairs(2))
	g := check.Must(NewSection(-1e-3, 1e-3, 4e-3, 5e-3, 0.1e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	p := check.Must(NewPlan(c, g, tx, rx, &Options{Precision: Fixed16}))
	if !integerFilter(t, p) {
		t.Skip("no filter in integers")
	}
	for _, test := range []struct {
		name    string
		peak    int16
		weights []float64
		scale   float64 // 0 for a filter in single precision
	}{
		{"13 bits", 4095, []float64{1}, 2},
		{"14 bits", 8190, []float64{1}, 1},
		{"the largest sample", 8191, []float64{1}, 0.5}, // the scale is below 8191/peak
		{"a weight of 2", 8190, []float64{2}, 0.5},
		{"15 bits lose a bit", 16380, []float64{1}, 0.5},
		{"the sum of 14 bits loses a bit", 8190, []float64{1, 1}, 0.5},
		{"16 bits lose two bits", 32000, []float64{1}, 0},
		{"the sum of 15 bits loses two bits", 16380, []float64{1, 1}, 0},
		{"a weight that is not whole", 100, []float64{0.3}, 0},
		{"no samples", 0, []float64{1}, 1},
	} {
		samples, sum := make([]int16, 2*p.samples), traceSum{count: len(test.weights)}
		for k, weight := range test.weights {
			sum.terms[k] = term{pair: k, weight: weight}
			samples[k*p.samples+7], samples[k*p.samples+8] = test.peak, -test.peak
		}
		s, reads := p.direct.newScratch(), [2]int{0, p.samples}
		if err := p.direct.loadInt16(s, samples, sum, reads); err != nil {
			t.Fatal(err)
		}
		scale := 0.0
		if s.step > 0 {
			scale, _ = p.direct.round(s, reads)
		}
		if scale != test.scale {
			t.Errorf("%s: scale %v, want %v", test.name, scale, test.scale)
		}
		if want := int16(math.RoundToEven(scale * float64(s.trace[7]))); scale > 0 && s.ints[7] != want {
			t.Errorf("%s: sample %d, want %d", test.name, s.ints[7], want)
		}
	}
}

// TestResponseError changes one tap, and expects the change of the response: twice the tap at the
// frequency where both taps of the pair add.
func TestResponseError(t *testing.T) {
	taps := []complex64{0.5, 0.25 + 0.125i, 0.0625}
	h := vector.NewHermitianInt16(taps)
	if e := responseError(h, taps); !(e < 1e-4) {
		t.Errorf("rounded taps change the response by %v", e)
	}
	taps[2] += 0.01
	if e := responseError(h, taps); !(e > 0.0199 && e < 0.0201) {
		t.Errorf("a tap off by 0.01 changes the response by %v, want 0.02", e)
	}
}
