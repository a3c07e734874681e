// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestLayouts checks the order of all pairs of small arrays against the formulas in the
// documentation.
func TestLayouts(t *testing.T) {
	for n := 1; n <= 7; n++ {
		full, half := FullPairs(n), HalfPairs(n)
		for tx := range n {
			for rx := range n {
				if got := full[tx*n+rx]; got != (Pair{tx, rx}) {
					t.Errorf("n = %d: full pair %d is %v, want %d→%d", n, tx*n+rx, got, tx, rx)
				}
				if rx < tx {
					continue
				}
				p := tx*n - tx*(tx-1)/2 + (rx - tx)
				if got := half[p]; got != (Pair{tx, rx}) {
					t.Errorf("n = %d: half pair %d is %v, want %d→%d", n, p, got, tx, rx)
				}
			}
		}
		if len(full) != n*n || len(half) != n*(n+1)/2 {
			t.Errorf("n = %d: %d full and %d half pairs, want %d and %d", n, len(full), len(half),
				n*n, n*(n+1)/2)
		}
	}
}

// TestPairCounts checks the counts N² and N(N+1)/2 that texts on array imaging give for common
// arrays. It also checks the loss of the half matrix in white noise, 10·log10(2 − 1/N), against
// values that were computed with mpmath 1.2.1.
func TestPairCounts(t *testing.T) {
	for _, test := range []struct {
		n, full, half int
		loss          float64 // dB
	}{
		{16, 256, 136, 2.872},
		{64, 4096, 2080, 2.976},
		{128, 16384, 8256, 2.993},
	} {
		if got := len(FullPairs(test.n)); got != test.full {
			t.Errorf("%d elements: %d pairs in full, want %d", test.n, got, test.full)
		}
		half := HalfPairs(test.n)
		if len(half) != test.half {
			t.Errorf("%d elements: %d pairs in half, want %d", test.n, len(half), test.half)
		}
		// The variance of a weighted sum of independent noise is the sum of the squared weights.
		noise := 0.0
		for _, pair := range half {
			weight := 2.0
			if pair.Tx == pair.Rx {
				weight = 1
			}
			noise += weight * weight
		}
		check.Within(t, "loss in dB", 10*math.Log10(noise/float64(test.full)), test.loss, 0.0005)
	}
}

func TestLayout(t *testing.T) {
	swapped := FullPairs(3)
	swapped[0], swapped[1] = swapped[1], swapped[0]
	tests := []struct {
		name  string
		pairs []Pair
		n     int
		want  Layout
	}{
		{"full", FullPairs(3), 3, Full},
		{"half", HalfPairs(3), 3, Half},
		{"a single element's pair is full", []Pair{{0, 0}}, 1, Full},
		{"no pairs", nil, 3, Listed},
		{"no elements", []Pair{{0, 0}}, 0, Listed},
		{"full in another order", swapped, 3, Listed},
		{"full but for the last pair", FullPairs(3)[:8], 3, Listed},
		{"half but for the last pair", HalfPairs(3)[:5], 3, Listed},
		{"the first row is the beginning of both", []Pair{{0, 0}, {0, 1}, {0, 2}}, 3, Listed},
		{"lower half", []Pair{{0, 0}, {1, 0}, {1, 1}}, 2, Listed},
		{"full of a smaller array", FullPairs(2), 3, Listed},
		{"full of a larger array", FullPairs(3), 2, Listed},
		{"full and one pair more", append(FullPairs(2), Pair{1, 1}), 2, Listed},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			c := Capture{Array: Array{Elements: make([]r3.Vec, test.n)}, Pairs: test.pairs}
			if got := c.Layout(); got != test.want {
				t.Errorf("layout %v, want %v", got, test.want)
			}
		})
	}
}

func TestNoElements(t *testing.T) {
	for _, n := range []int{0, -1, -5} {
		if got := append(FullPairs(n), HalfPairs(n)...); len(got) != 0 {
			t.Errorf("%d elements: pairs %v, want none", n, got)
		}
	}
}

func TestNames(t *testing.T) {
	got := []string{
		Full.String(), Half.String(), Listed.String(), Layout(9).String(),
		Pair{1, 2}.String(), Pair{1, 2}.Reciprocal().String(),
	}
	want := []string{"full", "half", "listed", "Layout(9)", "1→2", "2→1"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("names (-want +got):\n%s", diff)
	}
}
