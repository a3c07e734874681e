// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"context"
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

func benchGrid(nx, nz int, step, z0 float64) []r3.Vec {
	var pts []r3.Vec
	for r := range nz {
		for c := range nx {
			pts = append(pts, r3.Vec{X: (float64(c) - float64(nx)/2) * step, Z: z0 + float64(r)*step})
		}
	}
	return pts
}

func BenchmarkTimes(b *testing.B) {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	water := &material.Isotropic{Density: 998, Longitudinal: 1482}
	plate, _ := NewPlate(water, steel, .03)
	pipe, _ := NewPipe(water, steel, .05715, .014)
	for _, cs := range []struct {
		name  string
		setup *Setup
		modes string
		step  float64
	}{{"plane", plate, "T", 0.1e-3}, {"cylinder", pipe, "L", 0.05e-3}, {"skip", plate, "LT", 0.1e-3}} {
		b.Run(fmt.Sprintf("surface=%s/path=%s", cs.name, cs.modes), func(b *testing.B) {
			modes, _ := parseModes(cs.modes)
			p, err := cs.setup.Path(modes)
			if err != nil {
				b.Fatal(err)
			}
			elements := make([]r3.Vec, 16)
			for i := range elements {
				elements[i] = r3.Vec{X: (float64(i) - 7.5) * 0.6e-3, Z: -0.01}
			}
			pts := benchGrid(256, 256, cs.step, 1e-3)
			var tb *Times
			for b.Loop() {
				tb, err = p.Times(context.Background(), elements, pts, nil)
				if err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(len(tb.Seconds)-tb.Missing), "ns/ray")
			worst := 0.0
			s := NewSolver(p)
			var r Ray
			for i := 0; i < len(tb.Seconds); i += 97 {
				s.Solve(&r, elements[i/len(pts)], pts[i%len(pts)])
				if math.IsNaN(r.Time) != math.IsNaN(float64(tb.Seconds[i])) {
					b.Fatal("mismatch", r.Status)
				}
				if d := math.Abs(r.Time - float64(tb.Seconds[i])); d > worst {
					worst = d
				}
			}
			b.ReportMetric(worst*1e12, "worst-ps")
		})
	}
}
