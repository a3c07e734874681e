// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
)

// degrees is one degree in radians.
const degrees = math.Pi / 180

// metal returns the curves of a published solid, and the solid.
func metal(t testing.TB, name string) (*SlownessCurves, material.Anisotropic) {
	t.Helper()
	m, ok := trialMetals[name]
	if !ok {
		found, err := material.FindCrystal(name)
		if err != nil {
			t.Fatal(err)
		}
		m = found.Medium
	}
	c, err := NewSlownessCurves(m)
	if err != nil {
		t.Fatal(err)
	}
	return c, m
}

// trialMetals are solids of strong anisotropy for tests of calculations. Their constants are from
// memory and their authors are not known. Package material therefore does not offer them.
var trialMetals = map[string]material.Anisotropic{
	"austenitic steel": {Density: 7874, Stiffness: material.Cubic{C11: 203.6e9, C12: 133.5e9,
		C44: 129.8e9}.Stiffness()},
	"weld metal type 308": {Density: 8120,
		Stiffness: material.TransverselyIsotropic{C11: 262.75e9, C12: 98.25e9, C13: 145e9,
			C33: 216e9, C44: 129e9}.Stiffness()},
	"weld metal, austenitic": {Density: 7850, Stiffness: material.TransverselyIsotropic{C11: 249e9,
		C12: 124e9, C13: 133e9, C33: 205e9, C44: 125e9}.Stiffness()},
}

var weldMetals = []string{"weld metal X6CrNi18-11", "weld metal type 308", "weld metal, austenitic"}

// TestSlownessCurvesAgainstTable compares phase speeds, group speeds and directions with
// independent calculations from the same constants, mpmath 1.2.1. Angles are from the axis of
// symmetry.
func TestSlownessCurvesAgainstTable(t *testing.T) {
	for _, row := range []struct {
		metal                        string
		pol                          Polarisation
		angle, phase, group, towards float64 // degrees, m/s, m/s, degrees
	}{
		{"weld metal X6CrNi18-11", qL, 0, 5541.29, 5541.29, 0},
		{"weld metal X6CrNi18-11", qL, 15, 5763.49, 5915.67, 28.024},
		{"weld metal X6CrNi18-11", qL, 75, 5771.80, 5920.04, 62.151},
		{"weld metal X6CrNi18-11", qSV, 15, 3443.23, 4098.18, -17.840},
		{"weld metal X6CrNi18-11", qSV, 45, 2561.01, 2561.02, 45.133},
		{"weld metal X6CrNi18-11", qSV, 75, 3445.07, 4095.56, 107.736},
		{"weld metal type 308", qL, 30, 6058.53, 6231.19, 43.520},
		{"weld metal type 308", qSV, 75, 3571.72, 4457.33, 111.744},
		{"zinc", qL, 15, 3264.57, 3774.37, 45.125},
		{"zinc", qSV, 30, 1805.98, 1858.13, 16.393},
	} {
		c, _ := metal(t, row.metal)
		phase := c.phase(row.pol, row.angle*degrees)
		group, towards := c.group(row.pol, row.angle*degrees)
		if !(math.Abs(phase-row.phase) <= 0.006 && math.Abs(group-row.group) <= 0.006 &&
			math.Abs(towards/degrees-row.towards) <= 0.0006) {
			t.Errorf("%s %v at %v°: %.2f m/s, energy %.2f m/s at %.3f°; want %v, %v, %v",
				row.metal, row.pol, row.angle, phase, group, towards/degrees,
				row.phase, row.group, row.towards)
		}
	}
}

// TestArrivalsAgainstGroupSolver compares arrivals with the solver in three dimensions. Each
// arrival must be an arrival of the solver in the plane of the axis, and none of these may be
// missing.
func TestArrivalsAgainstGroupSolver(t *testing.T) {
	if testing.Short() {
		t.Skip("scans of all sheets")
	}
	step := 8 * degrees
	if !long {
		step = 23 * degrees
	}
	for _, name := range append([]string{"zinc", "austenitic steel", "olivine"}, weldMetals...) {
		c, m := metal(t, name)
		solver, err := material.NewGroupSolver(m)
		if err != nil {
			t.Fatal(err)
		}
		several := 0
		for angle := 0.7 * degrees; angle < 2*math.Pi; angle += step {
			// The grain axis is the axis z of the solid. For an axis of π/2 it is the axis z of the
			// part.
			direction := heading(angle + math.Pi/2)
			all, err := solver.Arrivals(nil, direction)
			if err != nil {
				t.Fatal(err)
			}
			found := 0
			for pol := qL; pol <= sH; pol++ {
				own := c.arrivals(pol, angle)
				if pol == qSV && len(own) > 1 {
					several++
				}
				for _, a := range own {
					n := heading(a.Phase + math.Pi/2)
					match := false
					for _, w := range all {
						match = match || math.Abs(w.GroupSpeed()/a.Speed-1) < 1e-9 &&
							r3.Norm(r3.Sub(w.Normal, n)) < 1e-6
					}
					if !match {
						t.Errorf("%s, %v towards %.1f°: %v is no arrival of the solver", name, pol,
							angle/degrees, a)
					}
					found++
				}
			}
			inPlane := 0
			for _, w := range all {
				if math.Abs(w.Normal.Y) < 1e-6 {
					inPlane++
				}
			}
			if found != inPlane {
				t.Errorf("%s towards %.1f°: %d arrivals, the solver has %d in the section", name,
					angle/degrees, found, inPlane)
			}
		}
		if name == "zinc" && several == 0 {
			t.Error("zinc: no direction with several qSV arrivals: the test has not met its case")
		}
	}
}

// TestTravelIsAnArrival checks that the time per metre in a direction belongs to the latest qSV
// arrival, or to the only arrival of qL and SH.
func TestTravelIsAnArrival(t *testing.T) {
	for _, name := range append([]string{"zinc", "magnesium"}, weldMetals...) {
		c, _ := metal(t, name)
		for pol := qL; pol <= sH; pol++ {
			for i := range 200 {
				angle := (float64(i)*1.8 + 0.1) * degrees
				arrivals := c.arrivals(pol, angle)
				if len(arrivals) == 0 || pol != qSV && len(arrivals) != 1 {
					t.Fatalf("%s %v towards %.2f°: %d arrivals", name, pol, angle/degrees,
						len(arrivals))
				}
				time, slowness, _ := c.travel(pol, 0.3, heading(angle+0.3))
				want := 1 / arrivals[len(arrivals)-1].Speed
				if !(math.Abs(time/want-1) <= 1e-13) {
					t.Errorf("%s %v towards %.2f°: %v s/m, want %v", name, pol, angle/degrees, time,
						want)
				}
				if along := r3.Dot(slowness,
					heading(angle+0.3)); !(math.Abs(along/want-1) <= 1e-13) {
					t.Errorf("%s %v towards %.2f°: slowness along the ray %v, want %v", name, pol,
						angle/degrees, along, want)
				}
			}
		}
	}
}

func TestNewSlownessCurvesRefuses(t *testing.T) {
	_, weld := metal(t, weldMetals[0])
	tilted, err := material.TransverselyIsotropic{C11: 241.1e9, C12: 96.91e9, C13: 138.03e9,
		C33: 240.12e9, C44: 112.29e9}.About(r3.Vec{X: 1, Y: 1, Z: 1})
	if err != nil {
		t.Fatal(err)
	}
	weak := weld
	weak.Density = math.NaN()
	for _, row := range []struct {
		name, want string
		medium     material.Anisotropic
	}{
		{"axis out of the section", "plane of symmetry", material.Anisotropic{Density: 7820,
			Stiffness: tilted}},
		{"density", "density", weak},
		{"nothing", "density", material.Anisotropic{}},
	} {
		if _, err := NewSlownessCurves(row.medium); err == nil || !strings.Contains(err.Error(),
			row.want) {
			t.Errorf("%s: error %v, want one with %q", row.name, err, row.want)
		}
	}
}

// TestAnyAttitudeInTheSection checks that turning the stiffness about y has the effect of turning
// the grain axis.
func TestAnyAttitudeInTheSection(t *testing.T) {
	c, m := metal(t, "weld metal type 308")
	turn := 0.4 // the axis at π/2 − 0.4 from +x towards +z
	s, err := m.Stiffness.Rotate(r3.NewRotation(turn, r3.Vec{Y: 1}))
	if err != nil {
		t.Fatal(err)
	}
	turned, err := NewSlownessCurves(material.Anisotropic{Density: m.Density, Stiffness: s})
	if err != nil {
		t.Fatal(err)
	}
	for pol := qL; pol <= sH; pol++ {
		for i := range 50 {
			step := heading(float64(i) * 0.13)
			want, _, _ := c.travel(pol, math.Pi/2-turn, step)
			got, _, _ := turned.travel(pol, math.Pi/2, step)
			if !(math.Abs(got/want-1) <= 1e-13) {
				t.Errorf("%v, step %d: %v s, want %v", pol, i, got, want)
			}
		}
	}
}
