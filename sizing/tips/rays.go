// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"fmt"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// leg computes the waves that arrive at a point along one path.
type leg struct {
	path       *wedge.Path
	amplitudes *wedge.Amplitudes
	mode       material.Mode // at the point
	speed      float64       // of this mode
}

// newLeg returns the leg along a path of a set-up.
func newLeg(setup *wedge.Setup, p *wedge.Path, array fmc.Array, d wedge.Dimension) (leg, error) {
	legs := p.Legs()
	last := legs[len(legs)-1]
	acoustics := setup.Acoustics(p)
	acoustics.Dimension = d
	acoustics.Frequency = array.CentreFrequency
	normal, axis := orientation(array)
	acoustics.Source = &wedge.Source{Width: array.Width, Normal: normal, Axis: axis}
	amplitudes, err := wedge.NewAmplitudes(p, acoustics)
	if err != nil {
		return leg{}, fmt.Errorf("tips: %w", err)
	}
	return leg{p, amplitudes, last.Mode, last.Speed}, nil
}

// orientation returns the normal and the axis of the elements of an array along one line.
func orientation(a fmc.Array) (normal, axis r3.Vec) {
	axis = r3.Vec{X: 1}
	if n := len(a.Elements); n > 1 {
		axis = r3.Sub(a.Elements[n-1], a.Elements[0])
	}
	normal = r3.Cross(axis, r3.Vec{Y: 1})
	if normal.Z < 0 {
		normal = r3.Scale(-1, normal)
	}
	return normal, axis
}

// arrival is the wave of one element at a point.
type arrival struct {
	exists    bool
	time      float64    // s
	x, z      float64    // direction of travel, unit vector in the section
	amplitude complex128 // with the time factor of analytic signals, exp(iωt)
}

// arrivals returns the waves of all elements at a point.
func (l leg) arrivals(elements []r3.Vec, at r3.Vec) []arrival {
	out := make([]arrival, len(elements))
	for i, element := range elements {
		at.Y = element.Y
		ray := l.path.Solve(element, at)
		if ray.Status != wedge.OK {
			continue
		}
		a, err := l.amplitudes.Along(&ray)
		value := a.Value()
		if err != nil || cmplx.IsInf(value) || cmplx.IsNaN(value) {
			continue
		}
		d := ray.Direction(len(ray.Points) - 2)
		length := math.Hypot(d.X, d.Z)
		w := arrival{true, ray.Time, d.X / length, d.Z / length, cmplx.Conj(value)}
		if l.mode == material.T {
			// The reference polarisation is the direction of travel turned from x to z.
			w.amplitude *= complex(a.Arrival.Z*w.x-a.Arrival.X*w.z, 0)
		}
		out[i] = w
	}
	return out
}
