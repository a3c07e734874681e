// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r3"
)

// The media of the benchmarks: one without folds, one with moderate folds, one with cones and folds
// in most directions.
var groupBenchCrystals = []string{"magnesium", "weld metal type 308", "austenitic steel"}

var groupBenchDirection = r3.Vec{X: 0.3, Y: 0.1, Z: 0.9}

func BenchmarkChristoffelPhase(b *testing.B) {
	c := christoffelOf(b, "weld metal type 308")
	for b.Loop() {
		if _, err := c.Phase(groupBenchDirection); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkLeastAcross(b *testing.B) {
	c := christoffelOf(b, "weld metal type 308")
	for b.Loop() {
		c.leastAcross(r3.Unit(groupBenchDirection))
	}
}

func BenchmarkArrivals(b *testing.B) {
	for _, name := range groupBenchCrystals {
		b.Run("solid="+name, func(b *testing.B) {
			s := groupSolverOf(b, name)
			var list []PlaneWave
			var err error
			for b.Loop() {
				if list, err = s.Arrivals(list[:0], groupBenchDirection); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(len(list)), "arrivals")
		})
	}
}

func BenchmarkNewGroupSolver(b *testing.B) {
	m := publishedCrystal(b, "weld metal type 308")
	for b.Loop() {
		if _, err := NewGroupSolver(m); err != nil {
			b.Fatal(err)
		}
	}
}
