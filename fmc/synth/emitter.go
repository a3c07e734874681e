// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// emitter follows waves from the elements of a scene along one path.
type emitter struct {
	path        *wedge.Path
	amplitudes  *wedge.Amplitudes // of elements without width, and without losses
	legs        []wedge.Leg
	losses      []material.Attenuation // of each leg
	axis        r3.Vec                 // unit vector along the width of an element
	side        r3.Vec                 // unit vector along the length of an element
	width       float64                // m
	length      float64                // m
	frequencies []float64              // Hz
	// contact is the range of the entry surface through which a path that returns to the array may
	// pass. nil stands for the whole surface. Other paths check their contact themselves.
	contact *wedge.Interval
}

// beam is a wave from an element along a ray. By reciprocity it also describes the wave back to the
// element.
type beam struct {
	exists    bool
	time      float64 // s
	departure r3.Vec  // polarisation at the element
	arrival   Wave    // at the end
	// spectrum is the displacement at the end at each frequency, without the phase of the travel
	// time.
	spectrum []complex128
	// directivity is the factor of the element in spectrum.
	directivity []complex128
}

// orientation returns the normal and the axis of the elements.
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

// newEmitter returns the emitter along a path through the given media. If there is a coupling, it
// contains the first leg. It also contains the last leg of a path that returns to the array.
func newEmitter(s *Scene, p *wedge.Path, acoustics wedge.Acoustics, returns bool,
	frequencies []float64) (*emitter, error) {
	normal, axis := s.orientation()
	acoustics.Dimension = s.Dimension
	acoustics.Frequency = s.Array.CentreFrequency // has no effect without width and losses
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
	e.setLosses(s, returns)
	return e, nil
}

// setLosses sets the loss of each leg.
func (e *emitter) setLosses(s *Scene, returns bool) {
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
}

// to returns the beam from one point to another. If no ray leads there, the beam does not exist. If
// the end lies on a caustic, ray theory has no amplitude, and the beam does not exist either.
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
	n := len(e.legs) - 1
	last := e.legs[n]
	b := beam{exists: true, time: a.Time, departure: a.Departure}
	b.arrival = Wave{Mode: last.Mode, Direction: ray.Direction(n), Polarisation: a.Arrival}
	lengths := make([]float64, len(e.legs))
	for k, leg := range e.legs {
		lengths[k] = r3.Norm(r3.Sub(ray.Points[k+1], ray.Points[k]))
		b.arrival.Radius += leg.Speed / last.Speed * lengths[k]
	}
	e.setSpectrum(&b, a, ray.Direction(0), lengths)
	return b, nil
}

// setSpectrum sets the spectrum and the directivity of a beam, for its direction at the element and
// the lengths of its legs.
func (e *emitter) setSpectrum(b *beam, a wedge.Amplitude, direction r3.Vec, lengths []float64) {
	b.spectrum = make([]complex128, len(e.frequencies))
	b.directivity = make([]complex128, len(e.frequencies))
	slowness := r3.Scale(1/e.legs[0].Speed, direction)
	u, v := e.width*r3.Dot(slowness, e.axis), e.length*r3.Dot(slowness, e.side)
	path := a.Value() / nonzero(a.Directivity)
	for k, f := range e.frequencies {
		b.directivity[k] = a.Directivity * complex(number.Sinc(u*f)*number.Sinc(v*f), 0)
		b.spectrum[k] = b.directivity[k] * path * complex(e.transmitted(f, lengths), 0)
	}
}

// touches reports whether a ray crosses the entry surface within the contact.
func (e *emitter) touches(r *wedge.Ray) bool {
	if e.contact == nil {
		return true
	}
	within := func(x float64) bool { return x >= e.contact.Min && x <= e.contact.Max }
	return within(r.Points[1].X) && within(r.Points[len(r.Points)-2].X)
}

// nonzero returns z, or 1 if z is 0. A beam with the directivity 0 is 0 for each divisor.
func nonzero(z complex128) complex128 {
	if z == 0 {
		return 1
	}
	return z
}

// transmitted returns the fraction of the amplitude that remains after the losses.
func (e *emitter) transmitted(frequency float64, lengths []float64) float64 {
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
