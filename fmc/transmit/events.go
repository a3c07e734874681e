// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package transmit

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
)

// PlaneWaves returns an event for each direction. An element fires when a plane wave that travels
// in this direction, at speed (m/s), passes the element. Directions are finite vectors of any
// length other than 0. The direction at an angle θ from the axis z, in the section, is {X: sin θ,
// Z: cos θ}.
func PlaneWaves(array fmc.Array, speed float64, directions []r3.Vec) ([]fmc.Event, error) {
	units := make([]r3.Vec, len(directions))
	for i, d := range directions {
		largest := max(math.Abs(d.X), math.Abs(d.Y), math.Abs(d.Z))
		if !number.Positive(largest) {
			return nil, fmt.Errorf("transmit: direction %d is %v: "+
				"want a finite vector other than 0", i, d)
		}
		// Squares of very large and very small components would overflow or vanish.
		units[i] = r3.Unit(r3.Vec{X: d.X / largest, Y: d.Y / largest, Z: d.Z / largest})
	}
	return laws(array, speed, units, func(element, direction r3.Vec) float64 {
		return r3.Dot(element, direction) / speed
	})
}

// Diverging returns an event for each virtual source (m), a point behind the array. An element
// fires when a wave that spreads from the source, at speed (m/s), passes the element.
func Diverging(array fmc.Array, speed float64, sources []r3.Vec) ([]fmc.Event, error) {
	return laws(array, speed, sources, func(element, source r3.Vec) float64 {
		return r3.Norm(r3.Sub(element, source)) / speed
	})
}

// Focused returns an event for each focus (m), a point in front of the array. The pulses of all
// elements reach the focus at the same time, at speed (m/s).
func Focused(array fmc.Array, speed float64, foci []r3.Vec) ([]fmc.Event, error) {
	return laws(array, speed, foci, func(element, focus r3.Vec) float64 {
		return -r3.Norm(r3.Sub(element, focus)) / speed
	})
}

// laws returns an event for each point. The elements fire at the times that fire returns, less the
// earliest of these times.
func laws(
	array fmc.Array, speed float64, points []r3.Vec, fire func(element, point r3.Vec) float64,
) ([]fmc.Event, error) {
	if err := array.Validate(); err != nil {
		return nil, fmt.Errorf("transmit: %w", err)
	}
	if !number.Positive(speed) {
		return nil, fmt.Errorf("transmit: speed %v m/s: want a finite value above 0", speed)
	}
	var events []fmc.Event
	for i, p := range points {
		if !number.Finite(p.X) || !number.Finite(p.Y) || !number.Finite(p.Z) {
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

// FocalLaw returns the event in which the pulses of all elements reach a point at the same time.
// Times are the times of flight (s) from each element to the point, e.g. from package wedge, which
// solves them through any surfaces. They are finite or NaN. An element whose time is NaN has no
// ray, and is silent. At least one time must be finite.
func FocalLaw(times []float64) (fmc.Event, error) {
	fire := make([]float64, len(times))
	for e, t := range times {
		if math.IsInf(t, 0) {
			return fmc.Event{}, fmt.Errorf("transmit: time %v s from element %d: "+
				"want a finite value, or NaN for no ray", t, e)
		}
		fire[e] = -t
	}
	return firing(fire)
}

// firing returns the event in which each element fires at its time, less the earliest of the times.
// An element whose time is NaN does not fire.
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

// silent returns an event of n elements with delays and weights of 0.
func silent(n int) fmc.Event {
	return fmc.Event{Delays: make([]float64, n), Weights: make([]float64, n)}
}
