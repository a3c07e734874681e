// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge"
)

// BenchmarkTimes computes the times of one element to 1024 points in a V weld and behind it.
func BenchmarkTimes(b *testing.B) {
	p := weldCase(b, polystyrene, 1)
	var points []r3.Vec
	for i := range 1024 {
		points = append(points, r3.Vec{X: float64(i%32-8) * 1e-3, Z: 6e-3 + float64(i/32)*0.75e-3})
	}
	for pol := qL; pol <= sH; pol++ {
		b.Run("pol="+pol.String(), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				check.Must(p.Times(context.Background(), pol, []r3.Vec{{X: -45e-3, Z: -14e-3}},
					points, nil))
			}
		})
	}
}

// BenchmarkBlockTimes computes the times of one element to 1024 points of a block.
func BenchmarkBlockTimes(b *testing.B) {
	curves, _ := metal(b, "weld metal type 308")
	block := &Block{Coupling: polystyrene, Entry: plane(0), Curves: curves, Axis: 1.2}
	var points []r3.Vec
	for i := range 1024 {
		points = append(points, r3.Vec{X: float64(i%32-8) * 1e-3, Z: 6e-3 + float64(i/32)*0.75e-3})
	}
	for b.Loop() {
		check.Must(block.Times(context.Background(), qSV, []r3.Vec{{X: -15e-3, Z: -14e-3}}, points,
			nil))
	}
}

// BenchmarkInterpolate makes tables of 32 elements and 65,536 points: qL of an array in contact with
// a weld, and qSV of an array on a wedge.
func BenchmarkInterpolate(b *testing.B) {
	for _, c := range tableCases(b) {
		b.Run(c.name+"/pol="+c.pol.String(), func(b *testing.B) {
			b.ReportAllocs()
			var table *wedge.Times
			for b.Loop() {
				table = check.Must(c.part.Interpolate(context.Background(), c.pol, c.elements,
					c.grid, nil))
			}
			pairs := float64(len(table.Seconds))
			b.ReportMetric(float64(b.Elapsed())/float64(b.N)/pairs, "ns/pair")
			b.ReportMetric(float64(table.Rays)/float64(len(c.elements)), "rays/element")
		})
	}
}

// BenchmarkInterpolateSkips makes tables of 16 elements on a wedge and 3,000 points in and beside a
// weld, after one skip.
func BenchmarkInterpolateSkips(b *testing.B) {
	p := weldCase(b, polystyrene, 1)
	var elements []r3.Vec
	for i := range 16 {
		elements = append(elements, mm(-70+0.8*float64(i), -18+0.5*float64(i)))
	}
	g := wedge.Grid{Origin: mm(-15, 4), Step: r3.Vec{X: 0.5e-3, Y: 1, Z: 0.5e-3}, Cols: 60, Rows: 50, Slices: 1}
	for _, path := range []string{"LL", "LT", "TT"} {
		b.Run(path, func(b *testing.B) {
			_, pol, skips := legsOf(path)
			var table *wedge.Times
			for b.Loop() {
				table = check.Must(p.Interpolate(context.Background(), pol, elements, g, &Options{Skips: skips}))
			}
			b.ReportMetric(float64(table.Rays)/float64(len(elements)), "rays/element")
			b.ReportMetric(float64(table.Missing)/float64(len(table.Seconds)), "missing")
		})
	}
}
