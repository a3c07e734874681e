// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"errors"
	"math"
	"path/filepath"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// TestSpecular checks the point that mirrors against a circle of 25 mm about (2, 40) mm. The
// numbers were computed independently from the normal through the centre, to 30 digits.
func TestSpecular(t *testing.T) {
	for _, test := range []struct{ element, x, z float64 }{ // mm
		{-10, -5.183697139, 16.054342869},
		{0, 0.751559576, 15.031191528},
		{5, 3.869748706, 15.070017253},
		{12, 8.063390626, 15.746437496},
	} {
		away := math.Hypot(test.element-2, 40)
		x, z := specular(test.element, 0, away-25, (test.element-2)/away)
		check.Within(t, "x, mm", x, test.x, 1e-9)
		check.Within(t, "z, mm", z, test.z, 1e-9)
	}
}

// TestCurves compares the derivatives of the curves with finite differences.
func TestCurves(t *testing.T) {
	for _, test := range []struct {
		name  string
		curve curve
	}{
		{"line", &arc{x0: 1, p: []float64{3, 0.4}}},
		{"circle", &arc{x0: 1, p: []float64{3, 0.4, 0.1}}},
		{"hollow circle", &arc{x0: -1, p: []float64{3, -0.3, -0.12}}},
		{"spline", &spline{from: -3, spacing: 1.1, p: []float64{1, 2, 0, 3, 1, 4, 2, 2}}},
	} {
		c := test.curve
		gradient := make([]float64, c.size())
		for _, x := range []float64{-4, -1.3, 0.2, 0.9, 2.1, 4} {
			const h = 1e-5
			_, dz, ddz := c.at(x)
			before, slopeBefore, _ := c.at(x - h)
			after, slopeAfter, _ := c.at(x + h)
			check.Within(t, test.name+": slope", dz, (after-before)/(2*h), 1e-8)
			check.Within(t, test.name+": bend", ddz, (slopeAfter-slopeBefore)/(2*h), 1e-8)
			c.gradient(x, gradient)
			for i, p := range c.values() {
				c.values()[i] = p + h
				after, _, _ := c.at(x)
				c.values()[i] = p - h
				before, _, _ := c.at(x)
				c.values()[i] = p
				check.Within(t, test.name+": gradient", gradient[i], (after-before)/(2*h), 1e-7*max(1, math.Abs(gradient[i])))
			}
		}
	}
}

// TestReflect compares the echo of a circle with Alhazen's problem by brute force, and its
// derivative with a raised circle.
func TestReflect(t *testing.T) {
	circle := &arc{x0: 2e-3, p: []float64{12e-3, 0, 1 / 40e-3}}
	s := scene{depth: pipe}
	a, b := r3.Vec{X: -3e-3}, r3.Vec{X: 5e-3, Z: -1e-3}
	e, ok := reflect(circle, a, b, 0)
	if !ok {
		t.Fatal("no echo")
	}
	check.Within(t, "length, m", e.length, s.leastLength(a, b), 1e-13)
	lowered, _ := reflect(&arc{x0: 2e-3, p: []float64{12e-3 + 1e-7, 0, 1 / 40e-3}}, a, b, 0)
	check.Within(t, "slope", e.slope, (lowered.length-e.length)/1e-7, 1e-4)
	// A hollow circle about the elements mirrors all directions back: no path is the shortest.
	if _, ok := reflect(&arc{p: []float64{10e-3, 0, -1 / 9e-3}}, r3.Vec{}, r3.Vec{}, 0); ok {
		t.Error("an echo beyond the focus of a hollow circle, want none")
	}
}

// TestSurface finds invented surfaces through the faults of real captures. The depth is held to
// four standard uncertainties, and to the tenth of a wavelength that imaging needs.
func TestSurface(t *testing.T) {
	for _, test := range []struct {
		name  string
		scene scene
		want  Shape
	}{
		{"plane", scene{depth: tilted, noise: 0.01}, Plane},
		{"pipe", scene{depth: pipe, noise: 0.01}, Circle},
		{"bore", scene{depth: bore, noise: 0.01}, Circle},
		{"wavy", scene{depth: wavy, noise: 0.01}, Profile},
		{"second front echo twice as strong, as from a clipped first one", scene{depth: wavy, noise: 0.01, later: 1.9}, Profile},
		{"wall of a plastic part as strong as the front", scene{depth: pipe, noise: 0.01, inside: 1.2}, Circle},
		{"saturated", scene{depth: wavy, noise: 0.01, clip: 0.3}, Profile},
		{"dead elements", scene{depth: pipe, noise: 0.02, dead: []int{2, 6, 7}}, Circle},
		{"delays of elements of a tenth of a period", scene{depth: tilted, noise: 0.01, delay: 25e-9}, Plane},
	} {
		t.Run(test.name, func(t *testing.T) {
			test.scene.seed = 3
			s, err := FindSurface(test.scene.capture(t), calibrate.Estimate{Value: water}, nil)
			if err != nil {
				t.Fatal(err)
			}
			if s.Shape != test.want {
				t.Errorf("%v with probability %v, want %v", s.Shape, s.Probability, test.want)
			}
			if !(s.Lit.Min < -3.5e-3 && s.Lit.Max > 3.5e-3) {
				t.Errorf("lit from %v to %v m, want most of the array", s.Lit.Min, s.Lit.Max)
			}
			for k := range 21 {
				x := s.Lit.Min + (float64(k)+0.5)/21*(s.Lit.Max-s.Lit.Min)
				d := s.Depth(x)
				check.Within(t, "depth, m", d.Value, test.scene.depth(x), min(4*d.Uncertainty, 0.037e-3))
			}
			if d := s.Depth(s.Lit.Max + 1e-6); !math.IsNaN(d.Value) || !math.IsNaN(d.Uncertainty) {
				t.Errorf("depth beyond the lit range is %v, want NaN", d)
			}
		})
	}
}

// TestCircles checks radius and centre of pipe and bore.
func TestCircles(t *testing.T) {
	if testing.Short() {
		t.Skip("captures")
	}
	for _, test := range []struct {
		name         string
		depth        func(float64) float64
		radius, x, z float64
		concave      bool
	}{
		{"pipe", pipe, 40e-3, 2e-3, 52e-3, false},
		{"bore", bore, 60e-3, -1e-3, -47e-3, true},
	} {
		s, err := FindSurface(scene{depth: test.depth, noise: 0.01, seed: 5}.capture(t),
			calibrate.Estimate{Value: water}, &SurfaceOptions{Shape: Circle})
		if err != nil {
			t.Fatal(err)
		}
		for _, q := range []struct {
			name string
			got  calibrate.Estimate
			want float64
		}{{"radius", s.Radius, test.radius}, {"x of the centre", s.CentreX, test.x}, {"z of the centre", s.CentreZ, test.z}} {
			check.Within(t, test.name+": "+q.name, q.got.Value, q.want, 3*q.got.Uncertainty)
			check.Within(t, test.name+": uncertainty of "+q.name, q.got.Uncertainty, 0, 1e-3)
		}
		if s.Concave != test.concave {
			t.Errorf("%s: concave %v", test.name, s.Concave)
		}
		for _, below := range []float64{0, 5e-3} {
			wall := check.Must(s.parallel(below))
			away := s.Radius.Value - below
			if test.concave {
				away = s.Radius.Value + below
			}
			p := r3.Vec{X: s.CentreX.Value + 0.6*away, Z: s.CentreZ.Value - 0.8*away}
			if test.concave {
				p.Z = s.CentreZ.Value + 0.8*away
			}
			check.Within(t, test.name+": depth of a point of the wall, m", wall.Depth(p), 0, 1e-12)
		}
	}
}

// TestCommonErrors checks the parts of the uncertainty that no scatter shows: a wrong speed and a
// wrong time zero shift the surface by about one stated uncertainty.
func TestCommonErrors(t *testing.T) {
	if testing.Short() {
		t.Skip("captures")
	}
	c := scene{depth: tilted, noise: 0.002, seed: 7}.capture(t)
	s, err := FindSurface(c, calibrate.Estimate{Value: water * 1.01, Uncertainty: water * 0.01},
		&SurfaceOptions{Offset: calibrate.Estimate{Uncertainty: 1e-9}})
	if err != nil {
		t.Fatal(err)
	}
	check.Within(t, "error of 1 % of the speed, in uncertainties",
		(s.StandOff.Value-standOff(0))/s.StandOff.Uncertainty, 1, 0.1)
	s, err = FindSurface(c, calibrate.Estimate{Value: water},
		&SurfaceOptions{Offset: calibrate.Estimate{Value: -50e-9, Uncertainty: 50e-9}})
	if err != nil {
		t.Fatal(err)
	}
	check.Within(t, "error of 50 ns of the offset, in uncertainties",
		(s.StandOff.Value-standOff(0))/s.StandOff.Uncertainty, 1, 0.1)
	check.Within(t, "tilt, rad", s.Tilt.Value, math.Atan(0.08), 4*s.Tilt.Uncertainty)
}

// standOff returns the distance of the tilted plane from (x, 0).
func standOff(x float64) float64 { return tilted(x) / math.Hypot(1, 0.08) }

// TestSurfaceOfCaptures finds the surfaces of the full-wave captures, which the set-up files state.
func TestSurfaceOfCaptures(t *testing.T) {
	for _, test := range []struct {
		name  string
		shape Shape
	}{{"wavy32", Profile}, {"pipe32", Circle}} {
		record, truth, s := found(t, test.name)
		if s.Shape != test.shape {
			t.Errorf("%s: %v, want %v", test.name, s.Shape, test.shape)
		}
		wavelength := record.Coupling.Longitudinal / record.Capture.Array.CentreFrequency
		outside := 0
		for k := range 101 {
			x := s.Lit.Min + (float64(k)+0.5)/101*(s.Lit.Max-s.Lit.Min)
			d, want := s.Depth(x), depthOf(truth.Entry, x)
			check.Within(t, test.name+": depth in wavelengths", d.Value/wavelength, want/wavelength, 0.02)
			if !(math.Abs(d.Value-want) <= 2*d.Uncertainty) {
				outside++
			}
		}
		if outside > 5 {
			t.Errorf("%s: the truth lies outside of the band at %d of 101 places, want 5 at most", test.name, outside)
		}
		if test.shape == Circle {
			check.Within(t, "radius, m", s.Radius.Value, 57.15e-3, min(0.5e-3, 2*s.Radius.Uncertainty))
			check.Within(t, "stand-off, m", s.StandOff.Value, 10e-3, min(0.05e-3, 2*s.StandOff.Uncertainty))
		}
	}
}

// found reads a capture of testdata. It returns the record, the true set-up, and the surface that
// is found from the capture and the speed of the water.
func found(t testing.TB, name string) (*npy.Record, *wedge.Setup, *Surface) {
	t.Helper()
	record := check.Must(npy.ReadFile(filepath.Join("..", "..", "testdata", name+".json"), nil))
	s, err := FindSurface(record.Capture, calibrate.Estimate{Value: record.Coupling.Longitudinal}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return record, check.Must(record.Geometry()), s
}

// TestImageThroughFoundSurface images the full-wave captures with no surface given. Holes and back
// wall lie where they lie with the true surface.
func TestImageThroughFoundSurface(t *testing.T) {
	if testing.Short() {
		t.Skip("captures")
	}
	for _, test := range []struct {
		name    string
		windows [][4]float64 // around each hole and a piece of the wall, mm
	}{
		{"wavy32", [][4]float64{{-8, -5, 6, 9}, {0, 2, 10, 13}, {5.5, 8, 13, 16}, {-4, 0, 19, 21}}},
		{"pipe32", [][4]float64{{-8, -5.5, 5, 7}, {-0.5, 1.5, 7.5, 9.5}, {6, 8.5, 6, 8}, {-4, 0, 13, 15}}},
	} {
		if testing.Short() && test.name != "wavy32" {
			continue
		}
		record, truth, s := found(t, test.name)
		like := wedge.Setup{Coupling: truth.Coupling, Part: truth.Part}
		if s.Shape == Profile {
			like.Back = truth.Back
		} else {
			like.Back = check.Must(s.Wall(record.Thickness))
		}
		setup := check.Must(s.Setup(like))
		if testing.Short() {
			test.windows = test.windows[:1]
		}
		for _, w := range test.windows {
			grid := check.Must(tfm.NewSection(w[0]*1e-3, w[1]*1e-3, w[2]*1e-3, w[3]*1e-3, 0.1e-3))
			var peaks [2]sizing.Indication
			for i, g := range []*wedge.Setup{truth, setup} {
				plan := check.Must(tfm.PlanView(t.Context(), record.Capture, g, "L-L", grid, nil))
				image := check.Must(plan.Image(t.Context(), record.Capture))
				peaks[i] = check.Must(sizing.Find(image.Envelope(nil), &sizing.Options{Floor: -20}))[0]
			}
			check.Within(t, test.name+": distance of the peaks, m",
				math.Hypot(peaks[1].X-peaks[0].X, peaks[1].Z-peaks[0].Z), 0, 0.05e-3)
		}
	}
}

// TestUndetermined checks captures that hold no surface.
func TestUndetermined(t *testing.T) {
	for _, test := range []struct {
		name  string
		scene scene
	}{
		{"most elements are dead", scene{depth: wavy, noise: 0.01, dead: []int{0, 1, 2, 3, 4, 5, 6, 7, 8, 9}}},
		{"noise alone", scene{depth: func(float64) float64 { return 1 }, noise: 1}},
	} {
		s, err := FindSurface(test.scene.capture(t), calibrate.Estimate{Value: water}, nil)
		if !errors.Is(err, ErrUndetermined) {
			t.Errorf("%s: surface %+v, error %v, want ErrUndetermined", test.name, s, err)
		}
	}
}

// TestSurfaceInput checks that each bad argument is named.
func TestSurfaceInput(t *testing.T) {
	c := scene{depth: tilted}.capture(t)
	speed := calibrate.Estimate{Value: water}
	outOfSection := *c
	outOfSection.Array.Elements = append([]r3.Vec(nil), c.Array.Elements...)
	outOfSection.Array.Elements[2].Y = 1e-3
	for _, test := range []struct {
		name string
		err  error
		want string
	}{
		{"capture", second(FindSurface(nil, speed, nil)), "no capture"},
		{"speed", second(FindSurface(c, calibrate.Estimate{}, nil)), "speed of the coupling 0"},
		{"uncertainty", second(FindSurface(c, calibrate.Estimate{Value: 1, Uncertainty: -1}, nil)), "-1"},
		{"offset", second(FindSurface(c, speed, &SurfaceOptions{Offset: calibrate.Estimate{Value: math.NaN()}})), "offset NaN"},
		{"uncertain offset", second(FindSurface(c, speed, &SurfaceOptions{Offset: calibrate.Estimate{Uncertainty: math.Inf(1)}})), "+Inf"},
		{"incidence", second(FindSurface(c, speed, &SurfaceOptions{MaxIncidence: 2})), "incidence 2"},
		{"alike", second(FindSurface(c, speed, &SurfaceOptions{Alike: -1})), "-1"},
		{"shape", second(FindSurface(c, speed, &SurfaceOptions{Shape: 9})), "Shape(9)"},
		{"section", second(FindSurface(&outOfSection, speed, nil)), "element 2"},
	} {
		t.Run(test.name, func(t *testing.T) { check.Error(t, test.err, "adapt:", test.want) })
	}
	s, err := FindSurface(c, speed, nil)
	if err != nil {
		t.Fatal(err)
	}
	check.Error(t, second(s.Wall(0)), "thickness 0")
	check.Error(t, second(new(Surface).Entry()), "want one of FindSurface")
}

func second[T any](_ T, err error) error { return err }
