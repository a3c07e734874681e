// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/wedge"
)

// Lap is a lap joint: an upper plate, whose upper surface is the entry surface and
// which ends on the right, and a lower plate, which ends on the left. The origin is
// over the middle of the overlap. What lies between the plates is a void.
type Lap struct {
	Upper, Lower float64 // thicknesses: m, above 0
	Overlap      float64 // from the edge of one plate to that of the other: m, above 0
	Gap          float64 // between the plates: m, 0 or more
	// Left is the weld of the lower plate's edge to the underside of the upper plate,
	// Right that of the upper plate's edge to the lower plate. Leg lies on the plate
	// that goes on, OtherLeg on the edge, from the corner on, no longer than that
	// and the gap. The zero value is no weld.
	Left, Right Fillet
}

// Joint implements [Preparation].
func (p Lap) Joint() (*Joint, error) {
	if err := first(
		checkPositive("thickness of the upper plate", p.Upper),
		checkPositive("thickness of the lower plate", p.Lower),
		checkPositive("overlap", p.Overlap),
		checkRange("gap", p.Gap, 0, Extent/4),
		checkWelded(p.Left, p.Right),
	); err != nil {
		return nil, err
	}
	for _, w := range []struct {
		name   string
		fillet Fillet
		edge   float64
	}{{"left weld", p.Left, p.Lower}, {"right weld", p.Right, p.Upper}} {
		if w.fillet.none() {
			continue
		}
		if err := w.fillet.validate(w.name, p.Gap, p.Gap+w.edge); err != nil {
			return nil, err
		}
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
			j.addMetal(Outline{w.side + " weld metal", appendCurve(line(w.plateToe, w.corner, w.edgeStart, w.edgeToe), w.cap)})
			j.Faces = append(j.Faces,
				Face{w.side + " " + w.plate + " face", rightwards(w.plateToe, w.corner)},
				Face{w.side + " " + w.edge + " edge", rightwards(w.edgeStart, w.edgeToe)})
			j.Marks = append(j.Marks, Landmark{w.side + " " + w.plate + " toe", w.plateToe},
				Landmark{w.side + " " + w.edge + " toe", w.edgeToe}, Landmark{w.side + " root", w.corner})
		}
		far := r2.Vec{X: w.sign * Extent, Y: w.corner.Y}
		outside := appendCurve(line(far, w.plateToe), w.cap.reversed())
		j.Voids = append(j.Voids, Outline{"outside on the " + w.side, append(outside, line(w.edgeToe, w.end)...)})
	}
	j.Voids = append(j.Voids, Outline{"gap", line(left.corner, right.edgeStart, right.corner, left.edgeStart, left.corner)})
	j.Parts = []Outline{
		{"upper plate", line(r2.Vec{X: -Extent}, r2.Vec{X: half}, r2.Vec{X: half, Y: under}, r2.Vec{X: -Extent, Y: under}, r2.Vec{X: -Extent})},
		{"lower plate", line(r2.Vec{X: -half, Y: over}, r2.Vec{X: Extent, Y: over}, r2.Vec{X: Extent, Y: bottom}, r2.Vec{X: -half, Y: bottom}, r2.Vec{X: -half, Y: over})},
	}
	return j, j.check()
}

// plates returns a joint with its plates alone: a weld lies on the plate that goes on,
// whose surface is missing there; under the other plate it is a surface like any other.
func (p Lap) plates() *Joint {
	half, low, high := p.Overlap/2, math.Inf(-1), math.Inf(1)
	upper := Plate{
		Name: "upper plate", Thickness: p.Upper,
		EntryGaps: []wedge.Interval{{Min: half, Max: high}}, BackGaps: []wedge.Interval{{Min: half, Max: high}},
	}
	lower := &Plate{
		Name: "lower plate", Top: p.Upper + p.Gap, Thickness: p.Lower,
		EntryGaps: []wedge.Interval{{Min: low, Max: -half}}, BackGaps: []wedge.Interval{{Min: low, Max: -half}},
	}
	if leg, _ := p.Left.legs(); leg > 0 {
		upper.BackGaps = append(upper.BackGaps, wedge.Interval{Min: -half - leg, Max: -half})
	}
	if leg, _ := p.Right.legs(); leg > 0 {
		lower.EntryGaps = append(lower.EntryGaps, wedge.Interval{Min: half, Max: half + leg})
	}
	return &Joint{Plate: upper, Other: lower}
}

// lapCorner is one side of a lap joint.
type lapCorner struct {
	sign              float64
	corner            r2.Vec // on the plate that goes on
	edgeStart         r2.Vec // the corner of the other plate, across the gap
	plateToe, edgeToe r2.Vec
	cap               Curve // the weld face, from the edge to the plate
}

// lapWeld returns the side of the sign, whose weld metal lies above the corner on
// the right, and below it on the left.
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

// rightwards returns the line from left to right, or downwards.
func rightwards(a, b r2.Vec) Curve {
	if a.Y > b.Y || a.Y == b.Y && a.X > b.X {
		a, b = b, a
	}
	return Curve{From: a, To: b}
}
