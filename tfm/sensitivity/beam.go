// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// beam is the wave from one element at one point. By reciprocity it also describes the wave from
// the point to the element.
type beam struct {
	exists    bool
	time      float64 // s
	angle     float64 // of the direction of travel, from x to z, rad
	slowness  r2.Vec  // x and z, s/m
	radius    float64 // of the wave front across the section, m
	size      float64 // modulus of the amplitude at the centre frequency
	amplitude []complex128
}

// emitter follows waves from the elements along one path.
type emitter struct {
	path        *wedge.Path
	amplitudes  *wedge.Amplitudes // of elements without width, and without losses
	legs        []wedge.Leg
	losses      []material.Attenuation // of each leg
	source      *wedge.Source
	axis, side  r3.Vec  // unit vectors along the width and the length of an element
	normal      r3.Vec  // unit vector straight ahead of an element
	leastCosine float64 // of the angle between the normal and a ray that counts
	frequencies []float64
	centre      int // index of the centre frequency
}

// newEmitter returns the emitter of the elements of an array.
func newEmitter(a *fmc.Array, setup *wedge.Setup, p *wedge.Path, o *Options, frequencies []float64) (*emitter, error) {
	e := &emitter{path: p, legs: p.Legs(), frequencies: frequencies, centre: len(frequencies) / 2}
	acoustics := setup.Acoustics(p)
	acoustics.Dimension, acoustics.Frequency = o.Dimension, a.CentreFrequency
	if !o.omnidirectional {
		e.source = o.source(a)
		point := *e.source
		point.Width, point.Length = 0, 0 // their effect depends on the frequency
		acoustics.Source = &point
		e.axis = r3.Unit(e.source.Axis)
		e.side = r3.Unit(r3.Cross(e.source.Normal, e.source.Axis))
	}
	e.normal, e.leastCosine = r3.Unit(o.source(a).Normal), math.Inf(-1)
	if o.Angle != 0 {
		e.leastCosine = math.Cos(o.Angle)
	}
	var err error
	if e.amplitudes, err = wedge.NewAmplitudes(p, acoustics); err != nil {
		return nil, fmt.Errorf("sensitivity: %w", err)
	}
	for k, leg := range e.legs {
		law := o.Losses.Longitudinal
		switch {
		case k == 0 && setup.Coupling != nil:
			law = o.Losses.Coupling
		case leg.Mode == material.T:
			law = o.Losses.Transverse
		}
		e.losses = append(e.losses, law)
	}
	return e, nil
}

// to sets b to the wave from an element at a point. Where ray theory has no amplitude, as outside
// the part or on a caustic, the wave does not exist.
func (e *emitter) to(b *beam, element, point r3.Vec) {
	b.exists = false
	ray := e.path.Solve(element, point)
	if ray.Status != wedge.OK || r3.Dot(ray.Direction(0), e.normal) < e.leastCosine {
		return
	}
	a, err := e.amplitudes.Along(&ray)
	if err != nil || math.IsInf(a.Spreading, 0) {
		return // the point lies on a surface or on a caustic
	}
	n := len(e.legs) - 1
	direction, last := ray.Direction(n), e.legs[n]
	b.exists, b.time = true, ray.Time
	b.angle = math.Atan2(direction.Z, direction.X)
	b.slowness = r2.Vec{X: direction.X / last.Speed, Y: direction.Z / last.Speed}
	b.radius = 0
	for k, leg := range e.legs {
		b.radius += leg.Speed / last.Speed * r3.Norm(r3.Sub(ray.Points[k+1], ray.Points[k]))
	}
	value := a.Value()
	if last.Mode == material.T {
		value *= complex(r3.Dot(a.Arrival, r3.Vec{X: -direction.Z, Z: direction.X}), 0)
	}
	e.setAmplitude(b, value, &ray)
}

// setAmplitude sets the amplitude at each frequency: the value of a small element without losses,
// times the directivity of the sides of the element, times what the losses leave.
func (e *emitter) setAmplitude(b *beam, value complex128, ray *wedge.Ray) {
	b.amplitude = b.amplitude[:0]
	slowness := r3.Scale(1/e.legs[0].Speed, ray.Direction(0))
	for _, f := range e.frequencies {
		factor := 1.0
		if e.source != nil {
			factor = number.Sinc(e.source.Width*r3.Dot(slowness, e.axis)*f) *
				number.Sinc(e.source.Length*r3.Dot(slowness, e.side)*f)
		}
		for k, law := range e.losses {
			if law != nil {
				factor *= law.Amplitude(f, r3.Norm(r3.Sub(ray.Points[k+1], ray.Points[k])))
			}
		}
		b.amplitude = append(b.amplitude, value*complex(factor, 0))
	}
	at := b.amplitude[e.centre]
	b.size = math.Hypot(real(at), imag(at))
}

// reception returns the weight with which the elements receive a mode that leaves a reflector in
// the part. By reciprocity it is the force that makes a displacement of 1 at a distance of 1 m: it
// is proportional to ρ·c² in space and to ρ·c^1.5 in a section, with the density ρ and the wave
// speed c. It is relative to longitudinal waves in the medium of the elements.
func reception(setup *wedge.Setup, mode material.Mode, d wedge.Dimension) float64 {
	own := setup.Part
	if setup.Coupling != nil {
		own = *setup.Coupling
	}
	power := 2.0
	if d == wedge.Section {
		power = 1.5
	}
	return setup.Part.Density / own.Density * math.Pow(setup.Part.Speed(mode)/own.Longitudinal, power)
}
