// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/wedge"
)

// extent is the distance from the origin to which parent parts are drawn, in m.
const extent = 0.5

// Face is a fusion face: a part of the surface of a parent part that is melted. It is a straight
// line or an arc. It runs downwards from the entry surface, or from left to right.
type Face struct {
	Name string // such as "left bevel"
	curve
}

// Joint is the geometry of a welded joint in the section. Its methods do not change it, so that
// goroutines may share it.
type Joint struct {
	// Plate is the plate on which the array usually stands: the left plate of a butt joint, the
	// flange of a tee, the upper plate of a lap joint. It is embedded: a Joint has the methods of
	// this plate, such as [Plate.Square].
	Plate
	Other *Plate // the right plate of a butt joint, the lower plate of a lap joint; nil for a tee
	// Origin is the origin of the joint in m: the middle of the root gap, of the web or of the
	// overlap, on the entry surface. It is 0 until [Joint.Shifted] moves the joint. The centre line
	// of the weld of a butt joint is the normal of the surface there.
	Origin r2.Vec
	Faces  []Face
	Marks  map[string]r2.Vec // toes and roots by their names, such as "left toe", m

	metal []outline // closed outlines of the weld metal
	parts []outline // closed outlines of the parent parts, cut off at the extent
	// voids are the places within the joint where no wave can pass. Gaps are closed outlines; the
	// outside of a part that is not a plate of one thickness is an open outline.
	voids []outline
	// surfaces are the free surfaces of the weld that are not in line with a plate.
	surfaces []outline
	regions  []region // without the last region, which is the rest of the section
	far      float64  // depth of the far surface, m; +Inf for none, NaN if it is not one plane
	// touching reports whether faces touch that are not welded.
	touching bool
}

// Shifted returns the joint moved by d, in m.
func (j *Joint) Shifted(d r2.Vec) *Joint {
	moved := &Joint{
		Plate: j.Plate.shifted(d), Origin: r2.Add(j.Origin, d), Marks: map[string]r2.Vec{},
		metal: shifted(j.metal, d), parts: shifted(j.parts, d), voids: shifted(j.voids, d),
		surfaces: shifted(j.surfaces, d), far: j.far + d.Y, touching: j.touching,
	}
	for _, r := range j.regions {
		moved.regions = append(moved.regions, r.shifted(d))
	}
	if j.Other != nil {
		other := j.Other.shifted(d)
		moved.Other = &other
	}
	for _, f := range j.Faces {
		moved.Faces = append(moved.Faces, Face{f.Name, f.shifted(d)})
	}
	for name, at := range j.Marks {
		moved.Marks[name] = r2.Add(at, d)
	}
	return moved
}

func shifted(outlines []outline, d r2.Vec) (moved []outline) {
	for _, o := range outlines {
		curves := make([]curve, 0, len(o.curves))
		for _, c := range o.curves {
			curves = append(curves, c.shifted(d))
		}
		moved = append(moved, outline{o.name, curves})
	}
	return moved
}

// Outlines are the outlines of a joint as polylines.
type Outlines struct {
	Parts []wedge.Outline // parent parts, closed, cut off 0.5 m from the origin of the joint
	Metal []wedge.Outline // weld metal, closed
	// Voids are the places where no wave can pass, as a wedge.Setup takes them. Gaps that are not
	// welded are closed; the outside of a part that is not a plate is open.
	Voids []wedge.Outline
	// Surfaces are the free surfaces of the weld that are not in line with a plate. So a flush weld
	// has none.
	Surfaces []Surface
}

// Surface is a free surface of a weld, where waves echo.
type Surface struct {
	// Name is "cap", "root" for a root bead or for what is not welded, "lower cap" for a weld from
	// both sides, or "left weld face" and "right weld face" of fillets.
	Name string
	Line wedge.Outline // from toe to toe; a root that is not welded begins at its tip if it has no gap
}

// Outlines returns the outlines. The polylines lie within the tolerance of the arcs. The tolerance
// is in m, from 1e-6 to 0.25.
func (j *Joint) Outlines(tolerance float64) (*Outlines, error) {
	if err := checkPositive("tolerance of outlines", tolerance); err != nil {
		return nil, err
	}
	o := &Outlines{
		Parts: polylines(j.parts, tolerance),
		Metal: polylines(j.metal, tolerance),
		Voids: polylines(j.voids, tolerance),
	}
	for _, s := range j.surfaces {
		o.Surfaces = append(o.Surfaces, Surface{s.name, s.polyline(tolerance)})
	}
	return o, nil
}

func polylines(outlines []outline, tolerance float64) (lines []wedge.Outline) {
	for _, o := range outlines {
		lines = append(lines, o.polyline(tolerance))
	}
	return lines
}

// Face returns the fusion face of the name, and whether the joint has it.
func (j *Joint) Face(name string) (f Face, ok bool) {
	i := slices.IndexFunc(j.Faces, func(f Face) bool { return f.Name == name })
	if i < 0 {
		return Face{}, false
	}
	return j.Faces[i], true
}

// Area returns the area of the weld metal in m².
func (j *Joint) Area() float64 {
	area := 0.0
	for _, o := range j.metal {
		area += o.area()
	}
	return area
}

// addMetal adds weld metal if its area is above 0.
func (j *Joint) addMetal(o outline) {
	if o.area() > 0 {
		j.metal = append(j.metal, o)
	}
}

// check returns an error if the joint has no weld metal or no fusion face, or if an outline of weld
// metal or of a part crosses itself or reaches beyond the extent.
func (j *Joint) check() error {
	if !(j.Area() > 0) || len(j.Faces) == 0 {
		return fmt.Errorf("joint: weld metal of area %v m² at %d fusion faces: "+
			"want lengths that leave some of both", j.Area(), len(j.Faces))
	}
	for _, o := range slices.Concat(j.metal, j.parts) {
		points := o.polyline(10e-6)
		for _, p := range points {
			if !(math.Abs(p.X) <= extent && math.Abs(p.Y) <= extent) {
				return fmt.Errorf("joint: outline of the %s reaches (%v, %v) m: "+
					"want within %v m of the origin", o.name, p.X, p.Y, extent)
			}
		}
		if !simple(points) {
			return fmt.Errorf("joint: outline of the %s crosses itself: "+
				"want lengths that fit together", o.name)
		}
	}
	return nil
}

// checkRange returns an error that names the length unless it lies from low to high, in m.
func checkRange(name string, value, low, high float64) error {
	if !(value >= low && value <= high) {
		return fmt.Errorf("joint: %s %v m: want %v to %v m", name, value, low, high)
	}
	return nil
}

// least is the smallest length of a part, in m. The largest length is half of the extent.
const least = 1e-6

// checkPositive returns an error that names the length unless a part can have it.
func checkPositive(name string, value float64) error {
	return checkRange(name, value, least, extent/2)
}

// checkAngle returns an error that names the angle unless it lies from 0 to below a right angle.
func checkAngle(name string, value float64) error {
	if !(value >= 0 && value < math.Pi/2) {
		return fmt.Errorf("joint: %s %v rad: want 0 to below π/2 rad", name, value)
	}
	return nil
}
