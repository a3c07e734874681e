// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"
)

// Reference is the amplitude that a view is compared with at each pixel: what a reflector that
// counts as 1 would show there.
type Reference struct {
	// Amplitude is in the unit of the envelope, finite and above 0, such as the echo of a
	// calibration reflector in this view.
	Amplitude float32
	// Map, if not nil, multiplies Amplitude at each pixel of the grid, such as the predicted
	// sensitivity of the view relative to the place of the calibration reflector. Values are finite
	// and not negative. 0 or NaN means that the view does not show the pixel: it does not take part
	// there.
	Map []float32
}

// Fused is one image of several views: at each pixel the view with the highest amplitude relative
// to its reference.
type Fused struct {
	// Envelope holds the highest relative amplitude, 1 at the reference, and the states of the view
	// that has it. Where no view takes part, the amplitude is 0, and the state holds the states of
	// all views and [Blank].
	Envelope
	// View is the number of the view that each pixel comes from, in the order of the views; -1
	// where no view takes part.
	View []int16
}

// Fuse writes the fused image of the envelopes of views to dst and returns dst. A nil dst is
// allocated. Otherwise its memory is used again if it is long enough. The envelopes have the same
// grid and [Quantity]; there is a reference for each. Of equal views the first counts.
//
// Levels of two views are comparable only through references that hold at the pixel. One amplitude
// for a whole view ignores that the sensitivity changes over the image. A map that is wrong by some
// decibels lets the wrong view win, and a low value in a map lifts noise and ghosts of its view. A
// pixel shows one view only: an echo that another view shows at the same place is hidden. So look
// at each view too.
//
// The fused image holds relative amplitudes of several beams, so package sizing does not size it.
// Size an indication in the envelope of the view that View names.
func Fuse(dst *Fused, views []*Envelope, references []Reference) (*Fused, error) {
	if err := checkFusion(views, references); err != nil {
		return nil, err
	}
	if dst == nil {
		dst = new(Fused)
	}
	first := views[0]
	n := len(first.Data)
	dst.Grid, dst.Quantity = first.Grid, RelativeAmplitude
	dst.Data = resized(dst.Data, n)
	clear(dst.Data)
	if cap(dst.View) < n {
		dst.View = make([]int16, n)
	}
	dst.View = dst.View[:n]
	for p := range dst.View {
		dst.View[p] = -1
	}
	for v, e := range views {
		dst.join(int16(v), e, references[v])
	}
	dst.joinStates(views)
	return dst, nil
}

// join takes the pixels of view v that are higher than the views before.
func (f *Fused) join(v int16, e *Envelope, r Reference) {
	for p, amplitude := range e.Data {
		relative := amplitude / r.Amplitude
		if r.Map != nil {
			if !(r.Map[p] > 0) {
				continue
			}
			relative /= r.Map[p]
		}
		if (relative > f.Data[p] || f.View[p] < 0) && e.State(p)&Blank == 0 {
			f.Data[p], f.View[p] = relative, v
		}
	}
}

// joinStates sets the states of f.
func (f *Fused) joinStates(views []*Envelope) {
	states := f.States
	f.States = nil
	for p, v := range f.View {
		state := Blank
		if v >= 0 {
			state = views[v].State(p)
		} else {
			for _, e := range views {
				state |= e.State(p)
			}
		}
		if state != 0 && f.States == nil {
			if cap(states) < len(f.View) {
				states = make([]State, len(f.View))
			}
			f.States = states[:len(f.View)]
			clear(f.States)
		}
		if state != 0 {
			f.States[p] = state
		}
	}
}

func checkFusion(views []*Envelope, references []Reference) error {
	if len(views) == 0 || len(views) > math.MaxInt16 || len(references) != len(views) {
		return fmt.Errorf("tfm: fusion of %d views with %d references: want 1 to %d views, and a reference for each", len(views), len(references), math.MaxInt16)
	}
	for i, e := range views {
		if e == nil || e.Validate() != nil || len(e.Data) != e.Len() || e.States != nil && len(e.States) != e.Len() {
			return fmt.Errorf("tfm: fusion of an envelope of view %d that is not whole: want one as Image.Envelope makes it", i)
		}
		if first := views[0]; e.Grid != first.Grid || e.Quantity != first.Quantity {
			return fmt.Errorf("tfm: fusion of %v on the grid %+v in view %d: want %v on %+v, as in view 0", e.Quantity, e.Grid, i, first.Quantity, first.Grid)
		}
		if r := float64(references[i].Amplitude); !(r > 0) || math.IsInf(r, 0) {
			return fmt.Errorf("tfm: reference amplitude %v of view %d: want a finite value above 0", r, i)
		}
		if err := checkMap(references[i].Map, len(e.Data)); err != nil {
			return fmt.Errorf("tfm: reference of view %d: %w", i, err)
		}
	}
	return nil
}

// checkMap reports a map of another size, or a value that is negative or infinite.
func checkMap(values []float32, pixels int) error {
	if values == nil {
		return nil
	}
	if len(values) != pixels {
		return fmt.Errorf("map of %d values: want %d, one a pixel", len(values), pixels)
	}
	for p, v := range values {
		if v < 0 || v > math.MaxFloat32 {
			return fmt.Errorf("map with %v at pixel %d: want a finite value above 0, or 0 or NaN where the view does not show the pixel", v, p)
		}
	}
	return nil
}
