// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

// Options modifies [NewModel]. Nil stands for the zero value.
type Options struct {
	// Pivot is the point in m about which the array turns with an error of [WedgeAngle], such as
	// the first element or the toe of the wedge: finite. The zero value is the origin of the axes.
	Pivot r3.Vec
	// Image says how the image was made and which amplitudes the pairs have. Nil stands for the
	// defaults of package tfm/quality.
	Image *quality.Options
}

// Model says how errors of a set-up move the positions in images of one view. It is immutable and
// safe for concurrent use.
type Model struct {
	setup             *wedge.Setup
	pivot, middle     r3.Vec // middle of the elements
	elements          []r3.Vec
	transmit, receive *wedge.Path
	spread            *quality.Spread
	grains            *grains // in place of setup and paths
}

// NewModel returns the model of a view of a set-up, such as "TT-T" ([wedge.ParseView]), for images
// of captures like c. These are captures of the same array, pairs and sample rate, with any Data.
// Captures of events, such as plane waves, are an error.
func NewModel(c *fmc.Capture, setup *wedge.Setup, view string, options *Options) (*Model, error) {
	if options == nil {
		options = new(Options)
	}
	spread, err := quality.NewSpread(c, setup, view, options.Image)
	if err != nil {
		return nil, err
	}
	if c.Events != nil {
		return nil, errors.New("uncertainty: capture of events: want a capture of single elements")
	}
	if p := options.Pivot; !finite(p) {
		return nil, fmt.Errorf("uncertainty: pivot %v m: want finite coordinates", p)
	}
	v, err := wedge.ParseView(view)
	if err != nil {
		return nil, err
	}
	m := &Model{setup: setup, pivot: options.Pivot, elements: c.Array.Elements, spread: spread}
	if m.transmit, m.receive, err = setup.Paths(v); err != nil {
		return nil, err
	}
	for _, e := range m.elements {
		m.middle = r3.Add(m.middle, r3.Scale(1/float64(len(m.elements)), e))
	}
	return m, nil
}

func finite(p r3.Vec) bool { return p.X*0+p.Y*0+p.Z*0 == 0 }

// Place is a point of an image with the derivatives of its position.
type Place struct {
	At r3.Vec // m
	// Offset is the place of the peak relative to a small reflector at At, in m
	// ([Model.Reflector]).
	Offset r3.Vec

	peak *quality.Peak
	// shifts holds for each parameter the derivative of the position with respect to each of its
	// independent errors: two for each element for [ElementPositions], one for the others.
	shifts [parameters][]r3.Vec
	grains []grainShift
}

// Reflector returns the place of the small reflector whose peak is at a point of the image, in m.
// The phases of the amplitudes move a peak away from its reflector ([quality.Peak]). In contact
// and in water they do not. Through a wedge the offset is some hundredths of a millimetre, over a
// skip up to a millimetre. The correction holds for a reflector without a phase of its own that
// depends on the direction, such as a pore, and for amplitudes as the set-up says. [Model.At]
// makes no correction. The errors are the errors of At.
func (m *Model) Reflector(peak r3.Vec) (*Place, error) {
	at := peak
	const rounds = 4 // the offset changes slowly with the place
	for range rounds {
		if m.spread == nil || !finite(at) { // At names the fault
			break
		}
		spot, err := m.spread.At(m.offWall(at))
		if err != nil {
			return nil, err
		}
		p, err := spot.Peak()
		if err != nil {
			return nil, err
		}
		at = r3.Sub(peak, p.Offset)
	}
	return m.At(at)
}

// At returns a place of an indication, in m. The error wraps [wedge.ErrNoRay] if no pair reaches
// the place.
func (m *Model) At(at r3.Vec) (*Place, error) {
	switch {
	case m.spread == nil:
		return nil, errors.New("uncertainty: empty model: want a model of NewModel")
	case !finite(at):
		return nil, fmt.Errorf("uncertainty: place %v m: want finite coordinates", at)
	}
	near := m.offWall(at)
	spot, err := m.spread.At(near)
	if err != nil {
		return nil, err
	}
	peak, err := spot.Peak()
	if err != nil {
		return nil, err
	}
	if m.grains != nil {
		return m.grainPlace(at, peak)
	}
	sent, err := m.rates(m.transmit, near)
	if err != nil {
		return nil, err
	}
	received := sent
	if m.receive != m.transmit {
		if received, err = m.rates(m.receive, near); err != nil {
			return nil, err
		}
	}
	return m.place(at, peak, sent, received), nil
}

// place returns a place from the derivatives of the times.
func (m *Model) place(at r3.Vec, peak *quality.Peak, sent, received []rate) *Place {
	p := &Place{At: at, Offset: peak.Offset, peak: peak}
	for q := range Parameter(parameters) {
		switch q {
		case TimeZero:
			// A larger time of sample 0 makes echoes later.
			p.shifts[q] = []r3.Vec{peak.Shift(func(int, int) float64 { return 1 })}
		case ElementPositions:
			for e := range m.elements {
				p.shifts[q] = append(p.shifts[q],
					peak.Shift(func(tx, rx int) float64 {
						return -only(tx == e, sent[tx].start.X) - only(rx == e, received[rx].start.X)
					}),
					peak.Shift(func(tx, rx int) float64 {
						return -only(tx == e, sent[tx].start.Z) - only(rx == e, received[rx].start.Z)
					}))
			}
		default:
			// Longer times in the image are as earlier echoes.
			p.shifts[q] = []r3.Vec{peak.Shift(func(tx, rx int) float64 { return -sent[tx].by[q] - received[rx].by[q] })}
		}
	}
	return p
}

// offWall returns a place off the back wall. A ray that skips off the wall to a point on it has a
// last leg of no length, without a direction. So a place closer to the wall than margin is taken
// at this distance, where the derivatives are practically the same.
func (m *Model) offWall(at r3.Vec) r3.Vec {
	const margin = 10e-6 // m
	if m.setup == nil || m.setup.Back == nil {
		return at
	}
	depth := m.setup.Back.Depth(at)
	if !(math.Abs(depth) < margin) {
		return at
	}
	u, v := m.setup.Back.Locate(at)
	return r3.Sub(at, r3.Scale(depth+margin, m.setup.Back.At(u, v).Normal()))
}

// only returns v if a condition holds, and 0 otherwise.
func only(condition bool, v float64) float64 {
	if condition {
		return v
	}
	return 0
}

// Shift returns the derivative of the position in m over the parameter. The indication moves by
// Shift if the image of the same capture is made with a value that is larger by one unit. The y of
// Shift is 0. For [ElementPositions] each coordinate is the root of the sum of squares over all
// elements. It is NaN for an unknown parameter, and for a place that no [Model] returned.
func (p *Place) Shift(q Parameter) r3.Vec {
	if int(q) >= parameters || p.peak == nil {
		return r3.Vec{X: math.NaN(), Y: math.NaN(), Z: math.NaN()}
	}
	if q != ElementPositions {
		return p.shifts[q][0]
	}
	var sum r3.Vec
	for _, s := range p.shifts[q] {
		sum = r3.Vec{X: math.Hypot(sum.X, s.X), Z: math.Hypot(sum.Z, s.Z)}
	}
	return sum
}

// rate holds the derivatives of the time from one element with respect to the parameters.
type rate struct {
	by    [parameters]float64
	start r3.Vec // with respect to the place of the element, s/m
}

// rates returns the derivatives of the times from all elements along a path. They are 0 for an
// element without a ray: its pairs do not count.
func (m *Model) rates(path *wedge.Path, at r3.Vec) ([]rate, error) {
	rates := make([]rate, len(m.elements))
	for e, element := range m.elements {
		ray := path.Solve(element, at)
		if ray.Status != wedge.OK {
			continue
		}
		d, err := m.setup.Derivatives(path, &ray, m.pivot)
		if err != nil {
			return nil, err
		}
		all, err := path.Derivatives(&ray)
		if err != nil {
			return nil, err
		}
		r := &rates[e]
		r.start = all.Start
		if m.setup.Coupling == nil {
			// The element stays on the surface.
			u, v := m.setup.Entry.Locate(element)
			normal := m.setup.Entry.At(u, v).Normal()
			r.start = r3.Sub(r.start, r3.Scale(r3.Dot(r.start, normal), normal))
		} else {
			r.by[WedgeAngle], r.by[WedgeHeight] = d.Angle, d.Height
		}
		r.by[CouplingSpeed], r.by[LongitudinalSpeed], r.by[TransverseSpeed] = d.Coupling, d.Longitudinal, d.Transverse
		r.by[Thickness] = d.Thickness
		r.by[ProbePosition] = r.start.X
		r.by[ElementSpacing] = r3.Dot(r.start, r3.Sub(element, m.middle))
	}
	return rates, nil
}
