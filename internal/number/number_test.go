// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package number

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

func TestRanges(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for _, test := range []struct {
		v                float64
		finite, positive bool
	}{
		{1, true, true}, {math.SmallestNonzeroFloat64, true, true}, {math.MaxFloat64, true, true},
		{0, true, false}, {-1, true, false}, {-math.MaxFloat64, true, false},
		{inf, false, false}, {-inf, false, false}, {nan, false, false},
	} {
		if got := Finite(test.v); got != test.finite {
			t.Errorf("Finite(%v) is %v", test.v, got)
		}
		if got := Positive(test.v); got != test.positive {
			t.Errorf("Positive(%v) is %v", test.v, got)
		}
	}
}

func TestMedian(t *testing.T) {
	for _, test := range []struct {
		values []float64
		want   float64
	}{
		{[]float64{7}, 7}, {[]float64{3, 1}, 2}, {[]float64{9, 1, 5}, 5}, {[]float64{4, 1, 3, 8}, 3.5},
		{[]float64{9, math.NaN(), 1, 5}, 5}, {[]float64{2, 2, 1, 2, 2, 7}, 2},
	} {
		values := slices.Clone(test.values)
		if got := Median(values); got != test.want {
			t.Errorf("median of %v is %v, want %v", test.values, got, test.want)
		}
		if !slices.EqualFunc(values, test.values, func(a, b float64) bool { return a == b || a != a && b != b }) {
			t.Errorf("the median changed the order of %v to %v", test.values, values)
		}
	}
	rng := rand.New(rand.NewPCG(1, 2))
	for n := 1; n < 200; n++ {
		values := make([]float64, n)
		for i := range values {
			values[i] = float64(rng.IntN(50)) // some are equal
		}
		sorted := slices.Sorted(slices.Values(values))
		if got, want := Median(values), sorted[(n-1)/2]/2+sorted[n/2]/2; got != want {
			t.Errorf("median of %v is %v, want %v", values, got, want)
		}
	}
	if got := Median(nil); !math.IsNaN(got) {
		t.Errorf("median of nothing is %v, want NaN", got)
	}
}

func TestSinc(t *testing.T) {
	for _, test := range []struct{ u, want float64 }{
		{0, 1}, {0.5, 2 / math.Pi}, {-0.5, 2 / math.Pi}, {1, 0}, {-3, 0}, {1.5, -2 / (3 * math.Pi)},
		{1e-5, 1 - math.Pi*math.Pi*1e-10/6}, // the series, to 1e-20
		{math.SmallestNonzeroFloat64, 1},
	} {
		if got := Sinc(test.u); !(math.Abs(got-test.want) <= 1e-15) {
			t.Errorf("sinc of %v is %v, want %v", test.u, got, test.want)
		}
	}
}

// TestVertex compares with parabolas of known vertex, and checks the values without a vertex.
func TestVertex(t *testing.T) {
	for _, c := range []struct {
		name         string
		v            [3]float64
		offset, rise float64
	}{
		{"top at the middle", [3]float64{1, 2, 1}, 0, 0},
		{"5 - 2(x-1/4)²", [3]float64{5 - 2*25./16, 5 - 2./16, 5 - 2*9./16}, 0.25, 0.125},
		{"bottom, 1 + (x+1/2)²", [3]float64{1.25, 1.25, 3.25}, -0.5, -0.25},
		{"vertex beyond the values, -(x-2)²", [3]float64{-9, -4, -1}, 2, 4},
		{"straight line", [3]float64{1, 2, 3}, 0, 0},
		{"NaN", [3]float64{math.NaN(), 2, 1}, 0, 0},
	} {
		offset, rise := Vertex(c.v[0], c.v[1], c.v[2])
		if !(math.Abs(offset-c.offset) <= 1e-15 && math.Abs(rise-c.rise) <= 1e-15) {
			t.Errorf("%s: %v, %v, want %v, %v", c.name, offset, rise, c.offset, c.rise)
		}
	}
}

// TestClipped: rows worked by hand. Full scale is 100, or the negative extreme of two's complement.
func TestClipped(t *testing.T) {
	trace := []float32{1, 100, -100, 100, 0, 100, -99, -100}
	for _, test := range []struct {
		name      string
		fullScale float64
		run, want int
	}{
		{"any", 100, 1, 5}, {"in threes", 100, 3, 3}, {"in pairs", 100, 2, 3},
		{"one unit below the extreme counts", 100.003, 1, 5}, {"not reached", 101, 1, 0},
		{"no full scale", 0, 1, 0},
	} {
		if got := Clipped(trace, test.fullScale, test.run); got != test.want {
			t.Errorf("%s: %d clipped samples, want %d", test.name, got, test.want)
		}
	}
}
