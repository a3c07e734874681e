// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"errors"
	"maps"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

// The set-ups of the trials are invented. The uncertainties of their parameters are invented too,
// of the size that a careful calibration leaves.

const degree = math.Pi / 180

var (
	steel   = material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	acrylic = material.Isotropic{Density: 1180, Longitudinal: 2730, Transverse: 1430}
	water   = material.Isotropic{Density: 998, Longitudinal: 1483}
	like    = fmc.Array{Width: 0.5e-3, CentreFrequency: 4e6, Bandwidth: 0.6}
)

// errors are faults of the parameters, with the positions of the elements apart.
type faults struct {
	by       [parameters]float64
	elements []r3.Vec
}

// scenario is a set-up with the faults that its parameters may have.
type scenario struct {
	name, view string
	build      func(coupling, longitudinal, transverse, thickness float64) *wedge.Setup // errors, SI
	array      fmc.Array
	pivot      r3.Vec
	at, other  r3.Vec  // points
	half       float64 // of the picture, m
	first      float64 // time of sample 0, s
	last       float64 // time of the last sample, s
	// method is the root mean square, along x or z, of the error of places of points in captures
	// without errors and noise, as a share of the length of the spot. It was measured at 25 random
	// places around at. Linear interpolation of the samples causes it, and over a skip the change
	// of the phases of the amplitudes within the spot.
	method float64
	inputs Inputs
}

const step = 0.15e-3 // pixels of the trials, m

func scenarios() []scenario {
	flat := check.Must(fmc.LinearArray(16, 0.7e-3, like))
	plate := func(coupling *material.Isotropic) func(c, l, t, d float64) *wedge.Setup {
		return func(c, l, t, d float64) *wedge.Setup {
			if coupling == nil {
				return check.Must(wedge.NewPlate(nil, off(steel, l, t), 25e-3+d))
			}
			w := off(*coupling, c, 0)
			return check.Must(wedge.NewPlate(&w, off(steel, l, t), 25e-3+d))
		}
	}
	pivot := r3.Vec{X: -16e-3, Z: -6e-3}
	onWedge := check.Must(flat.Place(r3.NewRotation(36*degree, r3.Vec{Y: 1}), r3.Vec{X: -11e-3, Z: -11e-3}))
	over := check.Must(flat.Place(r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{Z: -10e-3}))
	common := map[Parameter]Quantity{
		LongitudinalSpeed: {Uncertainty: 25}, Thickness: Limits("", 0, 0.1e-3, Rectangular),
		ProbePosition:    Limits("", 0, 0.2e-3, Rectangular),
		ElementSpacing:   Limits("", 0, 0.003, Rectangular),
		ElementPositions: {Uncertainty: 0.015e-3},
		TimeZero:         {Uncertainty: 8e-9},
	}
	with := func(more map[Parameter]Quantity) Inputs {
		all := maps.Clone(common)
		maps.Copy(all, more)
		return Inputs{Parameters: all}
	}
	throughWedge := map[Parameter]Quantity{
		CouplingSpeed: {Uncertainty: 12}, TransverseSpeed: {Uncertainty: 12},
		WedgeAngle: Limits("", 0, 0.3*degree, Triangular), WedgeHeight: {Uncertainty: 0.08e-3},
	}
	return []scenario{
		{"contact", "L-L", plate(nil), flat, r3.Vec{}, r3.Vec{X: 3e-3, Z: 14e-3}, r3.Vec{X: 1e-3, Z: 20e-3}, 4.5e-3, 3.2e-6, 7.5e-6, 0.002, with(nil)},
		{"wedge", "T-T", plate(&acrylic), onWedge, pivot, r3.Vec{X: 14e-3, Z: 13e-3}, r3.Vec{X: 12e-3, Z: 8e-3}, 6e-3, 15e-6, 25e-6, 0.002, with(throughWedge)},
		{"pipe", "L-L", func(c, l, t, d float64) *wedge.Setup {
			w := off(water, c, 0)
			return check.Must(wedge.NewPipe(&w, off(steel, l, t), 57e-3, 14e-3+d))
		}, over, r3.Vec{Z: -10e-3}, r3.Vec{X: 1.5e-3, Z: 8e-3}, r3.Vec{X: -1e-3, Z: 12e-3}, 4e-3, 15e-6, 19.5e-6, 0.002, with(map[Parameter]Quantity{
			CouplingSpeed: {Uncertainty: 4}, WedgeHeight: {Uncertainty: 0.08e-3}, WedgeAngle: {Uncertainty: 0.1 * degree},
		})},
		{"half skip", "TT-T", plate(&acrylic), onWedge, pivot, r3.Vec{X: 19e-3, Z: 19e-3}, r3.Vec{X: 20e-3, Z: 14e-3}, 6e-3, 20e-6, 33e-6, 0.008, with(throughWedge)},
	}
}

// off returns a material whose speeds are off.
func off(m material.Isotropic, longitudinal, transverse float64) material.Isotropic {
	m.Longitudinal += longitudinal
	m.Transverse += transverse
	return m
}

// setup returns the set-up and the array with errors.
func (s *scenario) setup(e faults) (*wedge.Setup, fmc.Array) {
	setup := s.build(e.by[CouplingSpeed], e.by[LongitudinalSpeed], e.by[TransverseSpeed], e.by[Thickness])
	array := s.array
	array.Elements = slices.Clone(s.array.Elements)
	var middle r3.Vec
	for _, p := range array.Elements {
		middle = r3.Add(middle, r3.Scale(1/float64(len(array.Elements)), p))
	}
	for i, p := range array.Elements {
		p = r3.Add(p, r3.Scale(e.by[ElementSpacing], r3.Sub(p, middle)))
		if e.elements != nil {
			p = r3.Add(p, e.elements[i])
		}
		p = r3.Add(s.pivot, r3.Rotate(r3.Sub(p, s.pivot), e.by[WedgeAngle], r3.Vec{Y: 1}))
		array.Elements[i] = r3.Add(p, r3.Vec{X: e.by[ProbePosition], Z: -e.by[WedgeHeight]})
	}
	return setup, array
}

// capture returns the capture of points, taken with a set-up with errors, and described by the
// set-up without errors.
func (s *scenario) capture(t *testing.T, e faults, rate float64, points ...r3.Vec) *fmc.Capture {
	setup, array := s.setup(e)
	scene := &synth.Scene{Setup: *setup, Array: array, Views: []wedge.View{check.Must(wedge.ParseView(s.view))}}
	for _, p := range points {
		scene.Reflectors = append(scene.Reflectors, synth.Point{Position: p, Strength: 1e-3})
	}
	recording := synth.Recording{Samples: int((s.last - s.first) * rate), SampleRate: rate, FirstSample: s.first + e.by[TimeZero], Workers: 1}
	if s.view == "L-L" || s.view == "T-T" {
		recording.Pairs = fmc.HalfPairs(len(array.Elements))
	}
	c, err := synth.Synthesise(t.Context(), scene, recording)
	if err != nil {
		t.Fatal(err)
	}
	c.Array = s.array
	c.FirstSample = s.first
	return c
}

// plan returns the plan of images without errors, around a point.
func (s *scenario) plan(t *testing.T, c *fmc.Capture, at r3.Vec) *tfm.Plan {
	setup, _ := s.setup(faults{})
	g := check.Must(tfm.NewSection(at.X-s.half, at.X+s.half, at.Z-s.half, at.Z+s.half, step))
	return check.Must(tfm.PlanView(t.Context(), c, setup, s.view, g, &tfm.Options{Workers: 1}))
}

// TestShifts makes a capture with each parameter in error, images it without the error, and
// compares the shift of the peak with the derivative.
func TestShifts(t *testing.T) {
	for _, s := range scenarios() {
		t.Run(s.name, func(t *testing.T) {
			const rate = 100e6 // Hz: with fewer samples, their linear interpolation moves the peaks
			clean := s.capture(t, faults{}, rate, s.at)
			setup, _ := s.setup(faults{})
			model := check.Must(NewModel(clean, setup, s.view, &Options{Pivot: s.pivot}))
			place := check.Must(model.At(s.at))
			plan := s.plan(t, clean, s.at)
			peak := func(e faults) sizing.Indication {
				return check.Must(sizing.Find(check.Must(plan.Image(t.Context(), s.capture(t, e, rate, s.at))).Envelope(nil), &sizing.Options{Floor: -3}))[0]
			}
			before := peak(faults{})
			for _, q := range slices.Sorted(maps.Keys(s.inputs.Parameters)) {
				if q == ElementPositions {
					continue // independent errors: TestElementPositions
				}
				u := s.inputs.Parameters[q].Uncertainty
				var e faults
				e.by[q] = u
				after := peak(e)
				got := r3.Vec{X: (after.X - before.X) / u, Z: (after.Z - before.Z) / u}
				// The parameter of the image is too small by u.
				want := r3.Scale(-1, place.Shift(q))
				t.Logf("%v: (%.4g, %.4g), by derivatives (%.4g, %.4g)", q, got.X, got.Z, want.X, want.Z)
				tolerance := 0.06*r3.Norm(want) + 0.006*before.Length/u
				check.Within(t, q.String()+": shift along x", got.X, want.X, tolerance)
				check.Within(t, q.String()+": shift along z", got.Z, want.Z, tolerance)
			}
		})
	}
}

// TestClosedForms compares with rays straight down, of a small array far away.
func TestClosedForms(t *testing.T) {
	small := check.Must(fmc.LinearArray(8, 0.15e-3, fmc.Array{Width: 0.1e-3, CentreFrequency: 4e6, Bandwidth: 0.6}))
	const z, h = 60e-3, 20e-3
	raised := check.Must(small.Place(r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{Z: -h}))
	L, T, W := steel.Longitudinal, steel.Transverse, water.Longitudinal
	for _, c := range []struct {
		name, view string
		coupling   *material.Isotropic
		array      fmc.Array
		parameter  Parameter
		along      float64 // x if 0, z if 1
		want       float64
	}{
		{"depth c·t/2", "L-L", nil, small, LongitudinalSpeed, 1, z / L},
		{"a delay", "L-L", nil, small, TimeZero, 1, L / 2},
		{"the array moves the picture", "L-L", nil, small, ProbePosition, 0, 1},
		{"the picture does not move in depth", "L-L", nil, small, ProbePosition, 1, 0},
		{"no transverse wave", "L-L", nil, small, TransverseSpeed, 1, 0},
		{"no skip", "L-L", nil, small, Thickness, 1, 0},
		{"no wedge", "L-L", nil, small, WedgeHeight, 1, 0},
		{"no wedge to turn", "L-L", nil, small, WedgeAngle, 0, 0},
		{"twice the speeds of both modes", "L-T", nil, small, TimeZero, 1, 1 / (1/L + 1/T)},
		{"time in the part", "L-T", nil, small, LongitudinalSpeed, 1, z / (L * L) / (1/L + 1/T)},
		{"time in the part, transverse", "L-T", nil, small, TransverseSpeed, 1, z / (T * T) / (1/L + 1/T)},
		{"more water takes more time", "L-L", &water, raised, WedgeHeight, 1, -L / W},
		{"faster water takes less time", "L-L", &water, raised, CouplingSpeed, 1, h * L / (W * W)},
		{"the mirror image of the array moves by twice as much", "LL-LL", nil, small, Thickness, 1, 2},
	} {
		setup := check.Must(wedge.NewPlate(c.coupling, steel, 80e-3))
		capture := check.Must(fmc.New(fmc.Capture{Array: c.array, Pairs: fmc.FullPairs(8), Samples: 1, SampleRate: 50e6, Data: make([]float32, 64)}))
		model := check.Must(NewModel(capture, setup, c.view, &Options{Image: &quality.Options{Uniform: true}}))
		shift := check.Must(model.At(r3.Vec{Z: z})).Shift(c.parameter)
		got := shift.X + c.along*(shift.Z-shift.X)
		check.Within(t, c.name, got, c.want, 2e-3*math.Abs(c.want)+1e-9)
	}
}

// TestElementPositions compares the root of the sum of squares with shifts of single elements.
func TestElementPositions(t *testing.T) {
	for _, s := range scenarios()[:2] {
		const rate = 100e6
		clean := s.capture(t, faults{}, rate, s.at)
		setup, _ := s.setup(faults{})
		place := check.Must(check.Must(NewModel(clean, setup, s.view, nil)).At(s.at))
		plan := s.plan(t, clean, s.at)
		peak := func(e faults) sizing.Indication {
			return check.Must(sizing.Find(check.Must(plan.Image(t.Context(), s.capture(t, e, rate, s.at))).Envelope(nil), &sizing.Options{Floor: -3}))[0]
		}
		before := peak(faults{})
		const off = 0.1e-3
		for k, shift := range place.shifts[ElementPositions] {
			element, axis := k/2, k%2
			if element%5 != 0 || setup.Coupling == nil && axis == 1 {
				continue
			}
			e := faults{elements: make([]r3.Vec, len(s.array.Elements))}
			e.elements[element] = r3.Vec{X: off * float64(1-axis), Z: off * float64(axis)}
			after := peak(e)
			check.Within(t, "x", after.X-before.X, -shift.X*off, 0.1*off*r3.Norm(shift)+0.002*before.Length)
			check.Within(t, "z", after.Z-before.Z, -shift.Z*off, 0.1*off*r3.Norm(shift)+0.002*before.Length)
		}
		var xx, zz float64
		for _, shift := range place.shifts[ElementPositions] {
			xx, zz = xx+shift.X*shift.X, zz+shift.Z*shift.Z
		}
		check.Within(t, "root of the sum over x", place.Shift(ElementPositions).X, math.Sqrt(xx), 1e-12)
		check.Within(t, "root of the sum over z", place.Shift(ElementPositions).Z, math.Sqrt(zz), 1e-12)
	}
}

// TestReadings checks what readings add to budgets, and errors that cancel.
func TestReadings(t *testing.T) {
	s := scenarios()[1]
	setup, _ := s.setup(faults{})
	clean := s.capture(t, faults{}, trialRate, s.at)
	model := check.Must(NewModel(clean, setup, s.view, &Options{Pivot: s.pivot}))
	a := &Reading{Place: check.Must(model.At(s.at)), SNRDB: 20, Grid: 0.3e-3, Method: 0.4e-3}
	b := &Reading{Place: check.Must(model.At(s.other)), SNRDB: math.Inf(1)}
	amounts := func(budget *Budget) map[string]float64 {
		m := make(map[string]float64)
		for _, c := range budget.Contributions {
			m[c.Name] = c.Amount()
		}
		return m
	}
	xx, _, zz := a.Place.peak.Scatter(20)
	x, z := amounts(check.Must(s.inputs.X(a))), amounts(check.Must(s.inputs.Z(a)))
	check.Within(t, "noise along x", x["noise"], math.Sqrt(xx), 1e-12)
	check.Within(t, "noise along z", z["noise"], math.Sqrt(zz), 1e-12)
	check.Within(t, "grid", x["grid"], 0.3e-3/math.Sqrt(3), 1e-12)
	check.Within(t, "method", z["method"], 0.4e-3, 1e-9)

	length := amounts(check.Must(s.inputs.Length(a, b)))
	if length["noise 2"] != 0 || length["method 2"] != 0 || length["grid 2"] != 0 {
		t.Errorf("a reading without noise, grid and method adds %v", length)
	}
	check.Within(t, "method of one end", length["method 1"], 0.4e-3, 1e-9)
	if length["probe position"] != 0 {
		t.Errorf("a shift of the array changes a length by %v m", length["probe position"])
	}
	for _, name := range []string{"wedge height", "coupling speed", "time zero", "wedge angle"} {
		if !(length[name] < 0.2*math.Hypot(x[name], z[name])) {
			t.Errorf("%s: %v m of a length, %v m of x, %v m of z: want it to cancel mostly", name, length[name], x[name], z[name])
		}
	}
	// The order of the ends has no effect.
	check.Within(t, "tilt", check.Must(s.inputs.Tilt(a, b)).Value, check.Must(s.inputs.Tilt(b, a)).Value, 0)
	d := r3.Sub(s.at, s.other)
	check.Within(t, "tilt by hand", check.Must(s.inputs.Tilt(a, b)).Value, math.Atan(-d.X/d.Z), 1e-15)

	// The thickness moves the far surface, not the reading.
	wall := check.Must(sizing.NewWall(setup.Entry, setup.Back))
	remaining := check.Must(s.inputs.Remaining(wall, a))
	check.Within(t, "remaining", remaining.Value, 25e-3-s.at.Z, 1e-12)
	check.Within(t, "thickness", amounts(remaining)["thickness"], 0.1e-3/math.Sqrt(3), 1e-12)
	if got := z["thickness"]; got != 0 {
		t.Errorf("thickness adds %v m to z without a skip", got)
	}

	// A correlation of two speeds counts.
	correlated := s.inputs
	correlated.Correlations = []Correlation{{CouplingSpeed.String(), TransverseSpeed.String(), 0.9}}
	one, two := check.Must(s.inputs.X(a)), check.Must(correlated.X(a))
	var product float64 = 2 * 0.9
	for _, c := range one.Contributions {
		if c.Name == CouplingSpeed.String() || c.Name == TransverseSpeed.String() {
			product *= c.Sensitivity * c.Uncertainty
		}
	}
	check.Within(t, "variance with a correlation", two.Uncertainty*two.Uncertainty, one.Uncertainty*one.Uncertainty+product, 1e-15)
}

// TestOnWall checks places on the back wall of a plate and of a pipe, over a skip: the derivatives
// agree with the derivatives 20 µm farther from the wall.
func TestOnWall(t *testing.T) {
	all := scenarios()
	for _, c := range []struct {
		s    scenario
		view string
		on   r3.Vec
	}{
		{all[1], "TT-T", r3.Vec{X: 18e-3, Z: 25e-3}},
		{all[2], "LL-L", r3.Vec{X: 3e-3, Z: 57e-3 - math.Sqrt(43*43-3*3)*1e-3}},
	} {
		setup, _ := c.s.setup(faults{})
		model := check.Must(NewModel(c.s.capture(t, faults{}, trialRate, c.s.at), setup, c.view, nil))
		u, v := setup.Back.Locate(c.on)
		at := check.Must(model.At(c.on))
		near := check.Must(model.At(r3.Sub(c.on, r3.Scale(30e-6, setup.Back.At(u, v).Normal()))))
		for q := range Parameter(parameters) {
			a, b := at.Shift(q), near.Shift(q)
			check.Within(t, c.s.name+": "+q.String(), r3.Norm(r3.Sub(a, b)), 0, 0.05*r3.Norm(b))
		}
		if at.At != c.on {
			t.Errorf("place %v: want %v", at.At, c.on)
		}
	}
}

// TestModelErrors checks that bad input is named.
func TestModelErrors(t *testing.T) {
	s := scenarios()[0]
	setup, _ := s.setup(faults{})
	c := s.capture(t, faults{}, trialRate, s.at)
	_, err := NewModel(c, setup, "L-X", nil)
	check.Error(t, err, "X")
	_, err = NewModel(c, nil, "L-L", nil)
	check.Error(t, err, "set-up")
	_, err = NewModel(c, setup, "L-L", &Options{Pivot: r3.Vec{Y: math.NaN()}})
	check.Error(t, err, "pivot", "finite")
	waves := *c
	waves.Events = []fmc.Event{{Delays: make([]float64, 16), Weights: slices.Repeat([]float64{1}, 16)}}
	waves.Pairs, waves.Data = fmc.EventPairs(1, 16), waves.Data[:16*c.Samples]
	_, err = NewModel(&waves, setup, "L-L", nil)
	check.Error(t, err, "capture of events")
	model := check.Must(NewModel(c, setup, "L-L", nil))
	for _, find := range []func(r3.Vec) (*Place, error){model.At, model.Reflector} {
		_, err = find(r3.Vec{X: math.Inf(1)})
		check.Error(t, err, "place", "finite")
		_, err = find(r3.Vec{Z: -1e-3})
		if !errors.Is(err, wedge.ErrNoRay) {
			t.Errorf("place above the part: error %v, want ErrNoRay", err)
		}
	}
	one := *c
	one.Pairs, one.Data = []fmc.Pair{{Tx: 3, Rx: 3}}, c.Data[:c.Samples]
	_, err = check.Must(NewModel(&one, setup, "L-L", nil)).At(s.at)
	check.Error(t, err, "no peak")

	place := check.Must(model.At(s.at))
	if v := place.Shift(Parameter(parameters)); !math.IsNaN(v.X) || !math.IsNaN(v.Z) {
		t.Errorf("shift by an unknown parameter: %v", v)
	}
	good := &Reading{Place: place, SNRDB: 20}
	for _, c := range []struct {
		r     *Reading
		words string
	}{
		{&Reading{SNRDB: 20}, "without a place"},
		{nil, "without a place"},
		{&Reading{Place: place}, "ratio of a reading 0 dB"},
		{&Reading{Place: place, SNRDB: math.NaN()}, "ratio of a reading NaN dB"},
		{&Reading{Place: place, SNRDB: 20, Grid: -1}, "grid of a reading -1 m"},
		{&Reading{Place: place, SNRDB: 20, Grid: math.Inf(1)}, "grid of a reading +Inf m"},
		{&Reading{Place: place, SNRDB: 20, Method: -1}, "method of a reading -1 m"},
		{&Reading{Place: place, SNRDB: 20, Method: math.NaN()}, "method of a reading NaN m"},
	} {
		_, err := s.inputs.X(c.r)
		check.Error(t, err, c.words)
		_, err = s.inputs.Tilt(c.r, good)
		check.Error(t, err, c.words)
	}
	_, err = s.inputs.Of("y", "", func([]r3.Vec) float64 { return 0 })
	check.Error(t, err, "y of no readings")
	_, err = s.inputs.Of("y", "", func([]r3.Vec) float64 { return math.NaN() }, good)
	check.Error(t, err, "y is NaN")
	_, err = (&Inputs{}).Z(good)
	check.Error(t, err, "no longitudinal speed among the parameters", "z")
	for q := range s.inputs.Parameters {
		short := Inputs{Parameters: maps.Clone(s.inputs.Parameters)}
		delete(short.Parameters, q)
		if _, err := short.Z(good); (err == nil) != (q == Thickness || q == ProbePosition) {
			t.Errorf("without the %v: error %v", q, err)
		}
	}
	unknown := Inputs{Parameters: maps.Clone(s.inputs.Parameters)}
	unknown.Parameters[99] = Quantity{}
	_, err = unknown.Z(good)
	check.Error(t, err, "unknown parameter", "99", "coupling speed")
	wrong := Inputs{Parameters: maps.Clone(s.inputs.Parameters)}
	wrong.Parameters[TimeZero] = Quantity{Uncertainty: -1}
	_, err = wrong.Z(good)
	check.Error(t, err, "standard uncertainty of time zero -1")
}
