// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"
)

// BenchmarkTimes counts one element and 1024 points in a V weld and behind it.
func BenchmarkTimes(b *testing.B) {
	p := weldCase(b, rexolite, 1)
	var points []r3.Vec
	for i := range 1024 {
		points = append(points, r3.Vec{X: float64(i%32-8) * 1e-3, Z: 6e-3 + float64(i/32)*0.75e-3})
	}
	for mode := QL; mode <= SH; mode++ {
		b.Run("mode="+mode.String(), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				must(p.Times(context.Background(), mode, []r3.Vec{{X: -45e-3, Z: -14e-3}}, points, nil))
			}
		})
	}
}

// BenchmarkBlockTimes counts the same behind a plane.
func BenchmarkBlockTimes(b *testing.B) {
	crystal, _ := metal(b, "weld metal type 308")
	block := &Block{Coupling: rexolite, Entry: plane(0), Crystal: crystal, Axis: 1.2}
	var points []r3.Vec
	for i := range 1024 {
		points = append(points, r3.Vec{X: float64(i%32-8) * 1e-3, Z: 6e-3 + float64(i/32)*0.75e-3})
	}
	for b.Loop() {
		must(block.Times(context.Background(), QSV, []r3.Vec{{X: -15e-3, Z: -14e-3}}, points, nil))
	}
}
