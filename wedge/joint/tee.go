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

// TeeWeld is the weld on one side of the web of a [Tee]. The zero value is no weld.
type TeeWeld struct {
	Fillet         // Leg lies on the flange, OtherLeg on the web; both begin at the corner
	Angle  float64 // between the bevel of the web and the flange, rad, 0 to below π/2
	Depth  float64 // of the bevel into the thickness of the web, m; 0 for no bevel
	// Penetration is the depth of the weld into the root face beyond the bevel, m, 0 or more.
	Penetration float64
}

// reach returns the depth of the weld into the thickness of the web.
func (w TeeWeld) reach() float64 { return w.Depth + w.Penetration }

// Tee is a T joint: a web on the far side of a flange. The near side of the flange is the entry
// surface. The origin lies over the middle of the web.
//
// Without bevels the welds are fillet welds. With bevels they are single-bevel or double-bevel butt
// welds. The root face is the part of the thickness of the web that is not bevelled. The part of
// the root face that no weld penetrates is a void.
type Tee struct {
	Flange, Web float64 // thicknesses, m, above 0
	Gap         float64 // root gap between web and flange, m, 0 or more
	Left, Right TeeWeld
}

// Joint returns the geometry of the joint, or an error that names the field that is out of range.
func (p Tee) Joint() (*Joint, error) {
	reach := p.Left.reach() + p.Right.reach()
	if err := cmp.Or(
		checkPositive("thickness of the flange", p.Flange),
		checkPositive("thickness of the web", p.Web),
		checkRange("root gap", p.Gap, 0, extent/4),
		checkWelded(p.Left.Fillet, p.Right.Fillet),
		p.check("left weld", p.Left),
		p.check("right weld", p.Right),
		checkRange("depths of the bevels and penetrations together", reach, 0, p.Web+tolerance),
	); err != nil {
		return nil, err
	}
	l, r := p.corner("left", p.Left, -1), p.corner("right", p.Right, 1)
	j := &Joint{
		Plate: Plate{Name: "flange", Thickness: p.Flange}, Marks: map[string]r2.Vec{},
		Faces: append(l.faces(), r.faces()...), far: math.Inf(1),
	}
	through := p.Web-p.Left.reach()-p.Right.reach() <= tolerance
	if through {
		r.onFlange, r.onWeb = l.onFlange, l.onWeb // rounding may leave something between them
		if p.Right.Penetration == 0 {
			r.underRoot, r.bevelRoot = r.onFlange, r.onWeb
		}
	}
	j.BackGaps = covered(l, r, through)
	p.addMetal(j, l, r, through)
	p.addParts(j, l, r)
	for _, c := range []corner{l, r} {
		j.voids = append(j.voids, outline{"outside on the " + c.name, p.outside(c)})
		if c.welded {
			j.Marks[c.name+" flange toe"], j.Marks[c.name+" web toe"] = c.flangeToe, c.webToe
			j.Marks[c.name+" root"] = r2.Scale(0.5, r2.Add(c.onFlange, c.onWeb))
			j.surfaces = append(j.surfaces, outline{c.name + " weld face", []curve{c.cap}})
		}
		p.addRegions(j, c, through)
	}
	if !through {
		j.addGap(j.voids[0], p.Gap)
	}
	return j, j.check()
}

// covered returns the parts of the back wall of the flange under the welds, where it does not
// reflect. Where nothing is welded between the welds, it reflects.
func covered(l, r corner, through bool) (gaps []wedge.Interval) {
	under := []wedge.Interval{
		{Min: l.flangeToe.X, Max: l.onFlange.X},
		{Min: r.onFlange.X, Max: r.flangeToe.X},
	}
	if through {
		under = []wedge.Interval{{Min: l.flangeToe.X, Max: r.flangeToe.X}}
	}
	for _, c := range under {
		if c.Min < c.Max {
			gaps = append(gaps, c)
		}
	}
	return gaps
}

// addMetal adds the weld metal, and the unwelded land between the welds as the first void.
func (p Tee) addMetal(j *Joint, l, r corner, through bool) {
	if through && p.Gap > 0 {
		j.metal = []outline{{"weld metal", slices.Concat(
			l.flangeSide(), backwards(r.flangeSide()), backwards(r.webSide()), l.webSide())}}
	} else {
		j.addMetal(l.metal())
		j.addMetal(r.metal())
	}
	if !through {
		land := line(l.onFlange, r.onFlange, r.onWeb, l.onWeb, l.onFlange)
		j.voids = []outline{{"unwelded land", land}}
	}
}

// metal returns the weld metal of a corner.
func (c corner) metal() outline {
	return outline{c.name + " weld metal", slices.Concat(c.flangeSide(), line(c.fromFlange(), c.fromWeb()), c.webSide())}
}

// addParts adds the flange and the web.
func (p Tee) addParts(j *Joint, l, r corner) {
	top, far := r2.Vec{X: -extent}, r2.Vec{X: extent}
	flange := line(top, far, r2.Vec{X: extent, Y: p.Flange}, r2.Vec{X: -extent, Y: p.Flange}, top)
	web := line(l.bevelEnd, l.bevelRoot, r.bevelRoot, r.bevelEnd,
		r2.Vec{X: r.bevelEnd.X, Y: extent}, r2.Vec{X: l.bevelEnd.X, Y: extent}, l.bevelEnd)
	j.parts = []outline{{"flange", flange}, {"web", web}}
}

// outside returns the boundary of the air beside a corner: along the flange, the weld face and the
// web.
func (p Tee) outside(c corner) []curve {
	air := appendCurve(line(r2.Vec{X: c.sign * extent, Y: p.Flange}, c.flangeToe), c.cap.reversed())
	return append(air, line(c.webToe, r2.Vec{X: c.webToe.X, Y: extent})...)
}

// addRegions adds the weld metal and the air of a corner to the regions.
func (p Tee) addRegions(j *Joint, c corner, through bool) {
	if c.welded {
		var middle curve
		if through {
			middle = curve{from: c.fromFlange(), to: c.fromWeb()}
		}
		j.addDeposit(c.metal(), c.faces(), middle)
	}
	far, end := r2.Vec{X: c.sign * extent, Y: extent}, r2.Vec{X: c.sign * extent, Y: p.Flange}
	closing := line(r2.Vec{X: c.webToe.X, Y: extent}, far, end)
	j.addVoid(outline{"outside on the " + c.name, slices.Concat(p.outside(c), closing)})
}

// check returns an error that names the first field of a weld that is out of range.
func (p Tee) check(name string, w TeeWeld) error {
	if w == (TeeWeld{}) {
		return nil
	}
	if err := cmp.Or(
		checkAngle("bevel angle of the "+name, w.Angle),
		checkRange("depth of the bevel of the "+name, w.Depth, 0, p.Web),
		checkRange("penetration of the "+name, w.Penetration, 0, p.Web),
	); err != nil {
		return err
	}
	return w.validate(name, p.Gap+w.Depth*math.Tan(w.Angle), extent/4)
}

// corner is one side of a tee.
type corner struct {
	name              string
	sign              float64
	welded            bool
	gap               bool
	flangeToe, webToe r2.Vec
	cap               curve  // the weld face, from the web to the flange
	bevelEnd          r2.Vec // on the side of the web
	bevelRoot         r2.Vec // at the root face
	underRoot         r2.Vec // on the flange under bevelRoot
	onFlange, onWeb   r2.Vec // the ends of the weld in the root gap
}

// corner returns the corner with a weld on the side of the sign.
func (p Tee) corner(name string, w TeeWeld, sign float64) corner {
	at := func(depth, z float64) r2.Vec {
		return r2.Vec{X: sign * (p.Web/2 - depth), Y: p.Flange + z}
	}
	leg, other := w.legs()
	c := corner{
		name: name, sign: sign, welded: !w.none(), gap: p.Gap > 0,
		flangeToe: at(-leg, 0), webToe: at(0, other),
		bevelEnd:  at(0, p.Gap+w.Depth*math.Tan(w.Angle)),
		bevelRoot: at(w.Depth, p.Gap), underRoot: at(w.Depth, 0),
		onFlange: at(w.reach(), 0), onWeb: at(w.reach(), p.Gap),
	}
	if w.none() {
		c.webToe = c.bevelEnd // the corner of the web
	}
	c.cap = w.face(c.webToe, c.flangeToe, sign)
	return c
}

// fromFlange returns the end of the weld metal on the flange, towards the other side. A root face
// that touches the flange has no weld metal on it.
func (c corner) fromFlange() r2.Vec {
	if c.gap {
		return c.onFlange
	}
	return c.underRoot
}

// fromWeb returns the end of the weld metal on the web, towards the other side.
func (c corner) fromWeb() r2.Vec {
	if c.gap {
		return c.onWeb
	}
	return c.bevelRoot
}

// flangeSide returns the outline of the weld metal along the flange, from the toe.
func (c corner) flangeSide() []curve { return line(c.flangeToe, c.fromFlange()) }

// webSide returns the outline of the weld metal along the web and the weld face, to the toe on the
// flange.
func (c corner) webSide() []curve {
	return appendCurve(line(c.fromWeb(), c.bevelRoot, c.bevelEnd, c.webToe), c.cap)
}

// faces returns the fusion faces, each from left to right or downwards.
func (c corner) faces() (faces []Face) {
	if !c.welded {
		return nil
	}
	add := func(part string, a, b r2.Vec) {
		if a != b {
			faces = append(faces, Face{c.name + " " + part, rightwards(a, b)})
		}
	}
	add("flange face", c.flangeToe, c.onFlange)
	add("web root face", c.bevelRoot, c.onWeb)
	add("web bevel", c.bevelRoot, c.bevelEnd)
	add("web face", c.bevelEnd, c.webToe)
	return faces
}
