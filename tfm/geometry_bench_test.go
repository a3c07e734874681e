// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"
	"testing"
	"time"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// BenchmarkGeometry times what a change of the geometry costs in case A: the tables, and the plan
// of given tables. The array is in contact, on a wedge of 36°, and in water 10 mm over a cylinder
// of 57 mm and over a measured surface with waves of 0.3 mm. The tables through curved surfaces
// are interpolated.
func BenchmarkGeometry(b *testing.B) {
	water := &material.Isotropic{Density: 1000, Longitudinal: 1480}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3240}
	var measured []r3.Vec
	for x := -70e-3; x <= 70e-3; x += 1e-3 {
		measured = append(measured, r3.Vec{X: x, Z: 0.3e-3 * math.Sin(x/12e-3)})
	}
	for _, geometry := range []struct {
		name  string
		entry wedge.Surface // nil for benchmarkCase
		path  []material.Mode
		wedge bool
	}{
		{name: "contact"},
		{name: "wedge", wedge: true},
		{name: "cylinder", entry: check.Must(wedge.NewCylinder(r3.Vec{Z: 57.15e-3}, r3.Vec{Y: 1}, 57.15e-3, wedge.Convex))},
		{name: "profile", entry: check.Must(wedge.NewProfile(measured))},
	} {
		s := benchmarkCase{elements: 16, pixels: 256, samples: 4096, wedge: geometry.wedge}.setup(5900)
		path, _ := s.times.MadeFor.Path.(*wedge.Path)
		if geometry.entry != nil {
			for i := range s.capture.Array.Elements {
				s.capture.Array.Elements[i].Z = -10e-3
			}
			setup := &wedge.Setup{Coupling: water, Part: steel, Entry: geometry.entry}
			path = check.Must(setup.Path([]material.Mode{material.L}))
		}
		b.Run("geometry="+geometry.name, func(b *testing.B) { benchmarkGeometry(b, s, path, geometry.entry != nil) })
	}
}

// benchmarkGeometry times the stages of a setup with the tables of a path. Besides the mean time
// it reports the time of the fastest turn, and the time of all processors. On Linux the last does
// not contain other programs.
func benchmarkGeometry(b *testing.B, s setup, path *wedge.Path, interpolate bool) {
	elements := s.capture.Array.Elements
	stage := func(name string, do func()) {
		b.Run("stage="+name, func(b *testing.B) {
			start, fastest := clock(), math.Inf(1)
			for b.Loop() {
				turn := time.Now()
				do()
				fastest = min(fastest, time.Since(turn).Seconds())
			}
			b.ReportMetric(1e3*clock().Sub(start).Seconds()/float64(b.N), "cpu-ms/op")
			b.ReportMetric(1e3*fastest, "fastest-ms")
		})
	}
	table := func() *wedge.Times {
		return check.Must(path.Times(background, elements, s.grid.Points(), nil))
	}
	if interpolate {
		stage("exact", func() { table() })
		table = func() *wedge.Times { return check.Must(path.Interpolate(background, elements, s.grid, nil)) }
	}
	times := table()
	plan := func(times *wedge.Times, precision Precision) {
		check.Must(NewPlan(s.capture, s.grid, times, times, &Options{Precision: precision}))
	}
	stage("table", func() { table() })
	for _, precision := range []Precision{Single, Fixed16} {
		stage("plan/precision="+precision.String(), func() { plan(times, precision) })
		stage("both/precision="+precision.String(), func() { plan(table(), precision) })
	}
}
