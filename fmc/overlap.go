// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"
)

// validateOverlap reports the first two elements that work together, as a pair or in an
// event, although they overlap. One place may overlap the next only where one element is
// moved between its firings, and then every pair is of one element with itself.
func (c *Capture) validateOverlap() error {
	along, ok := c.Array.line()
	if !ok || !overlaps(along, c.Array.Width) {
		return nil
	}
	if c.Events != nil {
		return fmt.Errorf("fmc: element width %v m: want at most the distance of two elements of an event", c.Array.Width)
	}
	for p, pair := range c.Pairs {
		if d := math.Abs(along[pair.Tx] - along[pair.Rx]); pair.Tx != pair.Rx && tooClose(d, c.Array.Width) {
			return fmt.Errorf("fmc: element width %v m: want at most %.6g m, the distance of the elements of pair %d, %v", c.Array.Width, d, p, pair)
		}
	}
	return nil
}

// line returns the places of the elements along the line on which all of them lie, in m.
// It is not ok where they do not lie on a line, or not at the same y: there the width
// along x tells nothing of the distance.
func (a Array) line() (along []float64, ok bool) {
	first, far := a.Elements[0], a.Elements[0]
	for _, e := range a.Elements {
		if e.Y != first.Y {
			return nil, false
		}
		if r3.Norm2(r3.Sub(e, first)) > r3.Norm2(r3.Sub(far, first)) {
			far = e
		}
	}
	length := r3.Norm(r3.Sub(far, first))
	if !positive(length) {
		return nil, false
	}
	direction := r3.Scale(1/length, r3.Sub(far, first))
	along = make([]float64, len(a.Elements))
	for i, e := range a.Elements {
		d := r3.Sub(e, first)
		along[i] = r3.Dot(d, direction)
		if !(r3.Norm(r3.Sub(d, r3.Scale(along[i], direction))) <= 1e-6*length) {
			return nil, false
		}
	}
	return along, true
}

// overlaps reports whether any two elements on a line are closer than their width.
func overlaps(along []float64, width float64) bool {
	sorted := slices.Sorted(slices.Values(along))
	for i := range sorted[1:] {
		if tooClose(sorted[i+1]-sorted[i], width) {
			return true
		}
	}
	return false
}

// tooClose reports whether elements at a distance overlap by more than rounding.
func tooClose(distance, width float64) bool { return distance < width*(1-1e-6) }
