// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// View is a picture of a capture in one view.
type View struct {
	Name  string     // such as "TT-T", as [wedge.ParseView] reads it
	Image *tfm.Image // of the whole capture: one section, without weights
}

// model predicts the echoes of tips and holes in one view, and holds the spots of its picture.
type model struct {
	name              string
	transverse        float64 // speed of transverse waves in the part, m/s
	legs              [2]int  // in the part, on the transmitting and on the receiving path
	skipsAlike        bool    // no leg changes the mode
	transmit, receive leg
	symmetric         bool
	elements          []r3.Vec
	channels          []channel
	signals           *signals
	step              float64 // of the grid, m
	background        float64 // amplitude of the picture where nothing echoes
	spots             []*spot // strongest first
}

// spot is an indication of a view.
type spot struct {
	sizing.Indication
	*focus
	spread float64  // 6 dB length of the picture of a point along the long axis of the spot, m
	wall   float64  // distance to the back wall, m; +Inf without one
	lobes  [2]*spot // the spots of the picture whose middle this spot is; nil for a spot of the picture
	asHole *match   // the best match of a hole, once it is known
}

// newModel returns the model of a view, with its spots.
func newModel(setup *wedge.Setup, s *signals, view View, o *Options) (*model, error) {
	v, err := wedge.ParseView(view.Name)
	if err != nil {
		return nil, err
	}
	there, back, err := setup.Paths(v)
	if err != nil {
		return nil, err
	}
	if view.Image == nil {
		return nil, errors.New("tips: view without an image: want one")
	}
	array := s.capture.Array
	m := &model{
		name: view.Name, symmetric: v.Symmetric(), elements: array.Elements, signals: s,
		legs: [2]int{len(v.Transmit), len(v.Receive)}, skipsAlike: alike(v),
		transverse: setup.Part.Transverse, step: max(view.Image.Step.X, view.Image.Step.Z),
	}
	if m.transmit, err = newLeg(setup, there, array, o.Dimension); err != nil {
		return nil, err
	}
	if m.receive, err = newLeg(setup, back, array, o.Dimension); err != nil {
		return nil, err
	}
	m.channels = channels(s.capture, m.symmetric)
	return m, m.find(view.Image, setup.Back, o)
}

// alike reports whether all legs of a view have the same mode.
func alike(v wedge.View) bool {
	for _, path := range [...][]material.Mode{v.Transmit, v.Receive} {
		for _, mode := range path {
			if mode != v.Transmit[0] {
				return false
			}
		}
	}
	return true
}

// maxSpots is the largest number of spots of a view. The strongest spots count.
const maxSpots = 16

// find sets the spots of the view.
func (v *model) find(image *tfm.Image, back wedge.Surface, o *Options) error {
	envelope := image.Envelope(nil)
	found, err := sizing.Find(envelope, &sizing.Options{Floor: o.Floor})
	if err != nil {
		return fmt.Errorf("tips: view %s: %w", v.name, err)
	}
	v.background = background(envelope.Data)
	for _, in := range found {
		if in.Edge || in.Length < in.Width {
			continue
		}
		s := &spot{Indication: in, wall: math.Inf(1)}
		if back != nil {
			s.wall = -back.Depth(vec(in.X, in.Z))
		}
		at := vec(in.X, in.Z)
		if s.wall < v.step/10 && !v.direct() { // a skip has no ray to the wall itself, or beyond it
			at.Z += s.wall - v.step/10 // the wall runs across z where sections are inspected
		}
		if s.focus = v.at(at.X, at.Z); len(s.pairs) == 0 {
			continue
		}
		sin, cos := math.Sincos(in.Tilt)
		s.spread = s.focus.spread(sin, -cos)
		v.spots = append(v.spots, s)
		if len(v.spots) == maxSpots {
			break
		}
	}
	return nil
}

// direct reports whether no path of the view skips.
func (v *model) direct() bool { return v.legs == [2]int{1, 1} }

// halfSkip reports whether one path of the view skips once.
func (v *model) halfSkip() bool { return v.legs[0]+v.legs[1] == 3 }

// width returns an opening in m, from wavelengths of transverse waves.
func (v *model) width(opening float64) float64 {
	return opening * v.transverse / v.signals.capture.Array.CentreFrequency
}

// wavelength returns the length of the diffracted wave in m.
func (v *model) wavelength() float64 {
	return v.receive.speed / v.signals.capture.Array.CentreFrequency
}

func vec(x, z float64) r3.Vec { return r3.Vec{X: x, Z: z} }
