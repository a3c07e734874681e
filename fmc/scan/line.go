// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"errors"

	"gonum.org/v1/gonum/spatial/r3"
)

// Line is a straight path on a flat entry surface: along a weld or over a plate.
//
//	Line{X: -20e-3}                             along a weld, from the side of negative x
//	Line{X: 20e-3, Skew: math.Pi}               the same weld from the other side
//	Line{Y: 0.5, Heading: math.Pi}              back towards smaller y
//	Line{Heading: -math.Pi / 2, Skew: 0}        towards +x
//
// The zero value starts at the origin of the part and runs towards +y, with the axes of the frame
// along the axes of the part.
type Line struct {
	// X and Y are the place of the origin of the frame in the part at position 0, in m.
	X, Y float64
	// Heading is the direction of motion in rad. At 0 the array moves towards +y, and the position
	// across the path grows towards +x. A positive angle turns both from +x towards +y.
	Heading float64
	// Skew is the angle of the frame about z in rad. At 0 the axes of the frame are parallel to the
	// axes of the part. At π the array fires towards -x: it lies on the other side of the weld.
	Skew float64
}

func (l Line) validate() error {
	if err := checkLengths(length{"x of the line", l.X}, length{"y of the line", l.Y}); err != nil {
		return err
	}
	if err := checkAngle("heading of the line", l.Heading); err != nil {
		return err
	}
	return checkAngle("skew of the line", l.Skew)
}

// Pose implements [Path].
func (l Line) Pose(along, across float64) (Pose, error) {
	if err := l.validate(); err != nil {
		return Pose{}, err
	}
	if err := checkLengths(length{"position along", along}, length{"position across", across}); err != nil {
		return Pose{}, err
	}
	side, ahead := turned(l.Heading)
	origin := r3.Add(r3.Vec{X: l.X, Y: l.Y}, r3.Add(r3.Scale(along, ahead), r3.Scale(across, side)))
	x, y := turned(l.Skew)
	return Pose{Origin: origin, X: x, Y: y, Z: r3.Vec{Z: 1}}, nil
}

// Locate implements [Path]. It is an error if the array moves within its imaging plane: then all
// frames hold the point, or none.
func (l Line) Locate(q r3.Vec, across float64) (Place, error) {
	start, err := l.Pose(0, across)
	if err != nil {
		return Place{}, err
	}
	from, err := start.Frame(q)
	if err != nil {
		return Place{}, err
	}
	_, ahead := turned(l.Heading)
	sine := r3.Dot(ahead, start.Y)
	if -leastSine < sine && sine < leastSine {
		return Place{}, errors.New("scan: the array moves along its imaging plane: want a skew " +
			"across the heading of the line")
	}
	return place(l, from.Y/sine, across, q)
}
