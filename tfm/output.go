// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"errors"
	"fmt"

	"github.com/isochron-imaging/isochron/tfm/internal/pixel"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
)

// Output is what [Scratch.Reconstruct] makes of a frame: an [*Image], an [*Envelope] or
// [*Decibels].
//
// Envelopes and levels are made tile by tile, as soon as a tile is summed, and the complex image
// is not written. They have the bits that [Image.Envelope] and [Envelope.Decibels] give. Their
// Grid, Data and States are set, and their memory is used again if it is long enough. Levels are
// relative to [Decibels.Reference], which must be set, and end at [Decibels.Floor], which must be
// set.
type Output interface{ aim(v *viewScratch) error }

func (im *Image) aim(v *viewScratch) error {
	if im == nil || im.Grid != v.plan.grid || len(im.Data) != v.plan.grid.Len() {
		return errors.New("tfm: image: want one of the plan's grid, as NewImage makes it")
	}
	v.dst, v.values = im, nil
	return nil
}

func (e *Envelope) aim(v *viewScratch) error {
	if e == nil {
		return errors.New("tfm: no envelope: want one")
	}
	if err := v.hide("envelope", &e.States); err != nil {
		return err
	}
	e.Grid, e.Quantity = v.plan.grid, Amplitude
	e.Data = resized(e.Data, v.plan.grid.Len())
	v.values, v.levels = e.Data, nil
	return nil
}

func (d *Decibels) aim(v *viewScratch) error {
	if d == nil {
		return errors.New("tfm: no levels: want some")
	}
	levels, err := levelsOf(d.Reference, d.Floor)
	if err != nil {
		return err
	}
	if err := v.hide("levels", &d.States); err != nil {
		return err
	}
	d.Grid, d.Quantity = v.plan.grid, Amplitude
	d.Data = resized(d.Data, v.plan.grid.Len())
	v.hidden.levels = levels
	v.values, v.levels = d.Data, &v.hidden.levels
	return nil
}

// hidden is the image of an output that is none.
type hidden struct {
	Image
	states *[]State // of the output
	levels pixel.Levels
}

// hide makes the hidden image, with the states of an output, the image of the frame in hand.
func (v *viewScratch) hide(name string, states *[]State) error {
	if v.plan.coherence != nil {
		return fmt.Errorf("tfm: %s of a plan with %v: want an Image, which holds the coherence", name, v.plan.coherence.measure)
	}
	v.hidden.Grid, v.hidden.States, v.hidden.states = v.plan.grid, *states, states
	v.dst = &v.hidden.Image
	return nil
}

// reveal gives the output in hand its states.
func (v *viewScratch) reveal() {
	if v.values != nil {
		*v.hidden.states = v.hidden.States
	}
	v.dst, v.values, v.levels, v.sums[0] = nil, nil, nil, nil
	v.hidden.States, v.hidden.states = nil, nil
}

// valueAdder is an adder that makes envelopes and levels without the image.
type valueAdder interface {
	// sumValues writes the envelope of tile i to dst, or its levels if these are not nil.
	sumValues(dst []float32, i int, levels *pixel.Levels)
}

// sum sums tile i of the output in hand.
func (v *viewScratch) sum(a adder, i int) {
	if v.values == nil {
		a.sum(v.sums, i)
		return
	}
	if a, ok := a.(valueAdder); ok {
		a.sumValues(v.values, i, v.levels)
		return
	}
	a.sum(v.sums, i)
	t := v.plan.tiles[i]
	for r := range t.rows {
		p := t.index(v.plan.grid, r)
		dst := v.values[p:][:t.cols]
		pixel.Magnitude(dst, v.sums[0][p:][:t.cols])
		if v.levels != nil {
			pixel.Decibels(dst, dst, *v.levels)
		}
	}
}

func (a *windowedAdder[S]) sumValues(dst []float32, i int, levels *pixel.Levels) {
	first, last := a.blocks[i], a.blocks[i+1]
	acc := a.add(i)
	values := a.memory.values[:len(acc)/2]
	pixel.Planar(values, acc, a.unit(0))
	if levels != nil {
		pixel.Decibels(values, values, *levels)
	}
	a.Layout.WriteValues(dst, a.plan.grid.Cols, first, last, values)
}

// A block of accumulators is a group of pixels.
var _ = [1]struct{}{}[window.Pixels-pixel.Group]
