// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package transmit

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
)

// PlaneWaves returns an event for each direction: element i fires when a plane wave
// that travels that way at speed (m/s) passes over it. Directions are vectors of any
// length but 0; that of an angle θ from the axis z, in the section, is
// {X: sin θ, Z: cos θ}.
func PlaneWaves(array fmc.Array, speed float64, directions []r3.Vec) ([]fmc.Event, error) {
	units := make([]r3.Vec, len(directions))
	for i, d := range directions {
		largest := max(math.Abs(d.X), math.Abs(d.Y), math.Abs(d.Z))
		if !finite(largest) || largest == 0 {
			return nil, fmt.Errorf("transmit: direction %d is %v: want a finite vector other than 0", i, d)
		}
		// The squares of the largest and least numbers are none.
		units[i] = r3.Unit(r3.Vec{X: d.X / largest, Y: d.Y / largest, Z: d.Z / largest})
	}
	return laws(array, speed, units, func(element, direction r3.Vec) float64 {
		return r3.Dot(element, direction) / speed
	})
}

// Diverging returns an event for each virtual source behind the array (m): element i
// fires when a wave that spreads from the source at speed (m/s) passes over it.
func Diverging(array fmc.Array, speed float64, sources []r3.Vec) ([]fmc.Event, error) {
	return laws(array, speed, sources, func(element, source r3.Vec) float64 {
		return r3.Norm(r3.Sub(element, source)) / speed
	})
}

// Focused returns an event for each focus before the array (m), a virtual source in
// front: what all elements send reaches the focus at once, at speed (m/s).
func Focused(array fmc.Array, speed float64, foci []r3.Vec) ([]fmc.Event, error) {
	return laws(array, speed, foci, func(element, focus r3.Vec) float64 {
		return -r3.Norm(r3.Sub(element, focus)) / speed
	})
}

// laws returns an event for each of points, in which the elements fire at the times
// that fire returns, counted from the earliest.
func laws(array fmc.Array, speed float64, points []r3.Vec, fire func(element, point r3.Vec) float64) ([]fmc.Event, error) {
	if err := array.Validate(); err != nil {
		return nil, fmt.Errorf("transmit: %w", err)
	}
	if !(speed > 0) || !finite(speed) {
		return nil, fmt.Errorf("transmit: speed %v m/s: want a finite value above 0", speed)
	}
	var events []fmc.Event
	for i, p := range points {
		if !finite(p.X) || !finite(p.Y) || !finite(p.Z) {
			return nil, fmt.Errorf("transmit: point %d at %v m: want finite coordinates", i, p)
		}
		times := make([]float64, len(array.Elements))
		for e, element := range array.Elements {
			times[e] = fire(element, p)
		}
		event, err := firing(times)
		if err != nil {
			return nil, fmt.Errorf("%w (event %d)", err, i)
		}
		events = append(events, event)
	}
	return events, nil
}

// FocalLaw returns the event whose parts reach one point at once, of the times (s)
// from each element to it, such as those of package wedge through any surfaces.
// An element whose time is NaN, because it has no ray, is silent; at least one
// time must not be. Times are finite otherwise.
func FocalLaw(times []float64) (fmc.Event, error) {
	fire := make([]float64, len(times))
	for e, t := range times {
		if math.IsInf(t, 0) {
			return fmc.Event{}, fmt.Errorf("transmit: time %v s from element %d: want a finite value, or NaN for no ray", t, e)
		}
		fire[e] = -t
	}
	return firing(fire)
}

// firing returns the event in which each element fires at its time, counted from the
// earliest; those of NaN do not.
func firing(times []float64) (fmc.Event, error) {
	earliest := math.Inf(1)
	for _, t := range times {
		if t < earliest {
			earliest = t
		}
	}
	event := silent(len(times))
	for e, t := range times {
		if math.IsNaN(t) {
			continue
		}
		event.Delays[e], event.Weights[e] = t-earliest, 1
	}
	if err := event.Validate(len(times)); err != nil {
		return fmc.Event{}, fmt.Errorf("transmit: %w", err)
	}
	return event, nil
}

// Elements returns an event for each of the given elements of an array of n, which
// fires alone: a sparse set of transmitters, if they are fewer than all. It wants n
// of at most 65,536.
func Elements(n int, elements []int) ([]fmc.Event, error) {
	if n < 1 || n > maxElements {
		return nil, fmt.Errorf("transmit: array of %d elements: want 1 to %d", n, maxElements)
	}
	var events []fmc.Event
	for _, e := range elements {
		if e < 0 || e >= n {
			return nil, fmt.Errorf("transmit: element %d: want 0 to %d", e, n-1)
		}
		event := silent(n)
		event.Weights[e] = 1
		events = append(events, event)
	}
	return events, nil
}

// maxElements bounds [Elements], so that a slip in the count is an error and not an
// exhausted machine.
const maxElements = 1 << 16

// silent returns an event of n elements without delays and with weights 0.
func silent(n int) fmc.Event {
	return fmc.Event{Delays: make([]float64, n), Weights: make([]float64, n)}
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
