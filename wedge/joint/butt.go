// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r2"
)

// Butt is a butt joint of two plates. The origin lies in the middle of the root gap, on the entry
// surface of the left plate at the weld.
type Butt struct {
	Thickness float64 // thickness of both plates at the weld, m, above 0
	Gap       float64 // root gap between the root faces, m, 0 or more
	// RootFace is the height of the root face (land) in m, from 0 to the thickness. A square
	// preparation has a root face as high as the plate.
	RootFace float64
	// LowerGroove is the height of the groove below the root face in m, from 0 to the thickness
	// less the root face. The value 0 stands for a single preparation. A preparation with a lower
	// groove is welded from both sides.
	LowerGroove float64
	Left, Right Edge
	// Unwelded is the height of the root faces that is not welded (incomplete root penetration) in
	// m, from 0 to the root face. It lies at the back wall, or in the middle of the root face if
	// the joint is welded from both sides.
	Unwelded float64
	// Mismatch is the depth of the right plate below the left plate (linear misalignment) in m. It
	// may have either sign, and its size is less than a quarter of the thickness.
	Mismatch float64
	Cap      Bead // on the entry surface
	Root     Bead // on the back wall; the zero value for a single preparation with an unwelded root
	// LeftTaper and RightTaper make a plate thicker away from the weld.
	LeftTaper, RightTaper Taper
}

// grooves returns the depths of the upper and of the lower groove.
func (b Butt) grooves() (upper, lower float64) {
	return max(0, b.Thickness-b.RootFace-b.LowerGroove), b.LowerGroove
}

// check returns an error that names the first field that is out of range.
func (b Butt) check() error {
	err := cmp.Or(
		checkPositive("thickness", b.Thickness),
		checkRange("root face", b.RootFace, 0, b.Thickness),
		checkRange("lower groove", b.LowerGroove, 0, b.Thickness-b.RootFace+tolerance),
	)
	if err != nil {
		return err
	}
	upper, lower := b.grooves()
	err = cmp.Or(
		bevel{b.Left.Upper, upper}.check("", "left edge"),
		bevel{b.Left.Lower, lower}.check("lower ", "left edge"),
		bevel{b.Right.Upper, upper}.check("", "right edge"),
		bevel{b.Right.Lower, lower}.check("lower ", "right edge"),
		checkRange("root gap", b.Gap, 0, extent/2),
		checkRange("unwelded height", b.Unwelded, 0, b.RootFace),
		b.LeftTaper.validate("left taper"),
		b.RightTaper.validate("right taper"),
	)
	switch {
	case err != nil:
		return err
	case !(4*math.Abs(b.Mismatch) < b.Thickness):
		return fmt.Errorf("joint: mismatch %v m: want less than a quarter of the thickness %v m",
			b.Mismatch, b.Thickness)
	case b.Unwelded > 0 && lower == 0 && b.Root != (Bead{}):
		return fmt.Errorf("joint: root bead %v under an unwelded root: want none", b.Root)
	}
	return nil
}

// unwelded returns the depths from which and to which the root faces are not welded.
func (b Butt) unwelded() (from, to float64) {
	if b.Unwelded == 0 {
		return b.Thickness, b.Thickness
	}
	upper, lower := b.grooves()
	to = b.Thickness - lower
	if lower > 0 {
		to -= (b.RootFace - b.Unwelded) / 2
	}
	return max(to-b.Unwelded, upper), to
}

// Joint returns the geometry of the joint, or an error that names the field that is out of range.
func (b Butt) Joint() (*Joint, error) {
	if err := b.check(); err != nil {
		return nil, err
	}
	bothSides := b.LowerGroove > 0
	l, r := b.side("left", b.Left, -1), b.side("right", b.Right, 1)
	top, capToes, err := b.Cap.between("cap", l.start(), r.start(), -1)
	if err != nil {
		return nil, err
	}
	bottom, rootToes, err := b.Root.between("root bead", l.end(), r.end(), 1)
	if err != nil {
		return nil, err
	}
	entry, back := b.surface(capToes, b.Cap, -1), b.surface(rootToes, b.Root, 1)
	j := &Joint{Faces: slices.Concat(l.faces, r.faces), Marks: map[string]r2.Vec{
		"left toe": capToes.left, "right toe": capToes.right,
		"root": r2.Scale(0.5, r2.Add(l.root(bothSides), r.root(bothSides))),
	}}
	if bothSides || b.Unwelded == 0 {
		j.Marks["left root toe"], j.Marks["right root toe"] = rootToes.left, rootToes.right
	}
	if b.Unwelded == 0 && (b.Gap > 0 || b.RootFace == 0) {
		j.metal = []outline{enclosed("weld metal", l.all(), bottom, r.all(), top)}
	} else {
		// Root faces that touch, welded or not, separate the weld metal.
		bottomOfUpper := line(l.land.from, r.land.from)
		j.addMetal(enclosed("upper weld metal", l.upper, bottomOfUpper, r.upper, top))
		if bothSides || b.Unwelded == 0 {
			topOfLower := line(r.land.to, l.land.to)
			j.addMetal(enclosed("lower weld metal", l.lower, bottom, r.lower, topOfLower))
		}
	}
	if b.Unwelded > 0 {
		bottom, top := line(l.void.to, r.void.to), line(r.void.from, l.void.from)
		void := enclosed("unwelded root", []curve{l.void}, bottom, []curve{r.void}, top)
		j.voids = append(j.voids, void)
	}
	if !entry.level() {
		j.voids = append(j.voids, entry.outside("outside above"))
	}
	if !back.level() {
		j.voids = append(j.voids, back.outside("outside below"))
	}
	j.parts = []outline{
		l.plate("left plate", entry, back, 0),
		r.plate("right plate", entry, back, 1),
	}
	j.addPlates(entry, back)
	j.surfaces = b.surfaces(capToes, rootToes, l.void, r.void)
	if b.Unwelded > 0 {
		void := line(l.void.from, r.void.from, r.void.to, l.void.to, l.void.from)
		j.addGap(outline{"unwelded root", void}, b.Gap)
	}
	j.regions = append(j.regions, b.regions(l, r)...)
	j.far = math.NaN()
	if entry.level() && back.level() && j.Top == j.Other.Top && j.Thickness == j.Other.Thickness {
		j.far = j.Top + j.Thickness
	}
	return j, j.check()
}

// surfaces returns the free surfaces between toes, and the root that is not welded.
func (b Butt) surfaces(capToes, rootToes toes, left, right curve) (all []outline) {
	add := func(name string, curves ...curve) { all = append(all, outline{name, curves}) }
	if b.Cap.Height > 0 || capToes.left.Y != capToes.right.Y {
		add("cap", curve{capToes.left, capToes.right, -b.Cap.Height})
	}
	bothSides := b.LowerGroove > 0
	bead := "root"
	if bothSides {
		bead = "lower cap"
	}
	open := b.Unwelded > 0 && !bothSides // the root is not welded down to the back wall
	if !open && (b.Root.Height > 0 || rootToes.left.Y != rootToes.right.Y) {
		add(bead, curve{rootToes.left, rootToes.right, b.Root.Height})
	}
	switch {
	case b.Unwelded == 0:
	case b.Gap == 0:
		add("root", left)
	case bothSides:
		add("root", line(left.from, right.from, right.to, left.to, left.from)...)
	default:
		add("root", line(left.to, left.from, right.from, right.to)...)
	}
	return all
}

// addPlates sets the plates of a butt joint.
func (j *Joint) addPlates(entry, back surface) {
	top := entry.flat
	j.Plate = Plate{Name: "left plate", Top: top[0].Y, Thickness: back.flat[0].Y - top[0].Y}
	j.Other = &Plate{Name: "right plate", Top: top[1].Y, Thickness: back.flat[1].Y - top[1].Y}
	j.EntryGaps, j.Other.EntryGaps = entry.gaps()
	j.BackGaps, j.Other.BackGaps = back.gaps()
}

// enclosed returns the outline down the left chain, across the bottom from left to right, up the
// right chain and back along the top. The top runs from right to left.
func enclosed(name string, left, bottom, right, top []curve) outline {
	return outline{name, slices.Concat(left, bottom, backwards(right), top)}
}

// side is the edge of one plate, from the entry surface downwards.
type side struct {
	faces []Face
	upper []curve // boundary of the weld metal above the land
	// land has no weld metal beside it: it is the unwelded root, or the root face if the root faces
	// touch.
	land   curve
	lower  []curve // boundary of the weld metal below the land
	void   curve   // the unwelded root
	middle r2.Vec  // of the root face
}

// side returns the edge of the plate on the side of the given sign of x.
func (b Butt) side(name string, edge Edge, sign float64) side {
	at := func(w, z float64) r2.Vec {
		v := r2.Vec{X: sign * (b.Gap/2 + w), Y: z}
		if sign > 0 {
			v.Y += b.Mismatch
		}
		return v
	}
	var s side
	fused := func(part string, from, to r2.Vec, sagitta float64) []curve {
		if from == to {
			return nil
		}
		c := curve{from, to, -sign * sagitta}
		s.faces = append(s.faces, Face{name + " " + part, c})
		return []curve{c}
	}
	upperDepth, lowerDepth := b.grooves()
	upper, lower := bevel{edge.Upper, upperDepth}, bevel{edge.Lower, lowerDepth}
	start, end := upperDepth, b.Thickness-lowerDepth // of the root face
	from, to := b.unwelded()
	from, to = min(from, end), min(to, end)
	if math.Abs(from-start) <= tolerance {
		from = start // rounding leaves no face of no length
	}
	if math.Abs(to-end) <= tolerance {
		to = end
	}
	w, z := upper.tangent()
	s.upper = fused(upper.name(), at(upper.width(), 0), at(w, z), 0)
	s.upper = append(s.upper, fused("root radius", at(w, z), at(0, start), upper.sagitta())...)
	above := fused("root face", at(0, start), at(0, from), 0)
	below := fused("lower root face", at(0, to), at(0, end), 0)
	w, z = lower.tangent()
	s.lower = fused("lower root radius", at(0, end), at(w, b.Thickness-z), lower.sagitta())
	s.lower = append(s.lower,
		fused("lower "+lower.name(), at(w, b.Thickness-z), at(lower.width(), b.Thickness), 0)...)
	s.void = curve{from: at(0, from), to: at(0, to)}
	s.land, s.middle = s.void, at(0, (start+end)/2)
	if b.Gap > 0 {
		s.upper, s.lower = append(s.upper, above...), append(below, s.lower...)
	} else {
		s.land = curve{from: at(0, start), to: at(0, end)}
	}
	return s
}

// all returns the whole edge from the entry surface down to the back wall.
func (s side) all() []curve {
	return append(appendCurve(slices.Clone(s.upper), s.land), s.lower...)
}

func (s side) start() r2.Vec { return s.all()[0].from }
func (s side) end() r2.Vec   { return s.all()[len(s.all())-1].to }

// root returns the deepest point of the weld metal, or the middle of the root face of a joint that
// is welded from both sides.
func (s side) root(bothSides bool) r2.Vec {
	if bothSides {
		return s.middle
	}
	return s.void.from
}

// plate returns the outline of the left plate (i = 0) or of the right plate (i = 1).
func (s side) plate(name string, entry, back surface, i int) outline {
	x := extent * (2*float64(i) - 1)
	far := line(s.end(), back.toes[i], back.flat[i], r2.Vec{X: x, Y: back.flat[i].Y},
		r2.Vec{X: x, Y: entry.flat[i].Y}, entry.flat[i], entry.toes[i], s.start())
	return outline{name, append(s.all(), far...)}
}
