// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge/graded"
	weld "github.com/isochron-imaging/isochron/wedge/joint"
)

// lawFamily is the weld of testdata/grain32_times.json, of which T, η and the turn of all grains
// are not exactly known.
func lawFamily(t testing.TB) *graded.Family {
	t.Helper()
	edge := weld.Edge{Upper: weld.Bevel{Angle: math.Pi / 6}}
	vee := check.Must(weld.Butt{Thickness: 30e-3, Gap: 6e-3, Left: edge, Right: edge}.Joint())
	metal := material.TransverselyIsotropic{C11: 262.75e9, C12: 98.25e9, C13: 145e9, C33: 216e9, C44: 129e9}
	curves := check.Must(graded.NewSlownessCurves(material.Anisotropic{Density: 8120, Stiffness: metal.Stiffness()}))
	parent := material.Isotropic{Density: 7900, Longitudinal: 5790, Transverse: 3100}
	return check.Must(graded.NewFamily([]graded.Parameter{
		{Name: "T", Value: 1, Low: 0.4, High: 2.5}, {Name: "eta", Value: 1, Low: 0.6, High: 1.6}, {Name: "turn", Value: 0, Low: -0.3, High: 0.3},
	}, func(v []float64) (*graded.Part, error) {
		law, err := graded.NewGrainLaw(vee, v[0], v[1])
		if err != nil {
			return nil, err
		}
		if law, err = graded.NewAdjusted(law, v[2], 1); err != nil {
			return nil, err
		}
		return graded.NewWeld(nil, parent, curves, law, vee)
	}))
}

// grainCapture returns a capture of a point in the weld, from its rays, with pulses of 2.25 MHz.
func grainCapture(t testing.TB, family *graded.Family, at r3.Vec) *fmc.Capture {
	t.Helper()
	const n, rate, first, samples = 6, 100e6, 3e-6, 1400
	array := check.Must(fmc.LinearArray(n, 2.8e-3, fmc.Array{Width: 1e-3, CentreFrequency: 2.25e6, Bandwidth: 0.6}))
	for i := range array.Elements {
		array.Elements[i].X -= 16e-3
	}
	d := check.Must(family.Derivatives(t.Context(), graded.QuasiLongitudinal, array.Elements, []r3.Vec{at}, nil))
	data := make([]float32, n*n*samples)
	for tx := range n {
		for rx := range n {
			for k := range samples {
				late := first + float64(k)/rate - d[tx].Time - d[rx].Time
				const width = 0.25e-6
				data[(tx*n+rx)*samples+k] = float32(math.Exp(-late*late/(2*width*width)) * math.Cos(2*math.Pi*2.25e6*late))
			}
		}
	}
	return check.Must(fmc.New(fmc.Capture{
		Array: array, Pairs: fmc.FullPairs(n), Samples: samples, SampleRate: rate, FirstSample: first, Data: data,
	}))
}

// grainError is an error of a parameter of lawFamily, or of the probe position for the parameter
// -1.
type grainError struct {
	name      string
	parameter int
	by        float64
}

func TestGrainShifts(t *testing.T) { checkGrainShifts(t, grainError{"T", 0, 0.1}) }

// checkGrainShifts images a point in a weld with parameters in error, and compares the shift of
// the peak with the derivative.
func checkGrainShifts(t *testing.T, errors ...grainError) {
	family := lawFamily(t)
	at := r3.Vec{X: 4e-3, Z: 20e-3}
	c := grainCapture(t, family, at)
	model := check.Must(NewGrainModel(c, family, graded.QuasiLongitudinal, nil, nil))
	place := check.Must(model.At(at))
	grid := check.Must(tfm.NewSection(at.X-1.2e-3, at.X+1.2e-3, at.Z-1.2e-3, at.Z+1.2e-3, 0.4e-3))
	// peak returns the peak of an image with other parameters, and with the array moved along x.
	peak := func(values []float64, move float64) sizing.Indication {
		moved := *c
		moved.Array.Elements = slices.Clone(c.Array.Elements)
		for i := range moved.Array.Elements {
			moved.Array.Elements[i].X += move
		}
		f := check.Must(family.At(values))
		times := check.Must(f.Part().Times(t.Context(), graded.QuasiLongitudinal, moved.Array.Elements, grid.Points(), nil))
		plan := check.Must(tfm.NewPlan(&moved, grid, times, times, nil))
		return check.Must(sizing.Find(check.Must(plan.Image(t.Context(), &moved)).Envelope(nil), &sizing.Options{Floor: -3}))[0]
	}
	for _, row := range errors {
		above, below := family.Values(), family.Values()
		move, want := row.by, place.Shift(ProbePosition)
		if row.parameter >= 0 {
			above[row.parameter] += row.by
			below[row.parameter] -= row.by
			move, want = 0, place.GrainShift(row.name)
		}
		a, b := peak(above, move), peak(below, -move)
		want = r3.Scale(row.by, want)
		got := r3.Vec{X: (a.X - b.X) / 2, Z: (a.Z - b.Z) / 2}
		t.Logf("%s off by %v: shift (%.3f, %.3f) mm, by derivatives (%.3f, %.3f) mm", row.name, row.by, 1e3*got.X, 1e3*got.Z, 1e3*want.X, 1e3*want.Z)
		tolerance := 0.2*r3.Norm(want) + 0.01e-3
		check.Within(t, row.name+": shift along x", got.X, want.X, tolerance)
		check.Within(t, row.name+": shift along z", got.Z, want.Z, tolerance)
	}
}

// TestGrainBudget checks that a budget has the parameters of the grains, with their correlation,
// and that none is forgotten.
func TestGrainBudget(t *testing.T) {
	family := lawFamily(t)
	at := r3.Vec{X: 4e-3, Z: 20e-3}
	c := grainCapture(t, family, at)
	model := check.Must(NewGrainModel(c, family, graded.QuasiLongitudinal, nil, nil))
	place := check.Must(model.At(at))
	in := &Inputs{
		Parameters: map[Parameter]Quantity{ProbePosition: {}, ElementSpacing: {}, ElementPositions: {}, TimeZero: {}},
		Grains:     map[string]Quantity{"T": {Uncertainty: 0.1}, "eta": {Uncertainty: 0.05}},
	}
	reading := &Reading{Place: place, SNRDB: math.Inf(1)}
	_, err := in.X(reading)
	check.Error(t, err, "no turn among the grains", "x")
	in.Grains["turn"] = Quantity{}
	in.Correlations = []Correlation{{"T", "eta", 0.9}}
	budget := check.Must(in.X(reading))
	a, b := 0.1*place.GrainShift("T").X, 0.05*place.GrainShift("eta").X
	check.Within(t, "uncertainty of x", budget.Uncertainty, math.Sqrt(a*a+b*b+2*0.9*a*b), 1e-12)
	if s := place.GrainShift("nothing"); !math.IsNaN(s.X) {
		t.Errorf("shift by an unknown parameter %v", s)
	}
	for _, row := range []struct {
		name, want string
		try        func() error
	}{
		{"no family", "no family", func() error { _, err := NewGrainModel(c, nil, 0, nil, nil); return err }},
		{"no capture", "without elements", func() error { _, err := NewGrainModel(nil, family, 0, nil, nil); return err }},
		{"pivot", "pivot", func() error {
			_, err := NewGrainModel(c, family, 0, nil, &Options{Pivot: r3.Vec{X: math.NaN()}})
			return err
		}},
		{"polarisation", "polarisation 7", func() error {
			m := check.Must(NewGrainModel(c, family, graded.QuasiLongitudinal, nil, nil))
			m.grains.pol = 7
			_, err := m.At(at)
			return err
		}},
	} {
		t.Run(row.name, func(t *testing.T) { check.Error(t, row.try(), row.want) })
	}
}
