// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r2"
)

// TestWaterfall checks the points of the lines.
func TestWaterfall(t *testing.T) {
	for _, test := range []struct {
		name   string
		traces [][]float32
		want   [][]r2.Vec
	}{
		{"none", nil, [][]r2.Vec{}},
		{"two traces, one scale", [][]float32{{0, 2, 0}, {-4, 0, 1}}, [][]r2.Vec{
			{{X: 5, Y: 0}, {X: 7, Y: 0.75}, {X: 9, Y: 0}}, {{X: 5, Y: -0.5}, {X: 7, Y: 1}, {X: 9, Y: 1.375}},
		}},
		{"zeros and no samples", [][]float32{{0, 0}, nil}, [][]r2.Vec{
			{{X: 5, Y: 0}, {X: 7, Y: 0}}, {{X: 5, Y: 1}, {X: 7, Y: 1}},
		}},
	} {
		got := [][]r2.Vec{}
		for _, l := range Waterfall(test.traces, 5, 2, 1.5) {
			got = append(got, l.Points)
		}
		if diff := cmp.Diff(test.want, got); diff != "" {
			t.Errorf("%s: %s", test.name, diff)
		}
	}
}
