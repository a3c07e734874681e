// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"maps"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// foreign is a surface of another package: this package knows nothing about it but its methods.
type foreign struct{ Surface }

// TestForeignSurfaces compares all results for each kind of surface with the results for the same
// surface in the type of another package.
func TestForeignSurfaces(t *testing.T) {
	all := surfaces()
	for _, name := range slices.Sorted(maps.Keys(all)) {
		t.Run(name, func(t *testing.T) {
			entry, back := all[name], check.Must(NewPlane(mm(0, 22), r3.Vec{X: 0.05, Z: 1}))
			bore := check.Must(NewCylinder(mm(2, 32), r3.Vec{Y: 1}, 8e-3, Convex))
			for _, modes := range [][]material.Mode{{material.L}, {material.T, material.L}} {
				walls, hidden := []Surface{bore}, []Surface{foreign{bore}}
				if len(modes) == 1 {
					walls, hidden = nil, nil
				}
				known := &Setup{Coupling: &water, Part: steel, Entry: entry, Back: back, Sides: walls}
				other := &Setup{Coupling: &water, Part: steel, Entry: foreign{entry}, Back: foreign{back}, Sides: hidden}
				compareForeign(t, known, other, modes)
			}
		})
	}
}

// compareForeign compares all results of two set-ups.
func compareForeign(t *testing.T, known, other *Setup, modes []material.Mode) {
	t.Helper()
	p, q := check.Must(known.Path(modes)), check.Must(other.Path(modes))
	elements, grid := lineElements(2, 6e-3, -9e-3), gridOf(-6, 3, 1.3, 10, 10)
	near := cmpopts.EquateApprox(1e-6, 1e-9)
	for _, point := range []r3.Vec{mm(0, 1), mm(3, 30), mm(-9, 12)} {
		if a, b := known.Inside(point), other.Inside(point); a != b {
			t.Errorf("inside at %v: %v, want %v", point, b, a)
		}
	}
	compare := func(name string, a, b *Times, tolerance float64) {
		t.Helper()
		if a.Missing != b.Missing || a.Missing == len(a.Seconds) {
			t.Errorf("%s: %d of %d times missing, want %d", name, b.Missing, len(b.Seconds), a.Missing)
		}
		for i := range a.Seconds {
			x, y := float64(a.Seconds[i]), float64(b.Seconds[i])
			if math.IsNaN(x) != math.IsNaN(y) || math.Abs(x-y) > tolerance+x*0x1p-23 {
				t.Errorf("%s at %d: %v s, want %v", name, i, y, x)
				return
			}
		}
	}
	compare("times", check.Must(p.Times(background, elements, grid.Points(), nil)),
		check.Must(q.Times(background, elements, grid.Points(), nil)), 1e-12)
	compare("interpolated times", check.Must(p.Interpolate(background, elements, grid, nil)),
		check.Must(q.Interpolate(background, elements, grid, nil)), 2*defaultError)
	a, b := p.Solve(elements[0], mm(1, 14)), q.Solve(elements[0], mm(1, 14))
	if !cmp.Equal(a, b, near, cmpopts.EquateNaNs()) {
		t.Errorf("ray %+v, want %+v", b, a)
	}
	if a.Status == OK {
		want, got := check.Must(p.Derivatives(&a)), check.Must(q.Derivatives(&b))
		if !cmp.Equal(want, got, near, cmpopts.IgnoreFields(Derivatives{}, "Depths")) {
			t.Errorf("derivatives %+v, want %+v", got, want)
		}
		strong := check.Must(check.Must(NewAmplitudes(p, withSpace(known.Acoustics(p)))).Along(&a))
		same := check.Must(check.Must(NewAmplitudes(q, withSpace(other.Acoustics(q)))).Along(&b))
		if !cmp.Equal(strong, same, near) {
			t.Errorf("amplitude %+v, want %+v", same, strong)
		}
	}
	if !p.extruded() {
		return
	}
	want, got := check.Must(p.Rays(elements[0], mm(1, 14), nil)), check.Must(q.Rays(elements[0], mm(1, 14), nil))
	if !cmp.Equal(want, got, near) {
		t.Errorf("rays %+v, want %+v", got, want)
	}
}

// withSpace returns the acoustics in space, where rays may be skew.
func withSpace(a Acoustics) Acoustics {
	a.Dimension = Space
	return a
}

// TestSurfaceWithoutNormal checks that the zero value of a surface is refused, and a surface that
// has no normal at one place only is not.
func TestSurfaceWithoutNormal(t *testing.T) {
	zero := flawed{}
	_, err := NewPath([]Leg{{Speed: 1}, {Speed: 1}}, []Crossing{{Surface: zero}})
	check.Error(t, err, "crossing 0", "flawed", "no normal")
	plane := check.Must(HorizontalPlane(0))
	for name, s := range map[string]*Setup{
		"entry surface": {Part: steel, Entry: zero},
		"back wall":     {Part: steel, Entry: plane, Back: zero},
		"side 0":        {Part: steel, Entry: plane, Sides: []Surface{zero}},
	} {
		check.Error(t, s.Validate(), name, "no normal")
	}
	check.Error(t, (&Setup{Part: steel, Entry: plane, Sides: []Surface{nil}}).Validate(), "side 0", "missing")
	good := flawed{direction: r3.Vec{X: 1}, without: true}
	if err := (&Setup{Part: steel, Entry: good}).Validate(); err != nil {
		t.Error(err)
	}
}

// flawed is the plane z = 0, if its direction is (1, 0, 0).
type flawed struct {
	direction r3.Vec
	without   bool // without a normal at the origin
}

func (f flawed) At(u, v float64) Patch {
	if f.without && u == 0 && v == 0 {
		return Patch{}
	}
	return Patch{P: r3.Vec{X: u, Y: v}, U: f.direction, V: r3.Vec{Y: 1}}
}
func (f flawed) Locate(p r3.Vec) (u, v float64) { return p.X, p.Y }
func (f flawed) Depth(p r3.Vec) float64         { return p.Z }
func (f flawed) Extruded() bool                 { return true }
