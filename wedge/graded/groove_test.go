// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// TestGroove checks the groove of joints against their sizes.
func TestGroove(t *testing.T) {
	bevel := joint.Bevel{Angle: 0.4}
	upper, lower := joint.Edge{Upper: bevel}, joint.Edge{Lower: bevel}
	narrowBelow := joint.Butt{
		Thickness: 12e-3, Gap: 4e-3, Left: upper, Right: upper,
		Cap: joint.Bead{Height: 1e-3, Width: 20e-3}, Root: joint.Bead{Height: 1e-3, Width: 5e-3},
	}
	narrowAbove := joint.Butt{Thickness: 12e-3, Gap: 4e-3, LowerGroove: 12e-3, Left: lower,
		Right: lower}
	square := joint.Butt{Thickness: 12e-3, Gap: 4e-3, RootFace: 12e-3}
	for _, row := range []struct {
		name string
		butt joint.Butt
		want groove // of the joint shifted by 5 mm along x and 2 mm along z
	}{
		{"single V", narrowBelow, groove{5e-3, 14e-3, 2e-3, 2e-3, 0.4}},
		{"single V, wide at the back wall", narrowAbove, groove{5e-3, 2e-3, 14e-3, 2e-3, 0.4}},
		{"square", square, groove{5e-3, 14e-3, 2e-3, 2e-3, 0}},
	} {
		weld := check.Must(row.butt.Joint()).Shifted(r2.Vec{X: 5e-3, Y: 2e-3})
		got := check.Must(newGroove(weld))
		check.Within(t, row.name+": centre", got.centre, row.want.centre, 1e-15)
		check.Within(t, row.name+": root", got.root, row.want.root, 1e-15)
		check.Within(t, row.name+": cap", got.cap, row.want.cap, 1e-15)
		check.Within(t, row.name+": half of the root", got.halfRoot, row.want.halfRoot, 1e-15)
		check.Within(t, row.name+": bevel", got.bevel, row.want.bevel, 1e-12)
	}
}

// TestNewWeldRefuses checks that joints that are no V weld are errors.
func TestNewWeldRefuses(t *testing.T) {
	butt := func(change func(*joint.Butt)) *joint.Joint {
		b := veeButt
		change(&b)
		return check.Must(b.Joint())
	}
	fillet := joint.TeeWeld{Fillet: joint.Fillet{Leg: 5e-3}}
	tee := check.Must(joint.Tee{Flange: 10e-3, Web: 10e-3, Left: fillet}.Joint())
	lap := joint.Lap{Upper: 10e-3, Lower: 10e-3, Overlap: 40e-3, Right: fillet.Fillet}
	curves, _ := metal(t, weldMetals[0])
	for _, row := range []struct {
		name, want string
		weld       *joint.Joint
	}{
		{"nil", "joint is missing", nil},
		{"tee", "left web face", tee},
		{"lap", "right upper plate edge", check.Must(lap.Joint())},
		{"root face", "left root face", butt(func(b *joint.Butt) { b.RootFace = 2e-3 })},
		{"U", "left root radius", butt(func(b *joint.Butt) { b.Left.Upper.Radius = 4e-3 })},
		{"mismatch", "fusion faces", butt(func(b *joint.Butt) { b.Mismatch = 1e-3 })},
		{"taper", "same surfaces", butt(func(b *joint.Butt) { b.RightTaper.Below = 1e-3 })},
		{"bevel on one side", "mirror images", butt(func(b *joint.Butt) { b.Left = joint.Edge{} })},
		{"no root gap", "root gap", butt(func(b *joint.Butt) { b.Gap = 0 })},
		{"flat bevel", "bevel angle", butt(func(b *joint.Butt) {
			b.Left.Upper.Angle, b.Right.Upper.Angle, b.Thickness = 1.5, 1.5, 10e-3
		})},
	} {
		_, err := NewWeld(nil, parent, curves, constant(0), row.weld)
		check.Error(t, err, "graded: ", row.want)
	}
}
