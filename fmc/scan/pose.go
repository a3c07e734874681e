// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Path is the way of an array over the entry surface of a part: a [Line], a way [Round] a pipe or a
// way [Lengthwise] along a pipe.
//
// A path has two coordinates. The position along the path is the position of the scan encoder. The
// position across the path is the position of the index encoder in a raster, and 0 elsewhere.
// Both are in m, within ±1e6 m.
type Path interface {
	// Pose returns where the frame lies that was taken at the positions along and across, in m.
	Pose(along, across float64) (Pose, error)

	// Locate returns the position along the path at which the point q of the part lies in the
	// imaging plane, and q in this frame. The position across the path is given. All are in m.
	// Locate is the inverse of Pose and [Pose.Part].
	Locate(q r3.Vec, across float64) (Place, error)
}

// Pose is where the frame of a capture lies in the part.
type Pose struct {
	Origin  r3.Vec // the point x = y = z = 0 of the frame, in the coordinates of the part, m
	X, Y, Z r3.Vec // axes of the frame in the coordinates of the part, unit vectors
}

// Part returns the point (x, 0, z) of the frame in the coordinates of the part. All are in m.
func (p Pose) Part(x, z float64) (r3.Vec, error) {
	if err := checkLengths(length{"x of the frame", x}, length{"z of the frame", z}); err != nil {
		return r3.Vec{}, err
	}
	return r3.Add(p.Origin, r3.Add(r3.Scale(x, p.X), r3.Scale(z, p.Z))), nil
}

// Frame returns the point q of the part in the coordinates of the frame. Its Y is the distance from
// the imaging plane. All are in m.
func (p Pose) Frame(q r3.Vec) (r3.Vec, error) {
	if err := checkPoint(q); err != nil {
		return r3.Vec{}, err
	}
	from := r3.Sub(q, p.Origin)
	return r3.Vec{X: r3.Dot(from, p.X), Y: r3.Dot(from, p.Y), Z: r3.Dot(from, p.Z)}, nil
}

// Place is a point of a frame, with the position of the frame.
type Place struct {
	Along, Across float64 // position of the frame on its path, m
	X, Z          float64 // the point in the imaging plane of the frame, m
}

// place returns q in the frame of path at along and across.
func place(path Path, along, across float64, q r3.Vec) (Place, error) {
	pose, err := path.Pose(along, across)
	if err != nil {
		return Place{}, err
	}
	in, err := pose.Frame(q)
	return Place{Along: along, Across: across, X: in.X, Z: in.Z}, err
}

// ErrNoFrame says that no frame of a path holds a point.
var ErrNoFrame = errors.New("scan: no frame of the path holds the point")

// maxLength bounds lengths in m, so that no sum or product of them overflows.
const maxLength = 1e6

// length is a length in m with its name.
type length struct {
	name  string
	value float64
}

// checkLengths returns an error for the first length that is out of range.
func checkLengths(lengths ...length) error {
	for _, l := range lengths {
		if !(math.Abs(l.value) <= maxLength) {
			return fmt.Errorf("scan: %s %v m: want a finite value within ±%g m", l.name, l.value,
				float64(maxLength))
		}
	}
	return nil
}

func checkPoint(q r3.Vec) error {
	return checkLengths(length{"x of the point", q.X}, length{"y of the point", q.Y},
		length{"z of the point", q.Z})
}

func checkAngle(name string, v float64) error {
	if !number.Finite(v) {
		return fmt.Errorf("scan: %s %v rad: want a finite value", name, v)
	}
	return nil
}

// turned returns the axes x and y of the surface turned by an angle from x to y.
func turned(angle float64) (x, y r3.Vec) {
	sin, cos := math.Sincos(angle)
	return r3.Vec{X: cos, Y: sin}, r3.Vec{X: -sin, Y: cos}
}

// leastSine is the least sine of the angle between the imaging plane and the direction of motion at
// which Locate finds a position. At smaller angles rounding errors decide the position.
const leastSine = 1e-6
