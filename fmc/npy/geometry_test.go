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
	steel := Medium{Name: "steel", Density: 7850, Longitudinal: 5920, Transverse: 3240}
	water := Medium{Name: "water", Density: 998, Longitudinal: 1482}
	for _, test := range []struct {
		name        string
		setup       Setup
		at          r3.Vec
		entry, back float64 // depths of at
	}{
		{
			"plane", Setup{Part: Part{steel, 16e-3}},
			r3.Vec{X: 5e-3, Z: 10e-3}, 10e-3, -6e-3,
		},
		{
			"cylinder", Setup{Coupling: &water, Surface: Surface{Radius: 50e-3},
				Part: Part{steel, 14e-3}},
			r3.Vec{X: 40e-3, Z: 50e-3}, 10e-3, -4e-3,
		},
		{
			"profile", Setup{Surface: Surface{Points: []r3.Vec{{X: -1}, {X: 1, Z: 2}}},
				Part: Part{steel, 3}},
			r3.Vec{X: 0, Z: 2}, math.Sqrt2 / 2, -1,
		},
	} {
		t.Run(test.name, func(t *testing.T) {
			g := check.Must(test.setup.Geometry())
			if got := g.Entry.Depth(test.at); !(math.Abs(got-test.entry) <= 1e-12) {
				t.Errorf("%v m below the entry surface, want %v", got, test.entry)
			}
			if got := g.Back.Depth(test.at); !(math.Abs(got-test.back) <= 1e-12) {
				t.Errorf("%v m below the back wall, want %v", got, test.back)
			}
			if g.Part.Density != 7850 || g.Part.Longitudinal != 5920 || g.Part.Transverse != 3240 {
				t.Errorf("part %+v, want that of %+v", g.Part, test.setup.Part)
			}
			if (g.Coupling == nil) != (test.setup.Coupling == nil) || g.Coupling != nil &&
				g.Coupling.Longitudinal != 1482 {
				t.Errorf("coupling %+v, want that of %+v", g.Coupling, test.setup.Coupling)
			}
		})
	}
	if _, err := (Setup{}).Geometry(); !errors.Is(err, ErrSetup) {
		t.Errorf("error %v of an empty set-up, want ErrSetup", err)
	}
}
