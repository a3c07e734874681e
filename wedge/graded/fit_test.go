// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"
	"gonum.org/v1/gonum/stat/distuv"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// fullWave returns the times that were read from a full-wave computation, by point and by element:
// see testdata/README.md.
func fullWave(t testing.TB) [][]TimeReading {
	t.Helper()
	var file struct {
		Elements []float64    `json:"elements_x_m"`
		Points   [][2]float64 `json:"points_m"`
		Times    [][]*float64 `json:"times_s"`
	}
	check.Must(0, json.Unmarshal(check.Must(os.ReadFile("../../testdata/austenitic/grain32_times.json")), &file))
	out := make([][]TimeReading, len(file.Points))
	for i, q := range file.Points {
		for e, x := range file.Elements {
			if time := file.Times[e][i]; time != nil {
				out[i] = append(out[i], TimeReading{Element: r3.Vec{X: x}, Point: r3.Vec{X: q[0], Z: q[1]}, Time: *time})
			}
		}
	}
	return out
}

// grain32 returns the weld of testdata/austenitic/grain32_times.json, of which T, η and a factor
// of all speeds in the weld are unknown. Its true values are 1.
func grain32(t testing.TB, law, eta, factor float64) *Family {
	t.Helper()
	edge := joint.Edge{Upper: joint.Bevel{Angle: math.Pi / 6}}
	weld := check.Must(joint.Butt{Thickness: 30e-3, Gap: 6e-3, Left: edge, Right: edge}.Joint())
	metal := material.TransverselyIsotropic{C11: 262.75e9, C12: 98.25e9, C13: 145e9, C33: 216e9, C44: 129e9}
	curves := check.Must(NewSlownessCurves(material.Anisotropic{Density: 8120, Stiffness: metal.Stiffness()}))
	return check.Must(NewFamily([]Parameter{{"T", law, 0.4, 2.5}, {"eta", eta, 0.6, 1.6}, {"factor of speeds", factor, 0.9, 1.1}},
		func(v []float64) (*Part, error) {
			grains, err := NewGrainLaw(weld, v[0], v[1])
			if err != nil {
				return nil, err
			}
			if grains, err = NewAdjusted(grains, 0, v[2]); err != nil {
				return nil, err
			}
			return NewWeld(nil, parent, curves, grains, weld)
		}))
}

// fullWaveHalves returns readings of one half of the points, and of the other half. The weld and
// the elements are symmetric: times to points at −x are the same times again, and left out.
func fullWaveHalves(t *testing.T, half int) (fitted, held []TimeReading) {
	for i, readings := range fullWave(t) {
		switch {
		case readings[0].Point.X < 0:
		case i%2 == half:
			fitted = append(fitted, readings...)
		default:
			held = append(held, readings...)
		}
	}
	return fitted, held
}

// checkFullWave fits T, η and the factor of speeds to half of the times of a full-wave
// computation, which knows nothing of rays. The fit starts up to 20 % off. The intervals of 95 %
// must hold the truth, and the times to the other half of the points must agree better than at the
// start.
func checkFullWave(t *testing.T, half int) {
	fitted, held := fullWaveHalves(t, half)
	start := grain32(t, 0.8, 1.2, 0.99)
	fit := check.Must(start.Fit(t.Context(), qL, fitted, &FitOptions{Offset: 10e-9, Rays: &Options{Spacing: 1e-3}}))
	k := distuv.StudentsT{Sigma: 1, Nu: float64(fit.DegreesOfFreedom)}.Quantile(0.975)
	for _, e := range fit.Estimates {
		t.Logf("%s %.4f ± %.4f", e.Name, e.Value, k*e.Uncertainty)
		if !e.Determined || !(math.Abs(e.Value-1) <= k*e.Uncertainty) {
			t.Errorf("%+v, want 1 within %v times the uncertainty", e, k)
		}
	}
	before, after := medianError(t, start, held), medianError(t, fit.Family, held)
	t.Logf("offset %.1f ns, scatter %.1f ns, %d degrees of freedom; other half: median error %.1f ns at the start, %.1f ns fitted",
		fit.Offset*1e9, fit.Scatter*1e9, fit.DegreesOfFreedom, before*1e9, after*1e9)
	if !(after <= 8e-9) || !(before >= 2*after) {
		t.Errorf("median error of the other half %v s before, %v s after the fit", before, after)
	}
}

// medianError returns the median of the errors of readings of direct rays in s.
func medianError(t *testing.T, f *Family, readings []TimeReading) float64 {
	p := &problem{pol: qL, readings: readings, options: &FitOptions{Outliers: math.Inf(1)}, start: f}
	s := check.Must(p.evaluate(t.Context(), f, 0))
	for i, r := range s.residuals {
		s.residuals[i] = math.Abs(r)
	}
	slices.Sort(s.residuals)
	return s.residuals[len(s.residuals)/2]
}

func TestFitFullWave(t *testing.T) {
	if !long {
		t.Skip("some thousand rays")
	}
	checkFullWave(t, 0)
}

// plateFamily is a plate of isotropic metal that depends on its speed, on a factor of all speeds,
// and on its thickness. The speed and the factor have the same effect.
func plateFamily(t testing.TB, speed, factor, thickness float64) *Family {
	t.Helper()
	return check.Must(NewFamily([]Parameter{{"speed", speed, 5500, 6300}, {"factor", factor, 0.9, 1.1}, {"thickness", thickness, 18e-3, 22e-3}},
		func(v []float64) (*Part, error) {
			m, err := NewIsotropic(material.Isotropic{Density: 7800, Longitudinal: v[0] * v[1], Transverse: 3000})
			return &Part{Entry: plane(0), Back: plane(v[2]), Media: []Medium{m}}, err
		}))
}

// plateReadings returns times of straight rays at 5900 m/s from elements to points, and echoes of
// these points at other elements, with normal noise.
func plateReadings(random *rand.Rand, noise float64) []TimeReading {
	var out []TimeReading
	for i := range 8 {
		element, receiver := mm(float64(3*i), 0), mm(float64(25-2*i), 0)
		for k := range 8 {
			point := mm(float64(2*k), float64(5+k))
			there := distance(element, point)
			out = append(out,
				TimeReading{Element: element, Point: point, Time: there/5900 + noise*random.NormFloat64()},
				TimeReading{Element: element, Point: point, Receiver: &receiver,
					Time: (there+distance(receiver, point))/5900 + noise*random.NormFloat64()})
		}
	}
	return out
}

// TestFitTellsWhatItCannotTell checks that a parameter that the readings do not determine has no
// finite uncertainty.
func TestFitTellsWhatItCannotTell(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	readings := plateReadings(random, 2e-9)
	fit := check.Must(plateFamily(t, 5800, 1.01, 19e-3).Fit(t.Context(), qL, readings, &FitOptions{Rays: &Options{Spacing: 2e-3}}))
	for k, e := range fit.Estimates {
		if e.Determined || !math.IsInf(e.Uncertainty, 1) {
			t.Errorf("%+v, want it not determined", e)
		}
		if !math.IsNaN(fit.Correlation[k][k]) {
			t.Errorf("%s has correlations", e.Name)
		}
	}
	// The product of speed and factor is determined, and nothing else.
	best := fit.Combinations[0]
	if !best.Determined || !(best.Uncertainty < 0.01) || fit.Combinations[1].Determined || !math.IsInf(fit.Combinations[2].Uncertainty, 1) {
		t.Errorf("combinations %+v", fit.Combinations)
	}
	// d(speed·factor) = factor d(speed) + speed d(factor), with ranges of 800 m/s and 0.2.
	check.Within(t, "weight of the factor over weight of the speed", best.Weights[1]/best.Weights[0], 5900*0.2/800, 0.05)
	v := fit.Family.Values()
	check.Within(t, "product of speed and factor", v[0]*v[1], 5900, 3)
	check.Within(t, "thickness of the start", v[2], 19e-3, 1e-9)
	if fit.Determined() {
		t.Error("the fit says that all parameters are determined")
	}

	// Grains without anisotropy: T has no effect.
	steel := material.TransverselyIsotropic{C11: 264.8e9, C12: 113e9, C13: 113e9, C33: 264.8e9, C44: 75.9e9}
	curves := check.Must(NewSlownessCurves(material.Anisotropic{Density: 7900, Stiffness: steel.Stiffness()}))
	same := check.Must(NewFamily([]Parameter{{"T", 0.8, 0.4, 2.5}}, func(v []float64) (*Part, error) {
		return NewWeld(nil, parent, curves, check.Must(NewGrainLaw(veeWeld, v[0], 1)), veeWeld)
	}))
	few := []TimeReading{{Element: mm(-20, 0), Point: mm(5, 20), Time: 5.5e-6}, {Element: mm(-10, 0), Point: mm(5, 20), Time: 4.4e-6},
		{Element: mm(-5, 0), Point: mm(2, 15), Time: 2.9e-6}}
	fit = check.Must(same.Fit(t.Context(), qL, few, &FitOptions{Rays: &Options{Spacing: 2e-3}}))
	if e := fit.Estimates[0]; e.Determined || !math.IsInf(e.Uncertainty, 1) || math.Abs(e.Value-0.8) > 1e-3 {
		t.Errorf("isotropic weld: %+v, want T not determined", e)
	}
}

// TestFitOfEchoes fits speed and thickness of a plate to echoes of its back wall and of known
// points, with other waves among them, and with an error that all times have in common. The times
// are closed forms.
func TestFitOfEchoes(t *testing.T) {
	if !long {
		t.Skip("runs with the build tag long")
	}
	random := rand.New(rand.NewPCG(5, 6))
	readings := plateReadings(random, 2e-9)
	for i := range 4 {
		for k := range 6 {
			from, to := mm(float64(3*i), 0), mm(float64(3*i+3*k+1), 0)
			readings = append(readings, TimeReading{Element: from, Point: to, Skips: []Polarisation{qL},
				Time: math.Hypot(to.X-from.X, 2*20e-3)/5900 + 2e-9*random.NormFloat64()})
		}
	}
	wrong := []int{3, 40, 77, 130}
	for i := range readings {
		readings[i].Time += 30e-9
		if slices.Contains(wrong, i) {
			readings[i].Time += 400e-9
		}
	}
	readings = append(readings, TimeReading{Element: mm(0, 0), Point: mm(0, 30), Time: 5e-6}) // below the plate
	two := plateFamily(t, 5700, 1, 19e-3)
	two = check.Must(NewFamily([]Parameter{two.parameters[0], two.parameters[2]}, func(v []float64) (*Part, error) {
		return plateFamily(t, 5900, 1, 20e-3).build([]float64{v[0], 1, v[1]})
	}))
	fit := check.Must(two.Fit(t.Context(), qL, readings, &FitOptions{Uncertainty: 2e-9, Offset: 50e-9, Rays: &Options{Spacing: 2e-3}}))
	for k, want := range []float64{5900, 20e-3} {
		e := fit.Estimates[k]
		t.Logf("%s %.6g ± %.2g", e.Name, e.Value, e.Uncertainty)
		if !e.Determined || !(math.Abs(e.Value-want) <= 3*e.Uncertainty) || !(e.Uncertainty < 1e-3*want) {
			t.Errorf("%+v, want %v", e, want)
		}
	}
	check.Within(t, "offset", fit.Offset, 30e-9, 2e-9)
	check.Within(t, "scatter", fit.Scatter, 2e-9, 0.4e-9)
	if !(fit.Probability > 0.01 && fit.Probability < 0.999) {
		t.Errorf("probability of the residuals %v", fit.Probability)
	}
	for _, i := range wrong {
		if fit.Used[i] {
			t.Errorf("the fit uses reading %d, which is 400 ns late", i)
		}
		check.Within(t, "residual of a late reading", fit.Residuals[i], 400e-9, 10e-9)
	}
	if last := len(readings) - 1; fit.Used[last] || !math.IsNaN(fit.Residuals[last]) {
		t.Errorf("reading without ray: used %v, residual %v", fit.Used[last], fit.Residuals[last])
	}
	// Speeds that differ from point to point do not fit one speed.
	for i := range readings {
		readings[i].Time += 20e-9 * math.Sin(float64(i))
	}
	fit = check.Must(two.Fit(t.Context(), qL, readings, &FitOptions{Uncertainty: 2e-9, Offset: 50e-9, Outliers: 20, Rays: &Options{Spacing: 2e-3}}))
	if !(fit.Probability < 1e-6) {
		t.Errorf("probability of residuals of 14 ns %v, where 2 ns are stated", fit.Probability)
	}
}

// TestFitRefuses checks that errors name the faulty value.
func TestFitRefuses(t *testing.T) {
	f := plateFamily(t, 5800, 1, 20e-3)
	good := plateReadings(rand.New(rand.NewPCG(1, 2)), 0)
	for _, row := range []struct {
		name, want string
		readings   []TimeReading
		options    *FitOptions
	}{
		{"few readings", "3 parameters to 3 readings", good[:3], nil},
		{"no readings", "0 readings", nil, nil},
		{"time", "time of reading 0 NaN", []TimeReading{{Time: math.NaN()}}, nil},
		{"uncertainty", "uncertainty of the times -1", good, &FitOptions{Uncertainty: -1}},
		{"offset", "uncertainty of the offset +Inf", good, &FitOptions{Offset: math.Inf(1)}},
		{"outliers", "outliers beyond 1", good, &FitOptions{Outliers: 1}},
		{"element below the surface", "element 0", []TimeReading{{Element: mm(0, 5), Point: mm(0, 9)}}, nil},
	} {
		t.Run(row.name, func(t *testing.T) {
			_, err := f.Fit(t.Context(), qL, row.readings, row.options)
			check.Error(t, err, row.want)
		})
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := f.Fit(ctx, qL, good, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v of a context that has ended", err)
	}
}
