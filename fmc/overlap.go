// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// validateOverlap returns an error for the first two elements that overlap and work together, as a
// pair or in an event. Places may overlap only where one element is moved between its firings. Each
// pair then consists of one element and itself.
func (c *Capture) validateOverlap() error {
	along, ok := c.Array.line()
	if !ok || !overlaps(along, c.Array.Width) {
		return nil
	}
	width := c.Array.Width
	if c.Events != nil {
		return fmt.Errorf("fmc: element width %v m: "+
			"want at most the distance of two elements of an event", width)
	}
	for p, pair := range c.Pairs {
		d := math.Abs(along[pair.Tx] - along[pair.Rx])
		if pair.Tx != pair.Rx && tooClose(d, width) {
			return fmt.Errorf("fmc: element width %v m: "+
				"want at most %.6g m, the distance of the elements of pair %d, %v",
				width, d, p, pair)
		}
	}
	return nil
}

// line returns the places of the elements (m) along the line on which all of them lie. The result
// is not ok if the elements do not lie on one line, or not at one y. The width is along x, and then
// says nothing about the distance.
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
	if !number.Positive(length) {
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

// tooClose reports whether two elements at a distance overlap by more than rounding.
func tooClose(distance, width float64) bool { return distance < width*(1-1e-6) }
