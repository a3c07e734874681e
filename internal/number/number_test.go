// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package number

import (
	"math"
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
	} {
		if got := Median(test.values); got != test.want {
			t.Errorf("median of %v is %v, want %v", test.values, got, test.want)
		}
	}
	if got := Median(nil); !math.IsNaN(got) {
		t.Errorf("median of nothing is %v, want NaN", got)
	}
}
