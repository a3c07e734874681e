// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"errors"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

func TestBadGeometry(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	down, along := r3.Vec{Z: 1}, r3.Vec{Y: 1}
	flat := check.Must(HorizontalPlane(0))
	for _, test := range []struct {
		name  string
		make  func() error
		words []string
	}{
		{"plane through NaN", func() error { _, err := NewPlane(r3.Vec{X: nan}, down); return err }, []string{"origin", "NaN", "finite"}},
		{"plane without normal", func() error { _, err := NewPlane(r3.Vec{}, r3.Vec{}); return err }, []string{"normal", "not zero"}},
		{"plane with infinite normal", func() error { _, err := NewPlane(r3.Vec{}, r3.Vec{Z: inf}); return err }, []string{"normal", "finite"}},
		{"plane across y", func() error { _, err := NewPlane(r3.Vec{}, along); return err }, []string{"normal", "not along y"}},
		{"cylinder of no radius", func() error { _, err := NewCylinder(r3.Vec{}, along, 0, Convex); return err }, []string{"radius", "0", "above 0"}},
		{"cylinder of NaN radius", func() error { _, err := NewCylinder(r3.Vec{}, along, nan, Convex); return err }, []string{"radius", "NaN"}},
		{"cylinder without axis", func() error { _, err := NewCylinder(r3.Vec{}, r3.Vec{}, 1, Convex); return err }, []string{"axis", "not zero"}},
		{"upright cylinder", func() error { _, err := NewCylinder(r3.Vec{}, down, 1, Convex); return err }, []string{"axis", "not along z"}},
		{"cylinder of no known curvature", func() error { _, err := NewCylinder(r3.Vec{}, along, 1, 2); return err }, []string{"curvature", "2", "Convex or Concave"}},
		{"plate of no thickness", func() error { _, err := NewPlate(nil, steel, 0); return err }, []string{"thickness", "above 0"}},
		{"plate of negative thickness", func() error { _, err := NewPlate(nil, steel, -1e-3); return err }, []string{"thickness", "-0.001"}},
		{"pipe of solid wall", func() error { _, err := NewPipe(nil, steel, 50e-3, 50e-3); return err }, []string{"wall", "0.05", "below the outer radius"}},
		{"pipe of no radius", func() error { _, err := NewPipe(nil, steel, 0, 1e-3); return err }, []string{"outer radius", "above 0"}},
		{"part without speed", func() error { _, err := NewPlate(nil, material.Isotropic{Density: 1}, 1); return err }, []string{"part", "longitudinal speed 0"}},
		{"coupling of negative speed", func() error {
			_, err := NewPlate(&material.Isotropic{Density: 1, Longitudinal: -1}, steel, 1)
			return err
		}, []string{"coupling", "longitudinal speed -1"}},
		{"set-up without entry", func() error { return (&Setup{Part: steel}).Validate() }, []string{"entry surface"}},
		{"path without legs", func() error { _, err := NewPath(nil, nil); return err }, []string{"0 legs", "at least 1"}},
		{"path of a crossing too many", func() error {
			_, err := NewPath([]Leg{{Speed: 1}}, []Crossing{{Surface: flat}})
			return err
		}, []string{"1 legs and 1 crossings"}},
		{"leg of speed zero", func() error { _, err := NewPath([]Leg{{}}, nil); return err }, []string{"speed of leg 0", "above 0"}},
		{"crossing without surface", func() error { _, err := NewPath([]Leg{{Speed: 1}, {Speed: 1}}, []Crossing{{}}); return err }, []string{"crossing 0", "a surface"}},
		{"path without modes", func() error { _, err := check.Must(NewPlate(nil, steel, 1)).Path(nil); return err }, []string{"at least one mode"}},
		{"skip without back wall", func() error {
			_, err := (&Setup{Part: steel, Entry: flat}).Path([]material.Mode{material.T, material.T})
			return err
		}, []string{"TT", "no back wall"}},
		{"transverse wave in a fluid", func() error {
			_, err := check.Must(NewPlate(nil, water, 1)).Path([]material.Mode{material.T})
			return err
		}, []string{"fluid", "transverse"}},
	} {
		t.Run(test.name, func(t *testing.T) { check.Error(t, test.make(), test.words...) })
	}
}

func TestBadEnds(t *testing.T) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	pipe := check.Must(NewPipe(&water, steel, 57.15e-3, 14e-3))
	contact := check.Must(NewPlate(nil, steel, 16e-3))
	small := check.Must(NewPipe(&water, steel, 25e-3, 6e-3))
	for _, test := range []struct {
		name     string
		setup    *Setup
		path     string
		from, to r3.Vec
		want     Status
	}{
		{"element inside the part", plate, "T", mm(0, 1), mm(10, 5), StartOutside},
		{"element above a part in contact", contact, "T", mm(0, -1), mm(10, 5), StartOutside},
		{"element inside the pipe", pipe, "L", mm(0, 5), mm(0, 6), StartOutside},
		{"element at NaN", plate, "T", mm(math.NaN(), -5), mm(10, 5), StartOutside},
		{"point above the surface", plate, "T", mm(0, -10), mm(10, -1), EndOutside},
		{"point beside the pipe", pipe, "L", mm(0, -10), mm(60, 5), EndOutside},
		{"point below the back wall by a skip", plate, "TT", mm(0, -10), mm(10, 17), EndOutside},
		{"point in the bore by a skip", pipe, "LL", mm(0, -10), mm(0, 20), EndOutside},
		{"point that the bore hides from a skip", small, "TT", mm(0, -10), mm(17, 16.2), WrongSide},
		{"element 1 mm inside a part in contact", contact, "T", mm(0, 1), mm(10, 5), StartOutside},
		{"element 1 µm off a part in contact", contact, "T", mm(0, -0.001), mm(10, 5), OK},
		{"point at infinity", plate, "T", mm(0, -10), mm(0, math.Inf(1)), EndOutside},
		{"point on the surface", plate, "T", mm(0, -10), mm(10, 0), OK},
		{"element on the surface", plate, "T", mm(0, 0), mm(10, 5), OK},
		{"element on the surface, point straight below", plate, "T", mm(0, 0), mm(0, 5), OK},
		{"element and point in one place", contact, "T", mm(1, 0), mm(1, 0), OK},
	} {
		t.Run(test.name, func(t *testing.T) {
			modes, _ := parseModes(test.path)
			p := check.Must(test.setup.Path(modes))
			r := p.Solve(test.from, test.to)
			if r.Status != test.want {
				t.Fatalf("status %v, want %v", r.Status, test.want)
			}
			if r.Status == OK {
				if r.Status.Err() != nil || math.IsNaN(r.Time) {
					t.Fatalf("time %v s, error %v", r.Time, r.Status.Err())
				}
				return
			}
			if err := r.Status.Err(); !errors.Is(err, ErrNoRay) {
				t.Errorf("error %v, want ErrNoRay", err)
			}
			if !math.IsNaN(r.Time) || len(r.Points) != 0 || len(r.Normals) != 0 {
				t.Errorf("ray %+v, want no time and no points", r)
			}
			_, err := p.Times(background, []r3.Vec{test.from}, []r3.Vec{test.to}, nil)
			if test.want == StartOutside {
				check.Error(t, err, "element 0")
			}
		})
	}
	p := check.Must(plate.Path([]material.Mode{material.T}))
	_, err := p.Times(background, nil, []r3.Vec{mm(1, 1)}, nil)
	check.Error(t, err, "0 elements")
	_, err = p.Times(background, []r3.Vec{mm(0, -1)}, []r3.Vec{mm(1, 1), mm(math.NaN(), 1)}, nil)
	check.Error(t, err, "point 1", "finite")
	for _, far := range []float64{2e6, 1e300, math.Inf(-1)} {
		_, err = p.Times(background, []r3.Vec{mm(0, -1), {X: far, Z: -1e-3}}, []r3.Vec{mm(1, 1)}, nil)
		check.Error(t, err, "element 1", "at most 1e+06 m")
		_, err = p.Times(background, []r3.Vec{mm(0, -1)}, []r3.Vec{{Y: far, Z: 1e-3}}, nil)
		check.Error(t, err, "point 0", "at most 1e+06 m")
	}
	p = check.Must(contact.Path([]material.Mode{material.T}))
	_, err = p.Times(background, []r3.Vec{mm(0, -1)}, []r3.Vec{mm(1, 1)}, nil)
	check.Error(t, err, "element 0", "depth -0.001 m", "without a coupling", "1e-05 m")
}

func TestView(t *testing.T) {
	for _, name := range []string{"L-L", "T-T", "TT-T", "LT-T", "T-TL", "LTT-TLT"} {
		v, err := ParseView(name)
		if err != nil {
			t.Fatal(err)
		}
		if v.String() != name {
			t.Errorf("%q reads back as %q", name, v)
		}
	}
	const L, T = material.L, material.T
	got := check.Must(ParseView("LT-TTL"))
	if want := (View{Transmit: []material.Mode{L, T}, Receive: []material.Mode{T, T, L}}); !cmp.Equal(got, want) {
		t.Errorf("LT-TTL reads as %v, want %v", got, want)
	}
	for name, symmetric := range map[string]bool{"T-T": true, "TT-TT": true, "LT-TL": true, "LT-LT": false, "TT-T": false, "L-T": false} {
		if got := check.Must(ParseView(name)).Symmetric(); got != symmetric {
			t.Errorf("%s symmetric: %v, want %v", name, got, symmetric)
		}
	}
	for _, name := range []string{"", "T", "-", "T-", "-T", "X-T", "T-T-T", "t-t", "T T"} {
		_, err := ParseView(name)
		check.Error(t, err, "view", "T-T")
	}
}

// TestPathsOfView checks that the receiving path of a view starts at the array: T-TL comes back as
// L, so it starts as L.
func TestPathsOfView(t *testing.T) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	tx, rx, err := plate.Paths(check.Must(ParseView("T-TL")))
	if err != nil {
		t.Fatal(err)
	}
	speeds := func(p *Path) (speeds []float64) {
		for _, leg := range p.Legs() {
			speeds = append(speeds, leg.Speed)
		}
		return speeds
	}
	if got, want := speeds(tx), []float64{2340, 3240}; !cmp.Equal(got, want) {
		t.Errorf("transmitting speeds %v, want %v", got, want)
	}
	if got, want := speeds(rx), []float64{2340, 5920, 3240}; !cmp.Equal(got, want) {
		t.Errorf("receiving speeds %v, want %v", got, want)
	}
	tx, rx, err = plate.Paths(check.Must(ParseView("LT-TL")))
	if err != nil || tx != rx {
		t.Errorf("a symmetric view has paths %p and %p (%v), want one", tx, rx, err)
	}
}

// FuzzSolve checks that any geometry gives a ray of finite time, or a status with a reason.
func FuzzSolve(f *testing.F) {
	f.Add(0.0, -0.02, 0.02, 0.03, 1480.0, 5900.0, 0.05, byte(0))
	f.Add(0.0, -0.02, 0.02, 0.0, 1480.0, 5900.0, 0.05, byte(1))
	f.Add(0.1, -1e-9, 0.1, 1e-9, 7000.0, 1000.0, 0.01, byte(2))
	f.Add(-0.3, -0.001, 0.3, 0.001, 1000.0, 7000.0, 1.0, byte(3))
	f.Add(0.01, -0.03, 0.02, 0.02, 1480.0, 5900.0, 0.05, byte(4))
	f.Add(0.0, -0.03, 0.0, 0.02, 1480.0, 5900.0, 0.05, byte(5))
	f.Add(0.003, -0.03, 0.02, 0.04, 1480.0, 5900.0, 0.01, byte(6))
	f.Fuzz(func(t *testing.T, x0, z0, x1, z1, c0, c1, radius float64, kind byte) {
		var s Surface
		var err error
		switch kind % 7 {
		case 0:
			s, err = NewPlane(r3.Vec{}, r3.Vec{X: radius, Z: 1})
		case 1:
			s, err = NewCylinder(r3.Vec{Z: radius}, r3.Vec{Y: 1}, radius, Convex)
		case 2:
			s, err = NewCylinder(r3.Vec{Z: -radius}, r3.Vec{Y: 1}, radius, Concave)
		case 3:
			s, err = NewCylinder(r3.Vec{Z: radius}, r3.Vec{X: 1, Y: 1}, radius, Convex)
		case 4:
			s, err = NewCone(r3.Vec{Z: radius}, r3.Vec{X: 1, Y: 0.5}, radius, 0.2, Convex)
		case 5:
			s, err = NewSphere(r3.Vec{Z: radius}, radius, Convex)
		case 6:
			s, err = NewHeightField([]float64{-0.1, 0, 0.1, 0.2}, []float64{-0.1, 0, 0.1}, []float64{0, radius, 0, 0, 0.001, 0, 0, 0, 0, 0, radius, 0})
		}
		if err != nil {
			return
		}
		p, err := NewPath([]Leg{{Speed: c0}, {Speed: c1}}, []Crossing{{Surface: s}})
		if err != nil {
			return
		}
		r := p.Solve(r3.Vec{X: x0, Z: z0}, r3.Vec{X: x1, Z: z1})
		if r.Status != OK {
			if !math.IsNaN(r.Time) || r.Status.Err() == nil {
				t.Fatalf("%v with time %v", r.Status, r.Time)
			}
			return
		}
		if !(r.Time >= 0) || math.IsInf(r.Time, 0) {
			t.Fatalf("time %v s", r.Time)
		}
	})
}

// TestSteepProfiles checks that points without a finite curve through them are rejected.
func TestSteepProfiles(t *testing.T) {
	for name, points := range map[string][]r3.Vec{
		"x next to nothing apart": {{X: 0}, {X: 5e-324, Z: 1}, {X: 1}},
		"x without end apart":     {{X: -1e308}, {X: 1e308}},
		"heights without end":     {{X: 0, Z: -1e308}, {X: 1e-3, Z: 1e308}},
	} {
		if p, err := NewProfile(points); err == nil {
			t.Errorf("%s: profile %v", name, p)
		}
	}
}
