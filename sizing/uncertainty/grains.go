// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"context"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/graded"
)

// grains is a part that depends on parameters.
type grains struct {
	family *graded.Family
	pol    graded.Polarisation
	rays   *graded.Options
}

// grainShift is the derivative of a position over a parameter of a [graded.Family].
type grainShift struct {
	name  string
	shift r3.Vec
}

// NewGrainModel returns the model of images of a part whose grains, speeds or dimensions are not
// exactly known. The images have the times of one wave both ways, as [graded.Part.Times] or
// [graded.Part.Interpolate] returns them. The argument rays holds the options of these times. Nil
// stands for the defaults. Their errors are the errors of [graded.Family.Derivatives].
//
// The parameters of the family take the place of the parameters of a set-up: their uncertainties
// belong in [Inputs].Grains. The array has [ElementPositions], [ElementSpacing], [ProbePosition],
// [TimeZero], and with a coupling [WedgeAngle] and [WedgeHeight]. All pairs have the same
// amplitude.
func NewGrainModel(
	c *fmc.Capture, family *graded.Family, pol graded.Polarisation, rays *graded.Options, options *Options,
) (*Model, error) {
	if options == nil {
		options = new(Options)
	}
	switch {
	case family == nil:
		return nil, errors.New("uncertainty: no family of parts: want one")
	case c == nil || len(c.Array.Elements) == 0:
		return nil, errors.New("uncertainty: capture without elements: want a capture")
	case !finite(options.Pivot):
		return nil, fmt.Errorf("uncertainty: pivot %v m: want finite coordinates", options.Pivot)
	}
	m := &Model{pivot: options.Pivot, elements: c.Array.Elements, grains: &grains{family, pol, rays}}
	for _, e := range m.elements {
		m.middle = r3.Add(m.middle, r3.Scale(1/float64(len(m.elements)), e))
	}
	part := family.Part()
	entry := part.Entry.At(part.Entry.Locate(m.middle)).P
	speed := part.Media[len(part.Media)/2].Phase(pol, entry, math.Pi/2).Speed
	waves := func(at r3.Vec) ([]quality.Wave, error) {
		all, err := m.grains.derivatives(m.elements, at)
		if err != nil {
			return nil, err
		}
		out := make([]quality.Wave, len(all))
		for i, d := range all {
			out[i] = quality.Wave{Time: d.Time, Slowness: d.End}
		}
		return out, nil
	}
	var err error
	m.spread, err = quality.NewSpreadOf(c, waves, speed/c.Array.CentreFrequency, options.Image)
	return m, err
}

// derivatives returns the derivatives of the times from all elements to a point.
func (g *grains) derivatives(elements []r3.Vec, at r3.Vec) ([]graded.Derivatives, error) {
	return g.family.Derivatives(context.Background(), g.pol, elements, []r3.Vec{at}, g.rays)
}

// grainPlace returns a place in a part with grains.
func (m *Model) grainPlace(at r3.Vec, peak *quality.Peak) (*Place, error) {
	all, err := m.grains.derivatives(m.elements, at)
	if err != nil {
		return nil, err
	}
	rates := make([]rate, len(all))
	part := m.grains.family.Part()
	for e, d := range all {
		if math.IsNaN(d.Time) {
			continue
		}
		r := &rates[e]
		r.start = d.Start
		if part.Coupling == nil {
			r.start = along(part.Entry, m.elements[e], r.start)
		} else {
			arm := r3.Sub(m.elements[e], m.pivot)
			r.by[WedgeAngle] = r3.Dot(r.start, r3.Vec{X: arm.Z, Z: -arm.X})
			r.by[WedgeHeight] = -r.start.Z
		}
		r.by[ProbePosition] = r.start.X
		r.by[ElementSpacing] = r3.Dot(r.start, r3.Sub(m.elements[e], m.middle))
	}
	p := m.place(at, peak, rates, rates)
	for k, q := range m.grains.family.Parameters() {
		by := func(e int) float64 {
			if v := all[e].By[k]; v*0 == 0 {
				return v
			}
			return 0 // without a ray its pairs do not count
		}
		// Longer times in the image are as earlier echoes.
		p.grains = append(p.grains, grainShift{q.Name, peak.Shift(func(tx, rx int) float64 { return -by(tx) - by(rx) })})
	}
	return p, nil
}

// along returns the part of v along a surface at a point.
func along(surface wedge.Surface, at, v r3.Vec) r3.Vec {
	normal := surface.At(surface.Locate(at)).Normal()
	return r3.Sub(v, r3.Scale(r3.Dot(v, normal), normal))
}

// GrainShift returns the derivative of the position in m over a parameter of the family of
// [NewGrainModel], as [Place.Shift] does for the parameters of a set-up. It is NaN for an unknown
// name.
func (p *Place) GrainShift(name string) r3.Vec {
	for _, g := range p.grains {
		if g.name == name {
			return g.shift
		}
	}
	return r3.Vec{X: math.NaN(), Y: math.NaN(), Z: math.NaN()}
}

// grainContributions returns what the parameters of families add to a result.
func (in *Inputs) grainContributions(name string, gradient []r3.Vec, readings []*Reading) ([]Contribution, error) {
	sensitivities := make(map[string]float64)
	var names []string
	for i, r := range readings {
		for _, g := range r.Place.grains {
			if _, found := sensitivities[g.name]; !found {
				names = append(names, g.name)
			}
			sensitivities[g.name] += r3.Dot(gradient[i], g.shift)
		}
	}
	var out []Contribution
	for _, n := range names {
		quantity, found := in.Grains[n]
		if !found {
			return nil, fmt.Errorf("uncertainty: no %s among the grains, but an error of it changes %s: want it, with the uncertainty 0 if it is exact", n, name)
		}
		quantity.Name = n
		out = append(out, Contribution{Quantity: quantity, Sensitivity: sensitivities[n]})
	}
	return out, nil
}
