// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"errors"
	"fmt"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// model predicts the image of the reference reflector. It is immutable and safe for concurrent
// use.
type model struct {
	elements          []r3.Vec
	transmit, receive *emitter // the same one if both paths are equal
	lookups           []lookup
	reflected         scattering
	// mirrored is the scattering of the reciprocal view. mirroredReception is the weight of its
	// reception, relative to the weight of the view.
	mirrored          scattering
	mirroredReception float64
	frequencies       []float64
	shares            []float64 // of the frequencies, times the weight of reception
	centre            float64   // frequency in Hz
	deviation         float64   // standard deviation of the spectrum of the pulse, Hz
	depth             float64   // from the face of the reflector to its centre, m
	compact           bool      // whether the peak of the image shows the place of the reflector
	wavelength        float64   // mean of the waves there and back, m
}

// lookup is a pair of elements that is summed, with its weight.
type lookup struct {
	tx, rx int
	weight float64
}

// newModel returns the model of a view.
func newModel(c *fmc.Capture, setup *wedge.Setup, view string, of Reflector, o *Options) (*model, error) {
	v, err := wedge.ParseView(view)
	if err != nil {
		return nil, fmt.Errorf("sensitivity: %w", err)
	}
	out, back, err := setup.Paths(v)
	if err != nil {
		return nil, fmt.Errorf("sensitivity: %w", err)
	}
	if setup.Part.Fluid() {
		return nil, errors.New("sensitivity: fluid part: want a solid")
	}
	m := &model{elements: c.Array.Elements, centre: c.Array.CentreFrequency}
	m.frequencies, m.shares = spectrum(&c.Array, of.ringing(setup.Part, m.centre))
	if m.transmit, err = newEmitter(&c.Array, setup, out, o, m.frequencies); err != nil {
		return nil, err
	}
	m.receive = m.transmit
	if back != out {
		if m.receive, err = newEmitter(&c.Array, setup, back, o, m.frequencies); err != nil {
			return nil, err
		}
	}
	around := surroundings{
		part: setup.Part, dimension: o.Dimension, frequencies: m.frequencies, in: lastMode(out), out: lastMode(back),
	}
	if m.reflected, err = of.scattering(around); err != nil {
		return nil, err
	}
	swapped := around
	swapped.in, swapped.out = around.out, around.in
	m.mirrored = m.reflected
	if around.in != around.out {
		if m.mirrored, err = of.scattering(swapped); err != nil {
			return nil, err
		}
	}
	weight := reception(setup, around.out, o.Dimension)
	m.mirroredReception = reception(setup, around.in, o.Dimension) / weight
	for k := range m.shares {
		m.shares[k] *= weight
	}
	m.lookups = lookups(c, o.Weights, m.transmit == m.receive)
	m.deviation = c.Array.SpectralDeviation()
	m.depth, m.compact = of.depth(), of.compact()
	m.wavelength = (setup.Part.Speed(around.in) + setup.Part.Speed(around.out)) / 2 / m.centre
	return m, nil
}

// lookups returns the pairs of a weight other than 0. If both paths are equal (shared), both
// directions of a pair have the same echo and are one lookup.
func lookups(c *fmc.Capture, weights []float32, shared bool) []lookup {
	at := map[fmc.Pair]int{}
	var all []lookup
	add := func(pair fmc.Pair, weight float64) {
		if weight == 0 {
			return
		}
		if shared && pair.Tx > pair.Rx {
			pair = pair.Reciprocal()
		}
		i, found := at[pair]
		if !found {
			i = len(all)
			at[pair] = i
			all = append(all, lookup{tx: pair.Tx, rx: pair.Rx})
		}
		all[i].weight += weight
	}
	half := c.Layout() == fmc.Half
	for i, pair := range c.Pairs {
		weight := 1.0
		if weights != nil {
			weight = float64(weights[i])
		}
		add(pair, weight)
		if half && pair.Tx != pair.Rx {
			add(pair.Reciprocal(), weight)
		}
	}
	return all
}

// node is the prediction for a reflector at one place.
type node struct {
	valid     bool    // whether any pair of elements sees the reflector
	partial   bool    // whether a pair that counts has no ray to the reflector
	amplitude float64 // at the peak of the image
	// toCentre leads from the peak to the centre of the reflector: x and z in m. It is 0 for a
	// reflector that is not compact.
	toCentre r2.Vec
}

// lastMode returns the mode in which a path arrives.
func lastMode(p *wedge.Path) material.Mode {
	legs := p.Legs()
	return legs[len(legs)-1].Mode
}
