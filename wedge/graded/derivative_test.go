// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// weldParameters are all parameters of the invented weld of weldFamily.
var weldParameters = []Parameter{
	{"T", 1.1, 0.5, 2}, {"eta", 1, 0.6, 1.4}, {"root gap", 6e-3, 4e-3, 8e-3}, {"bevel angle", 0.5, 0.4, 0.6},
	{"turn", 0, -0.2, 0.2}, {"factor of speeds", 1, 0.95, 1.05},
	{"C11", 262.75e9, 240e9, 290e9}, {"C13", 145e9, 130e9, 160e9}, {"C33", 216e9, 200e9, 240e9}, {"C44", 129e9, 110e9, 140e9},
	{"speed in the coupling", 2330, 2200, 2450}, {"longitudinal speed", 5790, 5600, 5900}, {"transverse speed", 3100, 3000, 3200},
	{"x of the weld", 0, -2e-3, 2e-3}, {"thickness", 30e-3, 28e-3, 32e-3},
}

// weldOf returns a function that makes an invented weld of the values of weldParameters, in contact
// or behind a wedge. The elastic constants are the constants of testdata/austenitic/grain32_times.json.
func weldOf(wedged bool) func(v []float64) (*Part, error) {
	return func(v []float64) (*Part, error) {
		edge := joint.Edge{Upper: joint.Bevel{Angle: v[3]}}
		weld, err := joint.Butt{Thickness: v[14], Gap: v[2], Left: edge, Right: edge}.Joint()
		if err != nil {
			return nil, err
		}
		weld = weld.Shifted(r2.Vec{X: v[13]})
		law, err := NewGrainLaw(weld, v[0], v[1])
		if err != nil {
			return nil, err
		}
		texture, err := NewAdjusted(law, v[4], v[5])
		if err != nil {
			return nil, err
		}
		metal := material.TransverselyIsotropic{C11: v[6], C12: 98.25e9, C13: v[7], C33: v[8], C44: v[9]}
		curves, err := NewSlownessCurves(material.Anisotropic{Density: 8120, Stiffness: metal.Stiffness()})
		if err != nil {
			return nil, err
		}
		var coupling *material.Isotropic
		if wedged {
			coupling = &material.Isotropic{Density: 1050, Longitudinal: v[10]}
		}
		parent := material.Isotropic{Density: 7900, Longitudinal: v[11], Transverse: v[12]}
		return NewWeld(coupling, parent, curves, texture, weld)
	}
}

// derivativeCase is a ray whose derivatives are compared with differences.
type derivativeCase struct {
	name       string
	pol        Polarisation
	wedged     bool
	eta        float64
	from, to   r3.Vec
	skips      []Polarisation
	parameters []int   // of weldParameters; nil stands for all
	tolerance  float64 // over the range of a parameter, s
}

// derivativeCases holds cases of few rays. Together they have each parameter, most of them once. The differences of qSV have larger errors of the second
// order than the differences of qL and SH.
var derivativeCases = []derivativeCase{
	{"qL in contact, smooth law", qL, false, 1, mm(-25, 0), mm(6, 20), nil, []int{0, 1, 2, 4, 7, 11}, 0.06e-9},
	{"qL through a wedge", qL, true, 1.1, mm(-40, -12), mm(20, 24), nil, []int{0, 5, 6, 10, 13}, 0.06e-9},
	{"SH from the weld", sH, false, 1, mm(-6, 0), mm(12, 28), nil, []int{3, 9, 12}, 0.06e-9},
	{"qSV in contact", qSV, false, 1, mm(-30, 0), mm(8, 18), nil, []int{0, 13}, 0.3e-9},
}

// compareDerivatives compares derivatives with central differences of times, for which the rays are
// found anew.
func compareDerivatives(t *testing.T, c *derivativeCase) {
	parameters := slices.Clone(weldParameters)
	parameters[1].Value = c.eta
	if c.parameters == nil {
		for k := range parameters {
			c.parameters = append(c.parameters, k)
		}
	}
	all := make([]float64, len(parameters))
	for k, p := range parameters {
		all[k] = p.Value
	}
	var some []Parameter
	for _, k := range c.parameters {
		some = append(some, parameters[k])
	}
	build := func(v []float64) (*Part, error) {
		values := slices.Clone(all)
		for i, k := range c.parameters {
			values[k] = v[i]
		}
		return weldOf(c.wedged)(values)
	}
	options := &Options{Tolerance: 1e-13, Spacing: 1e-3, Workers: 1, Skips: c.skips}
	f := check.Must(NewFamily(some, build))
	got := check.Must(f.Derivatives(t.Context(), c.pol, []r3.Vec{c.from}, []r3.Vec{c.to}, options))[0]
	for k, p := range some {
		reach := p.High - p.Low
		h := 2e-3 * reach
		time := func(by float64) float64 {
			values := f.Values()
			values[k] += by
			return check.Must(check.Must(build(values)).Ray(c.pol, c.from, c.to, options)).Time
		}
		want := (time(h) - time(-h)) / (2 * h) * reach
		t.Logf("by %s: %.6g ns over the range, differences %.6g", p.Name, got.By[k]*reach*1e9, want*1e9)
		check.Within(t, "derivative by "+p.Name+" over its range", got.By[k]*reach, want, 1e-3*math.Abs(want)+c.tolerance)
	}
}

// TestDerivatives compares the derivatives of a few rays by some parameters with differences.
func TestDerivatives(t *testing.T) {
	for _, c := range derivativeCases {
		t.Run(c.name, func(t *testing.T) {
			if !long && c.pol == qSV {
				t.Skip("several fans")
			}
			compareDerivatives(t, &c)
		})
	}
}

// TestDerivativesByPlaces compares the derivatives by the places of element and point with
// differences.
func TestDerivativesByPlaces(t *testing.T) {
	const h = 1e-5
	curves, _ := metal(t, weldMetals[0])
	f := check.Must(NewFamily(weldParameters[:1], func(v []float64) (*Part, error) {
		return NewWeld(polystyrene, parent, curves, check.Must(NewGrainLaw(veeWeld, v[0], 1)), veeWeld)
	}))
	from, to := mm(-40, -12), mm(20, 24)
	elements := []r3.Vec{from, r3.Add(from, r3.Vec{X: h}), r3.Sub(from, r3.Vec{X: h}), r3.Add(from, r3.Vec{Z: h}), r3.Sub(from, r3.Vec{Z: h})}
	points := []r3.Vec{to, r3.Add(to, r3.Vec{X: h}), r3.Sub(to, r3.Vec{X: h}), r3.Add(to, r3.Vec{Z: h}), r3.Sub(to, r3.Vec{Z: h})}
	d := check.Must(f.Derivatives(t.Context(), qL, elements, points, &Options{Tolerance: 1e-13, Spacing: 1e-3}))
	slope := func(step, side int) float64 { return (d[side*step].Time - d[(side+1)*step].Time) / (2 * h) }
	for _, row := range []struct {
		name      string
		got, want float64
	}{
		{"start along x", d[0].Start.X, slope(5, 1)}, {"start along z", d[0].Start.Z, slope(5, 3)},
		{"end along x", d[0].End.X, slope(1, 1)}, {"end along z", d[0].End.Z, slope(1, 3)},
	} {
		check.Within(t, row.name, row.got, row.want, 1e-4/2330)
	}
}

// TestDerivativesOfPlainMedia compares with closed forms: the time is the length divided by the
// speed, so that its derivative by the speed is −t/c. A point without a ray has NaN.
func TestDerivativesOfPlainMedia(t *testing.T) {
	f := check.Must(NewFamily([]Parameter{{"c", 5900, 5000, 7000}, {"depth", 10e-3, 5e-3, 15e-3}},
		func(v []float64) (*Part, error) {
			upper := check.Must(NewIsotropic(material.Isotropic{Density: 7800, Longitudinal: v[0], Transverse: 3000}))
			lower := check.Must(NewIsotropic(material.Isotropic{Density: 2700, Longitudinal: 6300, Transverse: 3100}))
			return &Part{Entry: plane(0), Back: plane(30e-3), Media: []Medium{upper, lower}, Faces: []wedge.Surface{plane(v[1])}}, nil
		}))
	for _, pol := range []Polarisation{qL, sH} {
		d := check.Must(f.Derivatives(t.Context(), pol, []r3.Vec{{}}, []r3.Vec{mm(0, 25), mm(6, 8), mm(0, 31)}, nil))
		upper, lower := 5900., 6300.
		byC := -10e-3 / (upper * upper)
		if pol == sH {
			upper, lower, byC = 3000, 3100, 0
		}
		check.Within(t, "straight down by c", d[0].By[0], byC, 1e-12*1e-9)
		// A deeper face replaces the slower way below it.
		check.Within(t, "straight down by depth", d[0].By[1], 1/upper-1/lower, 1e-9*1/upper)
		check.Within(t, "above the face by depth", d[1].By[1], 0, 0)
		if !math.IsNaN(d[2].Time) || !math.IsNaN(d[2].By[0]) || !math.IsNaN(d[2].End.X) || len(d[2].By) != 2 {
			t.Errorf("outside the part: %+v", d[2])
		}
	}
}

// TestDerivativesOverASkip compares with the closed form of one reflection at the back wall. Its mirror
// image lies at 2d − z: the time is √(x² + (2d−z)²)/c.
func TestDerivativesOverASkip(t *testing.T) {
	f := check.Must(NewFamily([]Parameter{{"c", 5900, 5000, 7000}, {"thickness", 20e-3, 10e-3, 30e-3}},
		func(v []float64) (*Part, error) {
			m, err := NewIsotropic(material.Isotropic{Density: 7800, Longitudinal: v[0], Transverse: 3000})
			return &Part{Entry: plane(0), Back: plane(v[1]), Media: []Medium{m}}, err
		}))
	d := check.Must(f.Derivatives(t.Context(), qL, []r3.Vec{{}}, []r3.Vec{mm(15, 12)}, &Options{Skips: []Polarisation{qL}, Spacing: 2e-3}))[0]
	length := math.Hypot(15e-3, 28e-3)
	check.Within(t, "time", d.Time, length/5900, 1e-12)
	check.Within(t, "by c", d.By[0], -length/(5900*5900), 1e-6*length/(5900*5900))
	check.Within(t, "by thickness", d.By[1], 2*28e-3/length/5900, 1e-6/5900)
	check.Within(t, "by the depth of the point", d.End.Z, -28e-3/length/5900, 1e-6/5900)
}

// TestFamilyRefuses checks that errors name the faulty value.
func TestFamilyRefuses(t *testing.T) {
	good := []Parameter{{"c", 5900, 5000, 7000}}
	build := func(v []float64) (*Part, error) {
		m, err := NewIsotropic(material.Isotropic{Density: 7800, Longitudinal: v[0], Transverse: 3000})
		p := &Part{Entry: plane(0), Media: []Medium{m}}
		if v[0] > 6000 {
			p.Media, p.Faces = append(p.Media, check.Must(NewIsotropic(parent))), []wedge.Surface{plane(1)}
		}
		return p, err
	}
	f := check.Must(NewFamily(good, build))
	for _, row := range []struct {
		name, want string
		try        func() error
	}{
		{"no parameter", "0 parameters", func() error { _, err := NewFamily(nil, build); return err }},
		{"no function", "function", func() error { _, err := NewFamily(good, nil); return err }},
		{"two of a name", `"c"`, func() error { _, err := NewFamily(append(good, good[0]), build); return err }},
		{"limits", "limits of the parameter d", func() error { _, err := NewFamily([]Parameter{{"d", 1, 2, 1}}, build); return err }},
		{"infinite limit", "limits of the parameter d", func() error { _, err := NewFamily([]Parameter{{"d", 1, 0, math.Inf(1)}}, build); return err }},
		{"beyond the limits", "parameter c 7001", func() error { _, err := f.At([]float64{7001}); return err }},
		{"number of values", "2 values", func() error { _, err := f.At([]float64{1, 2}); return err }},
		{"another number of media", "number of media", func() error { _, err := NewFamily([]Parameter{{"c", 6000, 5000, 7000}}, build); return err }},
		{"no part", "no part", func() error {
			_, err := NewFamily(good, func([]float64) (*Part, error) { return nil, nil })
			return err
		}},
		{"no texture", "texture is missing", func() error { _, err := NewAdjusted(nil, 0, 1); return err }},
		{"turn", "turn of the grains", func() error { _, err := NewAdjusted(constant(1), math.NaN(), 1); return err }},
		{"factor", "factor of the speeds 3", func() error { _, err := NewAdjusted(constant(1), 0, 3); return err }},
		{"points", "want at least one", func() error { _, err := f.Derivatives(t.Context(), qL, nil, nil, nil); return err }},
	} {
		t.Run(row.name, func(t *testing.T) { check.Error(t, row.try(), row.want) })
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := f.Derivatives(ctx, qL, []r3.Vec{{}}, []r3.Vec{mm(0, 5)}, nil); err != context.Canceled {
		t.Errorf("error %v of a context that has ended", err)
	}
}
