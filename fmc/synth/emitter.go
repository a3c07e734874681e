// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// emitter follows waves from the elements of a scene along one path.
type emitter struct {
	path        *wedge.Path
	amplitudes  *wedge.Amplitudes // of elements without width, and without losses
	legs        []wedge.Leg
	losses      []material.Attenuation // of each leg
	axis        r3.Vec                 // of an element, along its width
	side        r3.Vec                 // along its length
	width       float64
	length      float64
	frequencies []float64
	// contact is where a path that returns may cross the entry surface; nil for
	// anywhere, and for other paths, which know themselves.
	contact *wedge.Interval
}

// beam is a wave that comes from an element along a ray, or goes back there.
type beam struct {
	exists    bool
	time      float64
	departure r3.Vec // polarisation at the element
	arrival   Wave   // at the end
	// spectrum is the displacement at the end at each frequency, without the phase
	// of travel.
	spectrum []complex128
	// directivity is what the element itself contributes to spectrum.
	directivity []complex128
}

// orientation returns normal and axis of the elements.
func (s *Scene) orientation() (normal, axis r3.Vec) {
	normal, axis = s.Normal, s.Axis
	if axis == (r3.Vec{}) {
		axis = r3.Vec{X: 1}
		if e := s.Array.Elements; len(e) > 1 {
			axis = r3.Sub(e[1], e[0])
		}
	}
	if normal == (r3.Vec{}) {
		normal = r3.Cross(axis, r3.Vec{Y: 1})
		if normal.Z < 0 {
			normal = r3.Scale(-1, normal)
		}
	}
	return normal, axis
}

// newEmitter returns the emitter along a path through the given media. The first
// leg lies in the coupling, if there is one; the last one, too, if the path
// returns to the array.
func newEmitter(s *Scene, p *wedge.Path, acoustics wedge.Acoustics, returns bool, frequencies []float64) (*emitter, error) {
	normal, axis := s.orientation()
	acoustics.Dimension = s.Dimension
	acoustics.Frequency = s.Array.CentreFrequency // of no effect without width and losses
	acoustics.Source = &wedge.Source{Normal: normal, Axis: axis}
	amplitudes, err := wedge.NewAmplitudes(p, acoustics)
	if err != nil {
		return nil, fmt.Errorf("synth: %w", err)
	}
	e := &emitter{
		path: p, amplitudes: amplitudes, legs: p.Legs(),
		axis: r3.Unit(axis), side: r3.Unit(r3.Cross(normal, axis)),
		width: s.Array.Width, length: s.Length, frequencies: frequencies,
	}
	if s.Dimension == wedge.Section {
		e.length = 0
	}
	if returns {
		e.contact = s.Setup.Contact
	}
	for k, leg := range e.legs {
		law := s.Losses.Longitudinal
		switch {
		case s.Setup.Coupling != nil && (k == 0 || returns && k == len(e.legs)-1):
			law = s.Losses.Coupling
		case leg.Mode == material.T:
			law = s.Losses.Transverse
		}
		e.losses = append(e.losses, law)
	}
	return e, nil
}

// to returns the beam from one point to another. One that does not exist, and
// one whose end lies on a caustic, where ray theory has no amplitude, brings
// no echo.
func (e *emitter) to(from, to r3.Vec) (beam, error) {
	ray := e.path.Solve(from, to)
	if ray.Status != wedge.OK || !e.touches(&ray) {
		return beam{}, nil
	}
	a, err := e.amplitudes.Along(&ray)
	if err != nil {
		return beam{}, fmt.Errorf("synth: %w", err)
	}
	if math.IsInf(a.Spreading, 0) {
		return beam{}, nil
	}
	last := len(e.legs) - 1
	b := beam{exists: true, time: a.Time, departure: a.Departure}
	b.arrival = Wave{Mode: e.legs[last].Mode, Direction: ray.Direction(last), Polarisation: a.Arrival}
	lengths := make([]float64, len(e.legs))
	for k, leg := range e.legs {
		lengths[k] = r3.Norm(r3.Sub(ray.Points[k+1], ray.Points[k]))
		b.arrival.Radius += leg.Speed / e.legs[last].Speed * lengths[k]
	}
	b.spectrum = make([]complex128, len(e.frequencies))
	b.directivity = make([]complex128, len(e.frequencies))
	slowness := r3.Scale(1/e.legs[0].Speed, ray.Direction(0))
	u, v := e.width*r3.Dot(slowness, e.axis), e.length*r3.Dot(slowness, e.side)
	path := a.Value() / nonzero(a.Directivity)
	for k, f := range e.frequencies {
		b.directivity[k] = a.Directivity * complex(sinc(u*f)*sinc(v*f), 0)
		b.spectrum[k] = b.directivity[k] * path * complex(e.left(f, lengths), 0)
	}
	return b, nil
}

// touches reports whether a ray crosses the entry surface within the contact.
func (e *emitter) touches(r *wedge.Ray) bool {
	if e.contact == nil {
		return true
	}
	within := func(x float64) bool { return x >= e.contact.Min && x <= e.contact.Max }
	return within(r.Points[1].X) && within(r.Points[len(r.Points)-2].X)
}

// nonzero returns z, or 1 where z is 0 and the beam vanishes whatever it is
// divided by.
func nonzero(z complex128) complex128 {
	if z == 0 {
		return 1
	}
	return z
}

// left returns the share of the amplitude that the losses leave.
func (e *emitter) left(frequency float64, lengths []float64) float64 {
	nepers := 0.0
	for k, law := range e.losses {
		if law != nil {
			nepers += law.Nepers(frequency) * lengths[k]
		}
	}
	if nepers == 0 {
		return 1
	}
	return math.Exp(-nepers)
}

// sinc returns sin(πu)/(πu).
func sinc(u float64) float64 {
	x := math.Pi * u
	if math.Abs(x) < 1e-4 {
		return 1 - x*x/6
	}
	return math.Sin(x) / x
}
