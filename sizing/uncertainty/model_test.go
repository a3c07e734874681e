// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
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
	"github.com/isochron-imaging/isochron/wedge"
)

// The set-ups of the trials are invented. The uncertainties of their parameters are invented too, of
// the size that a careful calibration leaves.

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
	// places around at. Linear interpolation of the samples causes it, and over a skip the change of
	// the phases of the amplitudes within the spot.
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

// TestShifts makes a capture with each parameter in error, images it without the error, and compares
// the shift of the peak with the derivative.
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
