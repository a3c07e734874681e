// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestGeometry checks the surfaces of each shape by the depths of points whose depths are known in
// closed form.
func TestGeometry(t *testing.T) {
	steel := Material{Name: "steel", Density: 7850, Longitudinal: 5920, Transverse: 3240}
	water := Material{Name: "water", Density: 998, Longitudinal: 1482}
	for _, test := range []struct {
		name        string
		record      Record
		at          r3.Vec
		entry, back float64 // depths of at
	}{
		{
			"plane", Record{Part: steel, Thickness: 16e-3},
			r3.Vec{X: 5e-3, Z: 10e-3}, 10e-3, -6e-3,
		},
		{
			"cylinder", Record{Coupling: &water, Surface: EntrySurface{Radius: 50e-3},
				Part: steel, Thickness: 14e-3},
			r3.Vec{X: 40e-3, Z: 50e-3}, 10e-3, -4e-3,
		},
		{
			"profile", Record{Surface: EntrySurface{Points: []r3.Vec{{X: -1}, {X: 1, Z: 2}}},
				Part: steel, Thickness: 3},
			r3.Vec{X: 0, Z: 2}, math.Sqrt2 / 2, -1,
		},
	} {
		t.Run(test.name, func(t *testing.T) {
			g := check.Must(test.record.Geometry())
			if got := g.Entry.Depth(test.at); !(math.Abs(got-test.entry) <= 1e-12) {
				t.Errorf("%v m below the entry surface, want %v", got, test.entry)
			}
			if got := g.Back.Depth(test.at); !(math.Abs(got-test.back) <= 1e-12) {
				t.Errorf("%v m below the back wall, want %v", got, test.back)
			}
			if g.Part.Density != 7850 || g.Part.Longitudinal != 5920 || g.Part.Transverse != 3240 {
				t.Errorf("part %+v, want %+v", g.Part, test.record.Part)
			}
			if (g.Coupling == nil) != (test.record.Coupling == nil) || g.Coupling != nil &&
				g.Coupling.Longitudinal != 1482 {
				t.Errorf("coupling %+v, want %+v", g.Coupling, test.record.Coupling)
			}
		})
	}
	if _, err := new(Record).Geometry(); !errors.Is(err, ErrSetup) {
		t.Errorf("error %v of an empty record, want ErrSetup", err)
	}
}
