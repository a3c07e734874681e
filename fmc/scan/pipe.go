// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Pipe is the circular cylinder that the array moves on. Its axis is parallel to x. The line y = z
// = 0 lies on its surface, and z points into the wall there. An arc is a length round this surface,
// from that line on, and it begins towards +y.
//
// So a girth weld at x = 0 lies as a straight weld does: x across the weld, y along the weld, z
// into the part.
type Pipe struct {
	Radius float64 // of the surface that the array moves on, in m, above 0 and at most 1e6 m
	Inside bool    // the array moves in the bore
}

func (p Pipe) validate() error {
	if !(p.Radius > 0 && p.Radius <= maxLength) {
		return fmt.Errorf("scan: radius of the pipe %v m: want above 0 and at most %g m", p.Radius,
			float64(maxLength))
	}
	return nil
}

// Circumference returns the length of a turn on the surface in m.
func (p Pipe) Circumference() float64 { return 2 * math.Pi * p.Radius }

// Wrap returns the arc in m, from 0 on and below the circumference, that ends at the same line as
// arc, in m.
func (p Pipe) Wrap(arc float64) (float64, error) {
	if err := p.validate(); err != nil {
		return 0, err
	}
	if err := checkLengths(length{"arc", arc}); err != nil {
		return 0, err
	}
	return wrap(arc, p.Circumference()), nil
}

// wrap returns v modulo turn, from 0 on and below turn.
func wrap(v, turn float64) float64 {
	v = math.Mod(v, turn)
	if v < 0 {
		v += turn
	}
	if v >= turn { // a small negative number was rounded up
		v = 0
	}
	return v
}

// Angle returns the angle of an arc in rad, from 0 on and below 2π.
func (p Pipe) Angle(arc float64) (float64, error) {
	arc, err := p.Wrap(arc)
	angle := arc / p.Radius
	if angle >= 2*math.Pi { // rounded up
		angle = 0
	}
	return angle, err
}

// Length returns the length in m from one arc forward to another, over the seam if the second arc
// is the smaller one. Both arcs count within a turn. The length is from 0 on and below a turn.
//
// Depth is the depth in m at which the length is measured, from 0 on. Depth 0 is the surface that
// the array moves on, and the wall thickness is the depth of the other surface. Outside a pipe the
// depth is below the radius.
func (p Pipe) Length(from, to, depth float64) (float64, error) {
	if err := checkLengths(length{"arc", from}, length{"arc", to}, length{"depth", depth}); err != nil {
		return 0, err
	}
	forward, err := p.Wrap(to - from)
	if err != nil {
		return 0, err
	}
	if depth < 0 || !p.Inside && depth >= p.Radius {
		return 0, fmt.Errorf("scan: depth %v m: want from 0 on, and below the radius of %v m outside a "+
			"pipe", depth, p.Radius)
	}
	return forward * (p.Radius + p.inward()*depth) / p.Radius, nil
}

// inward returns the sign of the change of the radius with depth.
func (p Pipe) inward() float64 {
	if p.Inside {
		return 1
	}
	return -1
}

// Axis returns the steps of a whole turn. Step 0 lies at arc 0. The distance of the steps is close
// to step, in m, and divides the turn into a whole number of steps.
func (p Pipe) Axis(step float64) (Axis, error) {
	if err := p.validate(); err != nil {
		return Axis{}, err
	}
	n := math.Round(p.Circumference() / step)
	if !(step > 0 && n >= 1 && n <= maxCells) {
		return Axis{}, fmt.Errorf("scan: step %v m: want 1 to %d steps in a turn of %v m", step,
			maxCells, p.Circumference())
	}
	return Axis{Step: p.Circumference() / n, Steps: int(n), Closed: true}, nil
}

// pose returns the pose at an axial position and an arc, both in m, with a skew in rad.
func (p Pipe) pose(x, arc, skew float64) (Pose, error) {
	if err := p.validate(); err != nil {
		return Pose{}, err
	}
	if err := checkAngle("skew", skew); err != nil {
		return Pose{}, err
	}
	sin, cos := math.Sincos(arc / p.Radius)
	s := -p.inward()
	onto := func(v r3.Vec) r3.Vec { // from the axes of the surface to the axes of the part
		return r3.Vec{X: v.X, Y: v.Y * cos, Z: v.Y * s * sin}
	}
	fx, fy := turned(skew)
	return Pose{
		Origin: r3.Vec{X: x, Y: p.Radius * sin, Z: s * p.Radius * (1 - cos)},
		X:      onto(fx),
		Y:      onto(fy),
		Z:      r3.Vec{Y: -s * sin, Z: cos},
	}, nil
}

// polar returns the distance of q from the axis in m, and its angle round the axis in rad.
func (p Pipe) polar(q r3.Vec) (radius, angle float64) {
	s := -p.inward()
	up := p.Radius - s*q.Z // towards arc 0
	return math.Hypot(q.Y, up), math.Atan2(q.Y, up)
}

// Round is the path round a pipe, such as along a girth weld.
type Round struct {
	Pipe
	X   float64 // axial position of the frame at position 0 across, m
	Arc float64 // arc at position 0, m
	// Backward says that the position grows towards smaller arcs.
	Backward bool
	// Skew is the angle of the frame about the normal of the surface in rad. At 0 the imaging plane
	// holds the axis of the pipe, and the array fires towards +x; at π it fires towards -x.
	Skew float64
}

func (r Round) sign() float64 {
	if r.Backward {
		return -1
	}
	return 1
}

// At returns the arc in m at a position along the path in m, from 0 on and below the circumference.
func (r Round) At(along float64) (float64, error) {
	if err := checkLengths(length{"position along", along}, length{"arc at position 0", r.Arc}); err != nil {
		return 0, err
	}
	return r.Wrap(r.Arc + r.sign()*along)
}

// Pose implements [Path]. The position across is along the axis, towards +x.
func (r Round) Pose(along, across float64) (Pose, error) {
	err := checkLengths(length{"x of the path", r.X}, length{"arc at position 0", r.Arc},
		length{"position along", along}, length{"position across", across})
	if err != nil {
		return Pose{}, err
	}
	return r.pose(r.X+across, r.Arc+r.sign()*along, r.Skew)
}

// Locate implements [Path]. The position is from 0 on and below the circumference. It is the
// position whose frame has the point in front of the axis of the pipe. It is an error if the frames
// lie across the pipe, and if the point lies on the axis. The error wraps [ErrNoFrame] if no frame
// holds the point, which happens only with a skew.
func (r Round) Locate(q r3.Vec, across float64) (Place, error) {
	start, err := r.Pose(0, across)
	if err != nil {
		return Place{}, err
	}
	if err := checkPoint(q); err != nil {
		return Place{}, err
	}
	sin, cos := math.Sincos(r.Skew)
	radius, angle := r.polar(q)
	if math.Abs(cos) < leastSine || radius == 0 {
		return Place{}, errors.New("scan: every frame round the pipe holds the point: want a skew " +
			"away from ±π/2, and a point beside the axis")
	}
	sine := sin / cos * (q.X - start.Origin.X) / radius
	if !(math.Abs(sine) <= 1) {
		return Place{}, fmt.Errorf("%w: %v m, round the pipe", ErrNoFrame, q)
	}
	arc := r.Radius * (angle - math.Asin(sine))
	return place(r, wrap(r.sign()*(arc-r.Arc), r.Circumference()), across, q)
}

// Lengthwise is the path along a pipe, parallel to its axis.
type Lengthwise struct {
	Pipe
	X   float64 // axial position at position 0, m
	Arc float64 // arc of the path at position 0 across, m
	// Backward says that the array moves towards -x.
	Backward bool
	// Skew is the angle of the frame about the normal of the surface in rad. At 0 the imaging plane
	// holds the axis of the pipe; at π/2 it lies across the pipe, and the array fires towards
	// greater arcs.
	Skew float64
}

func (l Lengthwise) sign() float64 {
	if l.Backward {
		return -1
	}
	return 1
}

// Pose implements [Path]. The position across is the arc, towards greater arcs.
func (l Lengthwise) Pose(along, across float64) (Pose, error) {
	err := checkLengths(length{"x of the path", l.X}, length{"arc of the path", l.Arc},
		length{"position along", along}, length{"position across", across})
	if err != nil {
		return Pose{}, err
	}
	return l.pose(l.X+l.sign()*along, l.Arc+across, l.Skew)
}

// Locate implements [Path]. It is an error if the frames hold the axis of the pipe.
func (l Lengthwise) Locate(q r3.Vec, across float64) (Place, error) {
	start, err := l.Pose(0, across)
	if err != nil {
		return Place{}, err
	}
	from, err := start.Frame(q)
	if err != nil {
		return Place{}, err
	}
	sine := -l.sign() * math.Sin(l.Skew)
	if math.Abs(sine) < leastSine {
		return Place{}, errors.New("scan: the array moves along its imaging plane: want a skew away " +
			"from 0 and π")
	}
	return place(l, from.Y/sine, across, q)
}
