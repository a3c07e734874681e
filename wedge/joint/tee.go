// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/wedge"
)

// Weld is the weld on one side of the web of a [Tee]. The zero value is none.
type Weld struct {
	Fillet // Leg on the flange, OtherLeg on the web, both from the corner of the two
	// Angle and Depth are of the bevel of the web on this side: the angle between
	// the fusion face and the flange in rad, 0 to below π/2, and how far the bevel
	// goes into the thickness of the web in m, 0 for none.
	Angle, Depth float64
	// Penetration is how far the weld goes on into the root face beyond the bevel,
	// in m.
	Penetration float64
}

// Tee is a T joint: a web that stands on the far side of a flange, the near side of which
// is the entry surface. The origin is over the middle of the web.
//
// Without bevels it is a fillet weld; with bevels a single-bevel or double-bevel
// butt weld. What neither weld penetrates of the root face, which is what the
// bevels leave of the thickness of the web, is a void.
type Tee struct {
	Flange, Web float64 // thicknesses: m, above 0
	Gap         float64 // root gap between web and flange: m, 0 or more
	Left, Right Weld
}

// Joint implements [Preparation].
func (p Tee) Joint() (*Joint, error) {
	if err := first(
		checkPositive("thickness of the flange", p.Flange),
		checkPositive("thickness of the web", p.Web),
		checkRange("root gap", p.Gap, 0, Extent/4),
		checkWelded(p.Left.Fillet, p.Right.Fillet),
		p.check("left weld", p.Left),
		p.check("right weld", p.Right),
		checkRange("depths of the bevels and penetrations together", p.reach(p.Left)+p.reach(p.Right), 0, p.Web+tolerance),
	); err != nil {
		return nil, err
	}
	j := &Joint{Plate: Plate{Name: "flange", Thickness: p.Flange}}
	l, r := p.corner("left", p.Left, -1), p.corner("right", p.Right, 1)
	j.Faces = append(l.faces(p.Left), r.faces(p.Right)...)
	through := p.Web-p.reach(p.Left)-p.reach(p.Right) <= tolerance
	if through {
		r.onFlange, r.onWeb = l.onFlange, l.onWeb // rounding may leave something between them
		if p.Right.Penetration == 0 {
			r.underRoot, r.bevelRoot = r.onFlange, r.onWeb
		}
	}
	if through && p.Gap > 0 {
		j.Metal = []Outline{{"weld metal", append(append(l.flangeSide(), backwards(r.flangeSide())...), append(backwards(r.webSide()), l.webSide()...)...)}}
	} else {
		for _, c := range []corner{l, r} {
			j.addMetal(Outline{c.name + " weld metal", append(append(c.flangeSide(), line(c.fromFlange(), c.fromWeb())...), c.webSide()...)})
		}
	}
	if !through {
		j.Voids = []Outline{{"unwelded land", line(l.onFlange, r.onFlange, r.onWeb, l.onWeb, l.onFlange)}}
	}
	// The back wall of the flange is missing under the welds. Where nothing is welded
	// between them, it is a surface like any other.
	covered := []wedge.Interval{{Min: l.flangeToe.X, Max: l.onFlange.X}, {Min: r.onFlange.X, Max: r.flangeToe.X}}
	if through {
		covered = []wedge.Interval{{Min: l.flangeToe.X, Max: r.flangeToe.X}}
	}
	for _, c := range covered {
		if c.Min < c.Max {
			j.BackGaps = append(j.BackGaps, c)
		}
	}
	for _, c := range []corner{l, r} {
		far := r2.Vec{X: c.sign * Extent, Y: p.Flange}
		outside := appendCurve(line(far, c.flangeToe), c.cap.reversed())
		outside = append(outside, line(c.webToe, r2.Vec{X: c.webToe.X, Y: Extent})...)
		j.Voids = append(j.Voids, Outline{"outside on the " + c.name, outside})
		if c.welded {
			j.Marks = append(j.Marks, Landmark{c.name + " flange toe", c.flangeToe}, Landmark{c.name + " web toe", c.webToe},
				Landmark{c.name + " root", r2.Scale(0.5, r2.Add(c.onFlange, c.onWeb))})
		}
	}
	top, far := r2.Vec{X: -Extent}, r2.Vec{X: Extent}
	flange := line(top, far, r2.Vec{X: Extent, Y: p.Flange}, r2.Vec{X: -Extent, Y: p.Flange}, top)
	web := line(l.bevelEnd, l.bevelRoot, r.bevelRoot, r.bevelEnd,
		r2.Vec{X: r.bevelEnd.X, Y: Extent}, r2.Vec{X: l.bevelEnd.X, Y: Extent}, l.bevelEnd)
	j.Parts = []Outline{{"flange", flange}, {"web", web}}
	return j, j.check()
}

// reach returns how far the weld goes into the thickness of the web.
func (p Tee) reach(w Weld) float64 { return w.Depth + w.Penetration }

// check reports the first field of a weld that is out of range.
func (p Tee) check(name string, w Weld) error {
	if w == (Weld{}) {
		return nil
	}
	if err := first(
		checkAngle("bevel angle of the "+name, w.Angle),
		checkRange("depth of the bevel of the "+name, w.Depth, 0, p.Web),
		checkRange("penetration of the "+name, w.Penetration, 0, p.Web),
	); err != nil {
		return err
	}
	return w.validate(name, p.Gap+w.Depth*math.Tan(w.Angle), Extent/4)
}

// corner is one side of a tee.
type corner struct {
	name              string
	sign              float64
	welded            bool
	gap               bool
	flangeToe, webToe r2.Vec
	cap               Curve  // the weld face, from the web to the flange
	bevelEnd          r2.Vec // on the side of the web
	bevelRoot         r2.Vec // at the root face
	underRoot         r2.Vec // on the flange under it
	onFlange, onWeb   r2.Vec // how far the weld goes
}

func (p Tee) corner(name string, w Weld, sign float64) corner {
	at := func(depth, z float64) r2.Vec { return r2.Vec{X: sign * (p.Web/2 - depth), Y: p.Flange + z} }
	leg, other := w.legs()
	c := corner{
		name: name, sign: sign, welded: !w.none(), gap: p.Gap > 0,
		flangeToe: at(-leg, 0), webToe: at(0, other),
		bevelEnd: at(0, p.Gap+w.Depth*math.Tan(w.Angle)), bevelRoot: at(w.Depth, p.Gap), underRoot: at(w.Depth, 0),
		onFlange: at(p.reach(w), 0), onWeb: at(p.reach(w), p.Gap),
	}
	if w.none() {
		c.webToe = c.bevelEnd // the corner of the web
	}
	c.cap = w.face(c.webToe, c.flangeToe, sign)
	return c
}

// fromFlange and fromWeb return where the weld metal ends towards the other side: a
// root face that touches the flange has none on it.
func (c corner) fromFlange() r2.Vec {
	if c.gap {
		return c.onFlange
	}
	return c.underRoot
}

func (c corner) fromWeb() r2.Vec {
	if c.gap {
		return c.onWeb
	}
	return c.bevelRoot
}

// flangeSide is the outline of the weld metal along the flange, from the toe.
func (c corner) flangeSide() []Curve { return line(c.flangeToe, c.fromFlange()) }

// webSide is that along the web and the weld face, to the toe on the flange.
func (c corner) webSide() []Curve {
	return appendCurve(line(c.fromWeb(), c.bevelRoot, c.bevelEnd, c.webToe), c.cap)
}

// faces returns the fusion faces, each from left to right or downwards.
func (c corner) faces(w Weld) (faces []Face) {
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
