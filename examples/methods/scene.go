// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/adapt"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// scene is a capture that is imaged in one view.
type scene struct {
	record       *npy.Record
	view         wedge.View
	setup, found *wedge.Setup // as recorded; through the surface that the capture shows, nil in contact and on wedges
	wavelength   float64      // m, in the part
	clean, noise frame
	methods      []string
}

// frame is a full matrix, and plane waves that are made from it.
type frame struct{ matrix, waves *fmc.Capture }

// weights are the coherences that weight images.
var weights = []tfm.Coherence{tfm.CoherenceFactor, tfm.SignCoherence, tfm.PhaseCoherence,
	tfm.AuxiliaryPhaseCoherence, tfm.VectorCoherence, tfm.CircularCoherence}

// weighted is the number of the first weighted method.
const weighted = 2

// newScene reads a capture and makes plane waves and noise.
func newScene(ctx context.Context, name, view string) (*scene, error) {
	record, err := npy.ReadFile(name, nil)
	if err != nil {
		return nil, err
	}
	parsed, err := wedge.ParseView(view)
	if err != nil {
		return nil, err
	}
	s := &scene{record: record, view: parsed, methods: []string{"plain", "sensitivity corrected"}}
	for _, c := range weights {
		s.methods = append(s.methods, "× "+c.String())
	}
	s.methods = append(s.methods, "plane waves")
	if s.setup, err = record.Geometry(); err != nil {
		return nil, err
	}
	if record.Coupling != nil && record.Coupling.Transverse == 0 { // a liquid
		speed := calibrate.Estimate{Value: record.Coupling.Longitudinal, Uncertainty: 1} // m/s
		surface, err := adapt.FindSurface(record.Capture, speed, nil)
		if err != nil {
			return nil, err
		}
		if s.found, err = surface.Setup(*s.setup); err != nil {
			return nil, err
		}
		s.methods = append(s.methods, "plain, found surface")
	}
	speed := record.Part.Longitudinal
	if parsed.Transmit[0] == material.T {
		speed = record.Part.Transverse
	}
	s.wavelength = speed / record.Capture.Array.CentreFrequency
	events, err := s.planeWaves(speed)
	if err != nil {
		return nil, err
	}
	waves, err := transmit.Encode(ctx, record.Capture, events, nil)
	if err != nil {
		return nil, err
	}
	s.clean = frame{record.Capture, waves}
	r := rand.New(rand.NewPCG(1, 2))
	s.noise = frame{white(r, record.Capture), white(r, waves)}
	return s, nil
}

// planeWaves returns as many plane waves as elements, over the angles at which the array sees the
// part.
func (s *scene) planeWaves(part float64) ([]fmc.Event, error) {
	const degree = math.Pi / 180
	array := s.record.Capture.Array
	fan := transmit.Fan{From: -55 * degree, To: 55 * degree, Count: len(array.Elements)}
	coupling := part
	switch {
	case s.found != nil: // angles in the liquid, because the surface is not level
		coupling = s.record.Coupling.Longitudinal
		part, fan.From, fan.To = coupling, -20*degree, 20*degree
	case s.record.Coupling != nil:
		coupling = s.record.Coupling.Longitudinal
		fan.From, fan.To = 30*degree, 80*degree
	}
	directions, err := fan.Directions(part, coupling)
	if err != nil {
		return nil, err
	}
	return transmit.PlaneWaves(array, coupling, directions)
}

// white returns noise of the standard deviation 1 in the traces of captures like c.
func white(r *rand.Rand, c *fmc.Capture) *fmc.Capture {
	out := *c
	out.Data = make([]float32, len(c.Data))
	for i := range out.Data {
		out.Data[i] = float32(r.NormFloat64())
	}
	return &out
}

// noisy returns the full matrix with noise of a standard deviation.
func (s *scene) noisy(deviation float64) *fmc.Capture {
	out := *s.clean.matrix
	out.Data = make([]float32, len(out.Data))
	for i, v := range s.clean.matrix.Data {
		out.Data[i] = v + float32(float32(deviation)*s.noise.matrix.Data[i])
	}
	return &out
}

// segment is a line from one point to another, or one point. Echoes of a reflector come from it.
type segment struct {
	name     string
	from, to r3.Vec
}

// distance returns the distance of a point from the segment in m.
func (s segment) distance(p r3.Vec) float64 {
	along, from := r3.Sub(s.to, s.from), r3.Sub(p, s.from)
	if length := r3.Norm2(along); length > 0 {
		from = r3.Sub(from, r3.Scale(min(1, max(0, r3.Dot(from, along)/length)), along))
	}
	return r3.Norm(from)
}

// places returns where the echoes of the known reflectors come from.
func (s *scene) places() ([]segment, error) {
	path, _, err := s.setup.Paths(s.view)
	if err != nil {
		return nil, err
	}
	elements := s.record.Capture.Array.Elements
	middle := r3.Scale(0.5, r3.Add(elements[0], elements[len(elements)-1]))
	var at []segment
	for i, h := range s.record.Truth.Holes {
		centre := r3.Vec{X: h.X, Z: h.Z}
		ray := path.Solve(middle, centre)
		if err := ray.Status.Err(); err != nil {
			return nil, err
		}
		face := r3.Sub(centre, r3.Scale(h.Diameter/2, ray.Direction(len(ray.Points)-2)))
		at = append(at, segment{fmt.Sprint("hole ", i+1), face, face})
	}
	for _, l := range s.record.Truth.Slits {
		upper, lower := r3.Vec{X: l.X0, Z: l.Z0}, r3.Vec{X: l.X1, Z: l.Z1}
		if upper.Z > lower.Z {
			upper, lower = lower, upper
		}
		open, name := lower.Z >= s.record.Thickness, "slit" // open to the far surface
		if open {
			name = "notch"
		}
		switch {
		case s.setup.Coupling != nil && open != s.view.Symmetric(): // notches by way of the wall, slits directly
			at = append(at, segment{name, upper, lower})
		case s.setup.Coupling != nil:
		case s.setup.Coupling == nil && open:
			at = append(at, segment{"notch tip", upper, upper})
		case s.setup.Coupling == nil:
			at = append(at, segment{"upper tip", upper, upper}, segment{"lower tip", lower, lower})
		}
	}
	return at, nil
}
