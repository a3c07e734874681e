// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// metalOf returns the regions of weld metal of a joint.
func metalOf(weld *joint.Joint) []joint.Region {
	var out []joint.Region
	for _, r := range check.Must(weld.Section()).Regions {
		if r.Zone == joint.WeldMetal {
			out = append(out, r)
		}
	}
	return out
}

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
	rootFace, you, double := narrowBelow, narrowBelow, narrowBelow
	rootFace.RootFace = 3e-3
	round := joint.Edge{Upper: joint.Bevel{Radius: 3e-3}}
	you.RootFace, you.Left, you.Right = 9e-3, round, round
	double.RootFace, double.LowerGroove = 2e-3, 5e-3
	double.Left.Lower, double.Right.Lower = bevel, bevel
	double.Root = joint.Bead{}
	square := joint.Butt{Thickness: 12e-3, Gap: 4e-3, RootFace: 12e-3}
	for _, row := range []struct {
		name string
		butt joint.Butt
		want groove // of the joint shifted by 5 mm along x and 2 mm along z
	}{
		{"single V", narrowBelow, groove{5e-3, 14e-3, 2e-3, 2e-3, 0.4, 14e-3}},
		{"single V, wide at the back wall", narrowAbove, groove{5e-3, 2e-3, 14e-3, 2e-3, 0.4, 2e-3}},
		{"square", square, groove{5e-3, 14e-3, 2e-3, 2e-3, 0, 14e-3}},
		{"root face", rootFace, groove{5e-3, 11e-3, 2e-3, 2e-3, 0.4, 14e-3}},
		{"U: 3 mm deep, the width of the arc is its radius", you, groove{5e-3, 5e-3, 2e-3, 2e-3, math.Pi / 4, 14e-3}},
		{"upper half of an X", double, groove{5e-3, 7e-3, 2e-3, 2e-3, 0.4, 8e-3}},
	} {
		weld := check.Must(row.butt.Joint()).Shifted(r2.Vec{X: 5e-3, Y: 2e-3})
		got := check.Must(newGroove(metalOf(weld)[0]))
		check.Within(t, row.name+": waist", got.waist, row.want.waist, 1e-15)
		check.Within(t, row.name+": centre", got.centre, row.want.centre, 1e-15)
		check.Within(t, row.name+": root", got.root, row.want.root, 1e-15)
		check.Within(t, row.name+": cap", got.cap, row.want.cap, 1e-15)
		check.Within(t, row.name+": half of the root", got.halfRoot, row.want.halfRoot, 1e-15)
		check.Within(t, row.name+": bevel", got.bevel, row.want.bevel, 1e-12)
	}
}

// TestLawsRefuse checks the joints without a law or without a section.
func TestLawsRefuse(t *testing.T) {
	butt := func(change func(*joint.Butt)) *joint.Joint {
		b := veeButt
		change(&b)
		return check.Must(b.Joint())
	}
	fillet := joint.TeeWeld{Fillet: joint.Fillet{Leg: 5e-3}}
	tee := check.Must(joint.Tee{Flange: 10e-3, Web: 10e-3, Gap: 1e-4, Left: fillet}.Joint())
	touching := check.Must(joint.Tee{Flange: 10e-3, Web: 10e-3, Left: fillet}.Joint())
	lap := joint.Lap{Upper: 10e-3, Lower: 10e-3, Overlap: 40e-3, Gap: 1e-4, Right: fillet.Fillet}
	curves, _ := metal(t, weldMetals[0])
	for _, row := range []struct {
		name, want string
		weld       *joint.Joint
		part       bool // whether there is a part, with the grains of another texture
	}{
		{"nil", "joint is missing", nil, false},
		{"tee", "left web face", tee, true},
		{"tee that touches", "want a gap", touching, false},
		{"lap", "right upper plate edge", check.Must(lap.Joint()), true},
		{"mismatch", "same surfaces", butt(func(b *joint.Butt) { b.Mismatch = 1e-3 }), false},
		{"taper", "same surfaces", butt(func(b *joint.Butt) { b.RightTaper.Below = 1e-3 }), false},
		{"bevel on one side", "mirror images", butt(func(b *joint.Butt) { b.Left = joint.Edge{} }), true},
		{"no root gap", "root gap", butt(func(b *joint.Butt) { b.Gap = 0 }), true},
		{"flat bevel", "bevel angle", butt(func(b *joint.Butt) {
			b.Left.Upper.Angle, b.Right.Upper.Angle, b.Thickness = 1.5, 1.5, 10e-3
		}), true},
	} {
		_, err := NewGrainLaw(row.weld, 1, 1)
		check.Error(t, err, "graded: ", row.want)
		if _, err := NewWeld(nil, parent, curves, constant(0), row.weld); (err == nil) != row.part {
			t.Errorf("%s: error %v of the part", row.name, err)
		}
	}
	_, err := NewWeld(nil, parent, curves, constant(0), veeWeld, Layer{})
	check.Error(t, err, "graded: layer 0: ", "sides")
}
