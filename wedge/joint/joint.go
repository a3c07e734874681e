// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/wedge"
)

// Preparation is a way to prepare and to weld parts. All those of this package are
// [SquareButt], [SingleV], [SingleBevel], [SingleU], [SingleJ], [DoubleV],
// [DoubleBevel], [DoubleU], [DoubleJ], [Tee] and [Lap].
type Preparation interface {
	// Joint returns the geometry of the welded joint, or an error that names the
	// field that is out of range.
	Joint() (*Joint, error)
}

// Extent is how far from the origin parent parts are drawn, in m.
const Extent = 0.5

// Face is a fusion face: a part of the surface of a parent part that is melted. It
// runs from the entry surface downwards, or from left to right.
type Face struct {
	Name string // such as "left bevel"
	Curve
}

// Landmark is a point with a name, in m.
type Landmark struct {
	Name string // such as "left toe"
	At   r2.Vec
}

// Joint is a welded joint in the section. It is not changed by its methods, so that
// goroutines may share it.
type Joint struct {
	// Plate is the one on which the array usually stands: the left plate of a butt
	// joint, the flange of a tee, the upper plate of a lap joint.
	Plate
	Other *Plate     // the right plate of a butt joint, the lower plate of a lap joint; nil of a tee
	Metal []Outline  // of the weld metal, closed: one, or two on either side of a land that is not welded
	Parts []Outline  // of the parent parts, closed, cut off at [Extent]
	Faces []Face     // the fusion faces
	Marks []Landmark // toes and roots
	// Voids are where a wave cannot pass within the part: gaps that are not welded,
	// closed, and the outside of a part that is no plate, open.
	Voids []Outline
}

// Shifted returns the joint moved by d, in m, so that its origin lies there.
func (j *Joint) Shifted(d r2.Vec) *Joint {
	moved := &Joint{
		Metal: shifted(j.Metal, d), Parts: shifted(j.Parts, d), Voids: shifted(j.Voids, d),
		Plate: j.Plate.shifted(d),
	}
	if j.Other != nil {
		other := j.Other.shifted(d)
		moved.Other = &other
	}
	for _, f := range j.Faces {
		moved.Faces = append(moved.Faces, Face{f.Name, f.shifted(d)})
	}
	for _, m := range j.Marks {
		moved.Marks = append(moved.Marks, Landmark{m.Name, r2.Add(m.At, d)})
	}
	return moved
}

func shifted(outlines []Outline, d r2.Vec) (moved []Outline) {
	for _, o := range outlines {
		curves := make([]Curve, 0, len(o.Edges))
		for _, c := range o.Edges {
			curves = append(curves, c.shifted(d))
		}
		moved = append(moved, Outline{o.Name, curves})
	}
	return moved
}

// Outlines returns the voids as a wedge.Setup takes them, arcs to within the
// tolerance (m, above 0).
func (j *Joint) Outlines(tolerance float64) ([]wedge.Outline, error) {
	if err := checkPositive("tolerance of outlines", tolerance); err != nil {
		return nil, err
	}
	var outlines []wedge.Outline
	for _, v := range j.Voids {
		outlines = append(outlines, v.Polyline(tolerance))
	}
	return outlines, nil
}

// Mark returns the landmark of the name, and whether there is one.
func (j *Joint) Mark(name string) (at r2.Vec, ok bool) {
	for _, m := range j.Marks {
		if m.Name == name {
			return m.At, true
		}
	}
	return r2.Vec{}, false
}

// Face returns the fusion face of the name, and whether there is one.
func (j *Joint) Face(name string) (f Face, ok bool) {
	for _, f := range j.Faces {
		if f.Name == name {
			return f, true
		}
	}
	return Face{}, false
}

// Area returns the area of the weld metal in m².
func (j *Joint) Area() float64 {
	area := 0.0
	for _, o := range j.Metal {
		area += o.Area()
	}
	return area
}

// addMetal adds weld metal unless it is of no area.
func (j *Joint) addMetal(o Outline) {
	if o.Area() > 0 {
		j.Metal = append(j.Metal, o)
	}
}

// check reports that there is no weld metal, or no fusion face, an outline of weld metal or of a part that crosses itself, or
// reaches farther than parts are drawn.
func (j *Joint) check() error {
	if !(j.Area() > 0) || len(j.Faces) == 0 {
		return fmt.Errorf("joint: weld metal of area %v m² at %d fusion faces: want lengths that leave some of both", j.Area(), len(j.Faces))
	}
	for _, o := range append(append([]Outline(nil), j.Metal...), j.Parts...) {
		points := o.Polyline(10e-6)
		for _, p := range points {
			if !(math.Abs(p.X) <= Extent && math.Abs(p.Y) <= Extent) {
				return fmt.Errorf("joint: outline of the %s reaches (%v, %v) m: want within %v m of the origin", o.Name, p.X, p.Y, Extent)
			}
		}
		if !simple(points) {
			return fmt.Errorf("joint: outline of the %s crosses itself: want lengths that fit together", o.Name)
		}
	}
	return nil
}

// checkRange returns an error that names the length unless it lies from low to
// high, in m.
func checkRange(name string, value, low, high float64) error {
	if !(value >= low && value <= high) {
		return fmt.Errorf("joint: %s %v m: want %v to %v m", name, value, low, high)
	}
	return nil
}

// least is the smallest length of a part, and the largest is half of [Extent], in m.
const least = 1e-6

// checkPositive returns an error that names the length unless it is one of a part.
func checkPositive(name string, value float64) error {
	return checkRange(name, value, least, Extent/2)
}

// checkAngle returns an error that names the angle unless it lies from 0 to below
// a right angle.
func checkAngle(name string, value float64) error {
	if !(value >= 0 && value < math.Pi/2) {
		return fmt.Errorf("joint: %s %v rad: want 0 to below π/2 rad", name, value)
	}
	return nil
}

// first returns the first error that is not nil, or nil.
func first(errs ...error) error {
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return nil
}
