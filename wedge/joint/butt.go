// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
)

// Bead is the weld metal beyond the surface of a plate, bounded by an arc: excess
// weld metal on the face side (a cap), or penetration on the root side.
type Bead struct {
	Height float64 // of the arc over the line from toe to toe: m, 0 (flush) to half the width
	Width  float64 // from toe to toe along x: m; 0 stands for that of the groove, which it must not be less than
}

// Butt is what all butt joints of two plates have. The origin is in the middle of
// the root gap, on the entry surface of the left plate at the weld.
type Butt struct {
	Thickness float64 // of the plates at the weld: m, above 0
	Gap       float64 // root gap, between the root faces: m, 0 or more
	// Unwelded is the height of the root faces that is not welded (incomplete root
	// penetration), in m, from 0 to all of them: at the back wall, or in the middle of a double preparation.
	Unwelded float64
	// Mismatch is how much deeper the right plate lies (linear misalignment), in m,
	// of either sign, less than a quarter of the thickness.
	Mismatch float64
	Cap      Bead // on the entry surface
	Root     Bead // on the back wall; of a joint that is not welded there, none
	// LeftTaper and RightTaper make a plate thicker away from the weld.
	LeftTaper, RightTaper Taper
}

// bevel is the preparation of an edge from one surface of the plate to its root face.
type bevel struct {
	angle  float64 // between the fusion face and the plane across the plate, rad
	radius float64 // of the arc to the root face, which it meets at a right angle; 0 for none, m
	depth  float64 // of the end of the root face below the surface, m
}

// tangent returns how far from the root face, and how deep, the arc begins.
func (b bevel) tangent() (w, z float64) {
	sin, cos := math.Sincos(b.angle)
	return b.radius * cos, b.depth - b.radius*(1-sin)
}

// width returns how far from the root face the bevel meets the surface.
func (b bevel) width() float64 {
	w, z := b.tangent()
	return w + z*math.Tan(b.angle)
}

// sagitta returns that of the arc.
func (b bevel) sagitta() float64 { return b.radius * (1 - math.Cos((math.Pi/2-b.angle)/2)) }

// name returns what the trade calls the face.
func (b bevel) name() string {
	if b.angle == 0 && b.radius == 0 {
		return "square edge"
	}
	return "bevel"
}

// edge is the preparation of one edge.
type edge struct{ upper, lower bevel }

// groove returns the joint of two edges with root faces of a height. A double joint
// is welded from both sides.
func (b Butt) groove(left, right edge, root float64, double bool) (*Joint, error) {
	faceEnd := b.Thickness - left.lower.depth
	if err := first(
		checkPositive("thickness", b.Thickness),
		checkRange("root gap", b.Gap, 0, Extent/2),
		checkRange("unwelded height", b.Unwelded, 0, root),
		b.LeftTaper.validate("left taper"),
		b.RightTaper.validate("right taper"),
	); err != nil {
		return nil, err
	}
	if !(4*math.Abs(b.Mismatch) < b.Thickness) {
		return nil, fmt.Errorf("joint: mismatch %v m: want less than a quarter of the thickness %v m", b.Mismatch, b.Thickness)
	}
	// What is not welded of the root faces, from and to which depth.
	from, to := b.Thickness, b.Thickness
	if b.Unwelded > 0 {
		to = faceEnd
		if double {
			to -= (root - b.Unwelded) / 2
		}
		from = math.Max(to-b.Unwelded, left.upper.depth)
		if !double && b.Root != (Bead{}) {
			return nil, fmt.Errorf("joint: root bead %v under an unwelded root: want none", b.Root)
		}
	}
	j := new(Joint)
	l, r := b.side("left", left, -1, from, to), b.side("right", right, 1, from, to)
	j.Faces = append(l.faces, r.faces...)
	top, marks, err := b.Cap.between("cap", "", l.start(), r.start(), -1)
	if err != nil {
		return nil, err
	}
	bottom, rootMarks, err := b.Root.between("root bead", "root ", l.end(), r.end(), 1)
	if err != nil {
		return nil, err
	}
	entry := b.surface([2]r2.Vec{marks[0].At, marks[1].At}, b.Cap, -1)
	back := b.surface([2]r2.Vec{rootMarks[0].At, rootMarks[1].At}, b.Root, 1)
	if double || b.Unwelded == 0 {
		marks = append(marks, rootMarks...)
	}
	j.Marks = append(marks, Landmark{"root", r2.Scale(0.5, r2.Add(l.root(double), r.root(double)))})
	if b.Unwelded == 0 && (b.Gap > 0 || root == 0) {
		j.Metal = []Outline{enclosed("weld metal", l.all(), bottom, r.all(), top)}
	} else {
		// Root faces that touch, welded or not, part the weld metal.
		j.addMetal(enclosed("upper weld metal", l.upper, line(l.land.From, r.land.From), r.upper, top))
		if double || b.Unwelded == 0 {
			j.addMetal(enclosed("lower weld metal", l.lower, bottom, r.lower, line(r.land.To, l.land.To)))
		}
	}
	if b.Unwelded > 0 {
		j.Voids = []Outline{enclosed("unwelded root", []Curve{l.void}, line(l.void.To, r.void.To), []Curve{r.void}, line(r.void.From, l.void.From))}
	}
	for _, s := range []struct {
		surface
		name string
	}{{entry, "outside above"}, {back, "outside below"}} {
		if !s.level() {
			j.Voids = append(j.Voids, s.outside(s.name))
		}
	}
	j.Parts = []Outline{l.plate("left plate", entry, back, 0), r.plate("right plate", entry, back, 1)}
	j.plates(entry, back)
	return j, j.check()
}

// plates sets the plates of a butt joint.
func (j *Joint) plates(entry, back surface) {
	top, thickness := entry.flat, [2]float64{back.flat[0].Y - entry.flat[0].Y, back.flat[1].Y - entry.flat[1].Y}
	j.Plate = Plate{Name: "left plate", Top: top[0].Y, Thickness: thickness[0]}
	j.Other = &Plate{Name: "right plate", Top: top[1].Y, Thickness: thickness[1]}
	j.EntryGaps, j.Other.EntryGaps = entry.gaps()
	j.BackGaps, j.Other.BackGaps = back.gaps()
}

// enclosed returns the outline down the left chain, across the bottom from left to
// right, up the right chain and back along the top, which runs from right to left.
func enclosed(name string, left, bottom, right, top []Curve) Outline {
	edges := append([]Curve(nil), left...)
	edges = append(edges, bottom...)
	edges = append(edges, backwards(right)...)
	return Outline{name, append(edges, top...)}
}

// side is the edge of one plate, from the entry surface downwards.
type side struct {
	faces []Face  // the fusion faces
	upper []Curve // where the weld metal above the land ends
	land  Curve   // where there is none: what is not welded, or the root face where they touch
	lower []Curve // where the weld metal below the land ends
	void  Curve   // what is not welded
	// middle is that of the root face.
	middle r2.Vec
}

// side returns the edge of the plate at x of the given sign. Its root face is not
// welded from one depth to another.
func (b Butt) side(name string, e edge, sign, from, to float64) side {
	at := func(w, z float64) r2.Vec {
		v := r2.Vec{X: sign * (b.Gap/2 + w), Y: z}
		if sign > 0 {
			v.Y += b.Mismatch
		}
		return v
	}
	var s side
	fused := func(part string, from, to r2.Vec, sagitta float64) []Curve {
		c := Curve{from, to, -sign * sagitta}
		if from == to {
			return nil
		}
		s.faces = append(s.faces, Face{name + " " + part, c})
		return []Curve{c}
	}
	start, end := e.upper.depth, b.Thickness-e.lower.depth // of the root face
	from, to = math.Min(from, end), math.Min(to, end)
	if math.Abs(from-start) <= tolerance {
		from = start // rounding leaves no face of no length
	}
	if math.Abs(to-end) <= tolerance {
		to = end
	}
	w, z := e.upper.tangent()
	s.upper = fused(e.upper.name(), at(e.upper.width(), 0), at(w, z), 0)
	s.upper = append(s.upper, fused("root radius", at(w, z), at(0, start), e.upper.sagitta())...)
	above := fused("root face", at(0, start), at(0, from), 0)
	below := fused("lower root face", at(0, to), at(0, end), 0)
	w, z = e.lower.tangent()
	s.lower = fused("lower root radius", at(0, end), at(w, b.Thickness-z), e.lower.sagitta())
	s.lower = append(s.lower, fused("lower "+e.lower.name(), at(w, b.Thickness-z), at(e.lower.width(), b.Thickness), 0)...)
	s.void = Curve{From: at(0, from), To: at(0, to)}
	s.land, s.middle = s.void, at(0, (start+end)/2)
	if b.Gap > 0 {
		s.upper, s.lower = append(s.upper, above...), append(below, s.lower...)
	} else {
		s.land = Curve{From: at(0, start), To: at(0, end)}
	}
	return s
}

func (s side) all() []Curve {
	return append(appendCurve(append([]Curve(nil), s.upper...), s.land), s.lower...)
}

func (s side) start() r2.Vec { return s.all()[0].From }
func (s side) end() r2.Vec   { return s.all()[len(s.all())-1].To }

// root returns where the weld metal is deepest, or, in a double joint, the middle of
// the root face.
func (s side) root(double bool) r2.Vec {
	if double {
		return s.middle
	}
	return s.void.From
}

// plate returns the outline of the left plate (i = 0) or the right one (1).
func (s side) plate(name string, entry, back surface, i int) Outline {
	x := Extent * (2*float64(i) - 1)
	far := line(s.end(), back.toes[i], back.flat[i], r2.Vec{X: x, Y: back.flat[i].Y},
		r2.Vec{X: x, Y: entry.flat[i].Y}, entry.flat[i], entry.toes[i], s.start())
	return Outline{name, append(s.all(), far...)}
}

// between returns the surface of the bead over a groove from its left to its right
// end, and the toes, whose names have the prefix: towards +z if the sign is +1,
// and then from left to right; towards -z, and from right to left, if it is -1.
func (b Bead) between(name, prefix string, left, right r2.Vec, sign float64) ([]Curve, []Landmark, error) {
	width, groove := b.Width, right.X-left.X
	if width == 0 {
		width = groove
	}
	if !(width >= groove-tolerance && width <= Extent) {
		return nil, nil, fmt.Errorf("joint: width of the %s %v m: want 0, or %v m (the groove) to %v m", name, b.Width, groove, Extent)
	}
	if err := checkRange("height of the "+name, b.Height, 0, width/2); err != nil {
		return nil, nil, err
	}
	overlap := math.Max(0, (width-groove)/2)
	toes := [2]r2.Vec{{X: left.X - overlap, Y: left.Y}, {X: right.X + overlap, Y: right.Y}}
	marks := []Landmark{{"left " + prefix + "toe", toes[0]}, {"right " + prefix + "toe", toes[1]}}
	if b.Height == 0 && left.Y == right.Y {
		toes = [2]r2.Vec{left, right} // flush: there is nothing beyond the groove
		marks[0].At, marks[1].At = left, right
	}
	chain := appendCurve(nil, Curve{From: left, To: toes[0]})
	chain = appendCurve(chain, Curve{toes[0], toes[1], sign * b.Height})
	chain = appendCurve(chain, Curve{From: toes[1], To: right})
	if sign < 0 {
		chain = backwards(chain)
	}
	return chain, marks, nil
}
