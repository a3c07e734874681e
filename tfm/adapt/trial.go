// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// A Trial returns the geometry that belongs to a value of the parameter that is sought: the set-up,
// and the places of all elements in m. It must be safe for concurrent use.
type Trial func(value float64) (*wedge.Setup, []r3.Vec, error)

// checkTrial reports a set-up or elements that are missing.
func checkTrial(setup *wedge.Setup, elements []r3.Vec) error {
	if setup == nil {
		return errors.New("adapt: trial without a set-up: want one")
	}
	if len(elements) == 0 {
		return errors.New("adapt: trial without elements: want at least one")
	}
	return nil
}

// PartSpeed is the Trial of the speed of a mode in the part, in m/s.
func PartSpeed(setup *wedge.Setup, elements []r3.Vec, mode material.Mode) Trial {
	return func(speed float64) (*wedge.Setup, []r3.Vec, error) {
		if err := checkTrial(setup, elements); err != nil {
			return nil, nil, err
		}
		if mode != material.L && mode != material.T {
			return nil, nil, fmt.Errorf("adapt: mode %v: want material.L or material.T", mode)
		}
		s := *setup
		if mode == material.T {
			s.Part.Transverse = speed
		} else {
			s.Part.Longitudinal = speed
		}
		return &s, elements, s.Validate()
	}
}

// WedgeAngle is the Trial of the angle between a linear array and the x axis, in rad. The array
// turns about a point, such as its middle. A positive angle lifts its end at large x.
func WedgeAngle(setup *wedge.Setup, elements []r3.Vec, about r3.Vec) Trial {
	return func(angle float64) (*wedge.Setup, []r3.Vec, error) {
		if err := checkTrial(setup, elements); err != nil {
			return nil, nil, err
		}
		turn := r3.NewRotation(angle-angleOf(elements), r3.Vec{Y: 1})
		turned := make([]r3.Vec, len(elements))
		for i, e := range elements {
			turned[i] = r3.Add(about, turn.Rotate(r3.Sub(e, about)))
		}
		return setup, turned, nil
	}
}

// angleOf returns the angle between a linear array and the x axis, in rad.
func angleOf(elements []r3.Vec) float64 {
	first, last := elements[0], elements[len(elements)-1]
	if last.X < first.X {
		first, last = last, first
	}
	return math.Atan2(first.Z-last.Z, last.X-first.X)
}

// Height is the Trial of the height of the middle of the array over z = 0, in m.
func Height(setup *wedge.Setup, elements []r3.Vec) Trial {
	middle := 0.0
	for _, e := range elements {
		middle += e.Z / float64(len(elements))
	}
	return func(height float64) (*wedge.Setup, []r3.Vec, error) {
		if err := checkTrial(setup, elements); err != nil {
			return nil, nil, err
		}
		moved := make([]r3.Vec, len(elements))
		for i, e := range elements {
			e.Z -= height + middle
			moved[i] = e
		}
		return setup, moved, nil
	}
}

// Thickness is the Trial of the thickness of a plate, in m: the back wall is the plane z =
// thickness. Only views that skip depend on it.
func Thickness(setup *wedge.Setup, elements []r3.Vec) Trial {
	return func(thickness float64) (*wedge.Setup, []r3.Vec, error) {
		if err := checkTrial(setup, elements); err != nil {
			return nil, nil, err
		}
		if !(thickness > 0) {
			return nil, nil, fmt.Errorf("adapt: thickness %v m: want above 0", thickness)
		}
		back, err := wedge.HorizontalPlane(thickness)
		if err != nil {
			return nil, nil, err
		}
		s := *setup
		s.Back = back
		return &s, elements, nil
	}
}
