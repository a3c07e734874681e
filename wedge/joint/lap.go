// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/wedge"
)

// Lap is a lap joint of an upper plate and a lower plate. The upper surface of the upper plate is
// the entry surface. The upper plate ends on the right, the lower plate ends on the left. The
// origin lies over the middle of the overlap. The gap between the plates is a void.
type Lap struct {
	Upper, Lower float64 // thicknesses, m, above 0
	Overlap      float64 // distance from the edge of one plate to the edge of the other, m, above 0
	Gap          float64 // between the plates, m, 0 or more
	// Left joins the edge of the lower plate to the underside of the upper plate. Right joins the
	// edge of the upper plate to the lower plate. Leg lies on the plate that continues past the
	// weld. OtherLeg lies on the edge, begins at the corner, and is at most as long as the edge
	// and the gap. The zero value is no weld.
	Left, Right Fillet
}

// Joint returns the geometry of the joint, or an error that names the field that is out of range.
func (p Lap) Joint() (*Joint, error) {
	if err := cmp.Or(
		checkPositive("thickness of the upper plate", p.Upper),
		checkPositive("thickness of the lower plate", p.Lower),
		checkPositive("overlap", p.Overlap),
		checkRange("gap", p.Gap, 0, extent/4),
		checkWelded(p.Left, p.Right),
		p.checkFillet("left weld", p.Left, p.Lower),
		p.checkFillet("right weld", p.Right, p.Upper),
	); err != nil {
		return nil, err
	}
	half, under, over, bottom := p.Overlap/2, p.Upper, p.Upper+p.Gap, p.Upper+p.Gap+p.Lower
	j := p.plates()
	left := lapWeld(p.Left, r2.Vec{X: -half, Y: under}, p.Gap, -1)
	right := lapWeld(p.Right, r2.Vec{X: half, Y: over}, p.Gap, 1)
	for _, w := range []struct {
		lapCorner
		side, plate, edge string
		end               r2.Vec // of the edge away from the corner
		fillet            Fillet
	}{
		{left, "left", "upper plate", "lower plate", r2.Vec{X: -half, Y: bottom}, p.Left},
		{right, "right", "lower plate", "upper plate", r2.Vec{X: half}, p.Right},
	} {
		if !w.fillet.none() {
			metal := outline{w.side + " weld metal",
				appendCurve(line(w.plateToe, w.corner, w.edgeStart, w.edgeToe), w.cap)}
			j.addMetal(metal)
			j.Faces = append(j.Faces,
				Face{w.side + " " + w.plate + " face", rightwards(w.plateToe, w.corner)},
				Face{w.side + " " + w.edge + " edge", rightwards(w.edgeStart, w.edgeToe)})
			j.Marks[w.side+" "+w.plate+" toe"] = w.plateToe
			j.Marks[w.side+" "+w.edge+" toe"] = w.edgeToe
			j.Marks[w.side+" root"] = w.corner
			j.surfaces = append(j.surfaces, outline{w.side + " weld face", []curve{w.cap}})
			j.addDeposit(metal, j.Faces[len(j.Faces)-2:], curve{})
		}
		far := r2.Vec{X: w.sign * extent, Y: w.corner.Y}
		outside := appendCurve(line(far, w.plateToe), w.cap.reversed())
		outside = append(outside, line(w.edgeToe, w.end)...)
		j.voids = append(j.voids, outline{"outside on the " + w.side, outside})
		beyond := w.end.Y - w.sign*extent/4
		j.addVoid(outline{"outside on the " + w.side, slices.Concat(outside, line(w.end,
			r2.Vec{X: w.end.X, Y: beyond}, r2.Vec{X: far.X, Y: beyond}, far))})
	}
	j.voids = append(j.voids, outline{"gap",
		line(left.corner, right.edgeStart, right.corner, left.edgeStart, left.corner)})
	j.addGap(j.voids[len(j.voids)-1], p.Gap)
	j.parts = []outline{
		{"upper plate", line(r2.Vec{X: -extent}, r2.Vec{X: half}, r2.Vec{X: half, Y: under},
			r2.Vec{X: -extent, Y: under}, r2.Vec{X: -extent})},
		{"lower plate", line(r2.Vec{X: -half, Y: over}, r2.Vec{X: extent, Y: over},
			r2.Vec{X: extent, Y: bottom}, r2.Vec{X: -half, Y: bottom}, r2.Vec{X: -half, Y: over})},
	}
	j.far = bottom
	return j, j.check()
}

// checkFillet returns an error that names the first field of a weld that is out of range. The weld
// lies on an edge of the given height.
func (p Lap) checkFillet(name string, f Fillet, edge float64) error {
	if f.none() {
		return nil
	}
	return f.validate(name, p.Gap, p.Gap+edge)
}

// plates returns a joint with its plates only. The continuous plate has no surface under a weld.
// Under the other plate the surface of the continuous plate reflects.
func (p Lap) plates() *Joint {
	half, low, high := p.Overlap/2, math.Inf(-1), math.Inf(1)
	right, left := wedge.Interval{Min: half, Max: high}, wedge.Interval{Min: low, Max: -half}
	upper := Plate{
		Name: "upper plate", Thickness: p.Upper,
		EntryGaps: []wedge.Interval{right}, BackGaps: []wedge.Interval{right},
	}
	lower := &Plate{
		Name: "lower plate", Top: p.Upper + p.Gap, Thickness: p.Lower,
		EntryGaps: []wedge.Interval{left}, BackGaps: []wedge.Interval{left},
	}
	if leg, _ := p.Left.legs(); leg > 0 {
		upper.BackGaps = append(upper.BackGaps, wedge.Interval{Min: -half - leg, Max: -half})
	}
	if leg, _ := p.Right.legs(); leg > 0 {
		lower.EntryGaps = append(lower.EntryGaps, wedge.Interval{Min: half, Max: half + leg})
	}
	return &Joint{Plate: upper, Other: lower, Marks: map[string]r2.Vec{}}
}

// lapCorner is one side of a lap joint.
type lapCorner struct {
	sign              float64
	corner            r2.Vec // on the plate that goes on
	edgeStart         r2.Vec // the corner of the other plate, across the gap
	plateToe, edgeToe r2.Vec
	cap               curve // the weld face, from the edge to the plate
}

// lapWeld returns the side of the sign. The weld metal lies above the corner on the right side, and
// below the corner on the left side.
func lapWeld(f Fillet, corner r2.Vec, gap, sign float64) lapCorner {
	leg, other := f.legs()
	c := lapCorner{
		sign: sign, corner: corner,
		edgeStart: r2.Vec{X: corner.X, Y: corner.Y - sign*gap},
		plateToe:  r2.Vec{X: corner.X + sign*leg, Y: corner.Y},
		edgeToe:   r2.Vec{X: corner.X, Y: corner.Y - sign*other},
	}
	if f.none() {
		c.edgeToe = c.edgeStart
	}
	c.cap = f.face(c.edgeToe, c.plateToe, -1)
	return c
}

// rightwards returns the line downwards, or from left to right if it is level.
func rightwards(a, b r2.Vec) curve {
	if a.Y > b.Y || a.Y == b.Y && a.X > b.X {
		a, b = b, a
	}
	return curve{from: a, to: b}
}
