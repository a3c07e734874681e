// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/internal/check"
)

// mm returns the point of x and z in mm.
func mm(x, z float64) r2.Vec { return r2.Vec{X: x * 1e-3, Y: z * 1e-3} }

// TestNearest compares distances from fusion faces with trigonometry.
func TestNearest(t *testing.T) {
	sin, cos := math.Sincos(30 * deg)
	// The left bevel of singleV ends at (-1.5, 18) mm and begins 18·tan 30° mm further left. Its
	// normal into the plate is (-cos 30°, sin 30°).
	bevelMiddle := mm(-1.5-9*math.Tan(30*deg), 9)
	off := func(d float64) r2.Vec {
		return r2.Add(bevelMiddle,
			r2.Scale(d, r2.Vec{X: -cos, Y: sin}))
	}
	u := single(plates, 3e-3, Bevel{8 * deg, 6e-3}, Bevel{8 * deg, 6e-3})
	bevel := single(plates, 2e-3, square, Bevel{Angle: 45 * deg})
	doubleU := double(plates, 2e-3, Bevel{8 * deg, 4e-3}, Bevel{8 * deg, 4e-3})
	// The centre of the right arc of u lies 6 mm above the end of the root face at (1.5, 17) mm.
	down := 45 * deg
	onArc := func(radius float64) r2.Vec {
		return mm(1.5+radius*math.Sin(down),
			11+radius*math.Cos(down))
	}
	for _, test := range []struct {
		name        string
		p           preparation
		at          r2.Vec
		face        string
		distance    float64 // mm
		inclination float64
	}{
		{"0.4 mm into the left plate", singleV, off(0.4e-3), "left bevel", 0.4, 30 * deg},
		{"0.7 mm into the weld", singleV, off(-0.7e-3), "left bevel", -0.7, 30 * deg},
		{"beside the right root face", singleV, mm(2.5, 19.5), "right root face", 1, 0},
		{"middle of the root gap", singleV, mm(-0.2, 19.5), "left root face", -1.3, 0},
		{"square edge of a single bevel", bevel, mm(-2.5, 5), "left square edge", 1, 0},
		{"bevel of 45°", bevel, mm(1.5+9+math.Sqrt2, 9), "right bevel", 1, -45 * deg},
		{"outside of the arc of a U", u, onArc(6.5), "right root radius", 0.5, -45 * deg},
		{"inside of it", u, onArc(5.25), "right root radius", -0.75, -45 * deg},
		{"between the root faces of a U, below its arcs", u, mm(0.6, 17.2), "right root face", -0.9,
			0},
		{"in the flange under a fillet", filletT, mm(-10, 15), "left flange face", 1, 90 * deg},
		{"in the web beside it", filletT, mm(5, 19), "right web face", 1, 0},
		{"in the web over a bevel of 45°", Tee{Flange: 20e-3, Web: 16e-3, Gap: 2e-3,
			Left: TeeWeld{Fillet: Fillet{Leg: 4e-3, OtherLeg: 14e-3}, Angle: 45 * deg,
				Depth: 8e-3}}, mm(-4+math.Sqrt2, 26+math.Sqrt2), "left web bevel", 2, -45 * deg},
		{"beside the square edge of a double bevel, under the root face",
			double(plates, 2e-3, square, Bevel{Angle: 45 * deg}), mm(-2.5,
				15), "left lower square edge", 1, 0},
		{"inside of the lower arc of a double U", doubleU, mm(1.5+3.5*math.Sin(down),
			15-3.5*math.Cos(down)), "right lower root radius", -0.5, 45 * deg},
		{"in the lower plate under a lap weld", lapped, mm(23, 12), "right lower plate face", 1.5,
			90 * deg},
	} {
		j := check.Must(test.p.Joint())
		n := j.Nearest(test.at)
		if n.Face.Name != test.face || !(math.Abs(n.Distance*1e3-test.distance) <= 1e-9) ||
			!(math.Abs(n.Inclination-test.inclination) <= 1e-9) {
			t.Errorf("%s: %v mm from the %s at %v°; want %v mm, the %s at %v°",
				test.name, n.Distance*1e3, n.Face.Name, n.Inclination/deg,
				test.distance, test.face, test.inclination/deg)
		}
		if d := r2.Norm(r2.Sub(n.Foot, test.at)); !(math.Abs(d-math.Abs(n.Distance)) <= 1e-15) {
			t.Errorf("%s: the foot is %v m away, the face %v m", test.name, d, n.Distance)
		}
		shift := mm(12, 3)
		if m := j.Shifted(shift).Nearest(r2.Add(test.at,
			shift)); !(math.Abs(m.Distance-n.Distance) <= 1e-14) || m.Face.Name != n.Face.Name {
			t.Errorf("%s, shifted: %v m from the %s", test.name, m.Distance, m.Face.Name)
		}
	}
}

// TestZone checks places whose zone follows from the sizes at once.
func TestZone(t *testing.T) {
	for _, test := range []struct {
		name string
		p    preparation
		at   r2.Vec
		want Zone
	}{
		{"middle of the groove", singleV, mm(0, 5), WeldMetal},
		{"in the cap", singleV, mm(0, -1.9), WeldMetal},
		{"over the cap", singleV, mm(0, -2.1), Outside},
		{"on the cap", singleV, mm(0, -2), WeldMetal},
		{"in the root bead", singleV, mm(0, 20.9), WeldMetal},
		{"under it", singleV, mm(0, 21.1), Outside},
		{"beside the cap", singleV, mm(20, -0.1), Outside},
		{"near the root face", singleV, mm(3.4, 19), HeatAffected},
		{"farther from it", singleV, mm(3.6, 19), Parent},
		{"on the back wall", singleV, mm(30, 20), Parent},
		{"in the gap that is not welded", lackV, mm(0, 19), Outside},
		{"over it", lackV, mm(0, 16.9), WeldMetal},
		{"between flange and web, away from the weld", Tee{Flange: 16e-3, Web: 12e-3, Gap: 1e-3,
			Left: TeeWeld{Fillet: Fillet{Leg: 8e-3}}}, mm(0, 16.5), Outside},
		{"in the web", filletT, mm(0, 40), Parent},
		{"beside the web", filletT, mm(15, 20), Outside},
		{"in the fillet", filletT, mm(8, 18), WeldMetal},
		{"in the gap of a lap joint", lapped, mm(0, 10.25), Outside},
		{"over the lower plate", lapped, mm(35, 5), Outside},
		{"not finite", singleV, r2.Vec{X: math.NaN()}, Outside},
	} {
		if got := check.Must(test.p.Joint()).Zone(test.at, 2e-3); got != test.want {
			t.Errorf("%s: %v, want %v", test.name, got, test.want)
		}
	}
	if !math.IsNaN(check.Must(singleV.Joint()).Nearest(r2.Vec{X: math.Inf(1)}).Distance) {
		t.Error("distance of a point that is not finite is a number")
	}
}

// TestMarks compares toes, roots and depth fractions with values derived by hand.
func TestMarks(t *testing.T) {
	for _, test := range []struct {
		p    preparation
		mark string
		want r2.Vec
	}{
		{singleV, "left toe", mm(-14, 0)},
		{singleV, "right root toe", mm(3, 20)},
		{singleV, "root", mm(0, 20)},
		{lackV, "root", mm(0, 17)},
		{lackV, "right toe", mm(0.5+16*math.Tan(30*deg), 0)},
		{doubleV, "root", mm(0, 15)},
		{filletT, "left flange toe", mm(-14, 16)},
		{filletT, "right web toe", mm(6, 24)},
		{filletT, "right root", mm(6, 16)},
		{lapped, "right upper plate toe", mm(20, 2.5)},
		{lapped, "left lower plate toe", mm(-20, 18)},
	} {
		j := check.Must(test.p.Joint())
		if got, ok := j.Marks[test.mark]; !ok || !(r2.Norm(r2.Sub(got, test.want)) <= 1e-15) {
			t.Errorf("%T, %s: %v, %v; want %v", test.p, test.mark, got, ok, test.want)
		}
	}
	j := check.Must(singleV.Joint()).Shifted(mm(1, 2))
	if got := j.DepthFraction(mm(0, 7)); !(math.Abs(got-0.25) <= 1e-15) {
		t.Errorf("5 mm of 20 mm: %v", got)
	}
	if _, ok := j.Face("middle"); ok {
		t.Error("there is a face that is none")
	}
}

// TestSquare follows the beam leg by leg, with its reflections, to the face. It also checks that a
// bevel of 30° needs a beam of 60° after one skip (common practice, no source).
func TestSquare(t *testing.T) {
	j := check.Must(singleV.Joint())
	left, _ := j.Face("left bevel")
	beam := check.Must(j.Square(left, 0.5, 1))
	check.Within(t, "angle of the beam", beam.Angle, 60*deg, 1e-12)
	// 31 mm of depth unfolded: 20 mm down and 11 mm up to the middle at 9 mm.
	want := -1.5e-3 - 9e-3*math.Tan(30*deg) - 31e-3*math.Tan(60*deg)
	check.Within(t, "start of the beam", beam.Index, want, 1e-12)
	for name, p := range preparations() {
		j := check.Must(p.Joint())
		for _, f := range j.Faces {
			for skips := range 4 {
				beam, err := j.Square(f, 0.4, skips)
				if err != nil {
					if math.Abs(f.Inclination(0.4)) > 1e-6 && f.At(0.4).Y <= j.Top+j.Thickness {
						t.Errorf("%s, %s: %v", name, f.Name, err)
					}
					continue
				}
				sin, cos := math.Sincos(beam.Angle)
				at, d, rest := r2.Vec{X: beam.Index, Y: j.Top}, r2.Vec{X: sin, Y: cos}, beam.Path
				for range skips {
					leg := j.Thickness / cos
					at, rest = r2.Add(at, r2.Scale(leg, d)), rest-leg
					d.Y = -d.Y
				}
				at = r2.Add(at, r2.Scale(rest, d))
				along := r2.Unit(f.tangent(0.4))
				if !(r2.Norm(r2.Sub(at, f.At(0.4))) <= 1e-12) ||
					!(math.Abs(r2.Dot(along, d)) <= 1e-12) || rest < -1e-12 {
					t.Errorf("%s, %s after %d skips: beam %+v ends at %v along %v, "+
						"want %v at a right angle to %v",
						name, f.Name, skips, beam, at, d, f.At(0.4), along)
				}
			}
		}
	}
	root, _ := j.Face("left root face")
	for _, test := range []struct {
		f     Face
		share float64
		skips int
		words string
	}{
		{root, 0.5, 1, "inclination"}, {left, math.NaN(), 1, "share"}, {left, -1, 1,
			"share"}, {left, 0, -1, "skips"}, {left, 0, 1001, "skips"},
		{Face{"deep face", curve{from: mm(0, 30), to: mm(1, 40)}}, 0.5, 1, "depth"},
	} {
		if _, err := j.Square(test.f, test.share, test.skips); err == nil ||
			!strings.Contains(err.Error(), test.words) {
			t.Errorf("%+v: error %v, want one about %s", test, err, test.words)
		}
	}
}

// TestInput checks that errors name the field.
func TestInput(t *testing.T) {
	v := func(change func(*Butt)) preparation {
		p := singleV
		change(&p)
		return p
	}
	tee := func(change func(*Tee)) preparation {
		p := buttT
		change(&p)
		return p
	}
	lap := func(change func(*Lap)) preparation {
		p := lapped
		change(&p)
		return p
	}
	lower := func(b Bevel, height float64) preparation {
		p := doubleVee(plates, 8*deg, 2e-3)
		p.Left.Lower, p.LowerGroove = b, height
		return p
	}
	nan := math.NaN()
	for _, test := range []struct {
		p     preparation
		words string
	}{
		{Butt{}, "thickness 0 m"},
		{v(func(p *Butt) { p.Thickness = nan }), "thickness NaN m"},
		{v(func(p *Butt) { p.Left.Upper.Angle = math.Pi / 2 }), "bevel angle of the left edge"},
		{v(func(p *Butt) { p.Right.Upper.Angle = nan }), "bevel angle of the right edge NaN rad"},
		{v(func(p *Butt) { p.Gap = -1e-3 }), "root gap -0.001 m: want 0"},
		{v(func(p *Butt) { p.RootFace = 20e-3 }), "bevel {Angle:0.52"},
		{v(func(p *Butt) { p.RootFace = 21e-3 }), "root face 0.021 m: want 0 to 0.02"},
		{v(func(p *Butt) { p.LowerGroove = 19e-3 }), "lower groove 0.019 m"},
		{v(func(p *Butt) { p.LowerGroove = nan }), "lower groove NaN m"},
		{v(func(p *Butt) { p.Right.Lower.Angle = 0.5 }),
			"lower bevel {Angle:0.5 Radius:0} of the right edge in a groove of 0 m"},
		{v(func(p *Butt) { p.Unwelded = 3e-3 }), "unwelded height 0.003 m: want 0 to 0.002"},
		{v(func(p *Butt) { p.Unwelded = 1e-3 }), "root bead"},
		{v(func(p *Butt) { p.Unwelded = nan }), "unwelded height NaN m"},
		{v(func(p *Butt) { p.Mismatch = 5e-3 }), "mismatch 0.005 m"},
		{v(func(p *Butt) { p.Mismatch = nan }), "mismatch NaN m"},
		{v(func(p *Butt) { p.Cap.Width = 20e-3 }), "width of the cap 0.02 m"},
		{v(func(p *Butt) { p.Cap.Height = nan }), "height of the cap NaN m"},
		{v(func(p *Butt) { p.Root.Height = 4e-3 }),
			"height of the root bead 0.004 m: want 0 to 0.003"},
		{v(func(p *Butt) { p.Left.Upper.Angle = 89.9 * deg; p.Cap.Width = 0 }), "0.5 m"},
		{single(plates, 3e-3, square, Bevel{8 * deg, 30e-3}),
			"root radius of the right edge 0.03 m"},
		{lower(Bevel{Angle: 2}, 9e-3), "lower bevel angle of the left edge 2 rad"},
		{double(plates, 2e-3, Bevel{8 * deg, 12e-3}, square),
			"root radius of the left edge 0.012 m"},
		{lower(Bevel{8 * deg, 4e-3}, 3e-3), "lower root radius of the left edge 0.004 m"},
		{double(plates, 2e-3, Bevel{8 * deg, nan}, square), "root radius of the left edge NaN m"},
		{double(plates, 0, square, Bevel{Angle: -1}), "bevel angle of the right edge -1 rad"},
		{v(func(p *Butt) { p.RightTaper.Below = -1e-3 }), "rise below of the right taper -0.001 m"},
		{v(func(p *Butt) { p.LeftTaper.Above = nan }), "rise above of the left taper NaN m"},
		{v(func(p *Butt) { p.LeftTaper = Taper{Above: 1e-3, Angle: 2} }),
			"angle of the left taper 2 rad"},
		{v(func(p *Butt) { p.LeftTaper = Taper{Above: 5e-3, Angle: 0.5 * deg} }), "0.5 m"},
		{Butt{Thickness: 4e-3}, "area 0 m²"},
		{Butt{Thickness: 4e-3, RootFace: 4e-3}, "area 0 m²"},
		{Butt{Thickness: 4e-3, RootFace: 4e-3, Gap: 1e-3, Unwelded: 4e-3, Cap: Bead{1e-3, 5e-3}},
			"0 fusion faces"},
		{Tee{Flange: 10e-3, Web: 10e-3}, "no weld"},
		{tee(func(p *Tee) { p.Web = 0 }), "thickness of the web 0 m"},
		{tee(func(p *Tee) { p.Left.OtherLeg = 5e-3 }), "other leg length of the left weld 0.005 m"},
		{tee(func(p *Tee) { p.Right.Leg = -1 }), "leg length of the right weld -1 m"},
		{tee(func(p *Tee) { p.Right.Convexity = 8e-3 }), // √(4² + 14²)/2 = 7.28
			"convexity of the right weld 0.008 m: want 0 to 0.00728"},
		{tee(func(p *Tee) { p.Right.Penetration = 2e-3 }), "together 0.017"},
		{tee(func(p *Tee) { p.Left.Angle = -1 }), "bevel angle of the left weld -1 rad"},
		{lap(func(p *Lap) { p.Overlap = 0 }), "overlap 0 m"},
		{lap(func(p *Lap) { p.Right.Leg = 11e-3 }),
			"other leg length of the right weld 0.011 m: want 0.0005 to 0.0105"},
		{lap(func(p *Lap) { p.Gap = math.Inf(1) }), "gap +Inf m"},
	} {
		if _, err := test.p.Joint(); err == nil || !strings.HasPrefix(err.Error(), "joint: ") ||
			!strings.Contains(err.Error(), test.words) {
			t.Errorf("%+v: error %v, want one about %s", test.p, err, test.words)
		}
	}
	if _, err := check.Must(lackV.Joint()).Outlines(0); err == nil {
		t.Error("tolerance 0 is accepted")
	}
}

// FromFaces has each face, with the sign of the place of the point; Nearest is the nearest of them.
// In a V weld of 60° the point on the centre line at the depth z is (g/2 + (d - z)·tan 30°)·cos 30°
// from both bevels, with the root gap g and the depth d of the groove (analytic geometry).
func TestFromFaces(t *testing.T) {
	edge := Edge{Upper: Bevel{Angle: math.Pi / 6}}
	j, err := Butt{Thickness: 20e-3, Gap: 3e-3, RootFace: 2e-3, Left: edge, Right: edge}.Joint()
	if err != nil {
		t.Fatal(err)
	}
	if j.Origin != (r2.Vec{}) {
		t.Errorf("origin %v, want 0", j.Origin)
	}
	d := r2.Vec{X: 0.03, Y: 2e-3}
	j = j.Shifted(d)
	if j.Origin != d {
		t.Errorf("origin %v of the shifted joint, want %v", j.Origin, d)
	}
	const z = 8e-3
	want := -(1.5e-3 + (18e-3-z)*math.Tan(math.Pi/6)) * math.Cos(math.Pi/6)
	all := j.FromFaces(r2.Add(d, r2.Vec{Y: z}))
	if len(all) != len(j.Faces) {
		t.Fatalf("%d faces, want %d", len(all), len(j.Faces))
	}
	for i, n := range all {
		if n.Face.Name != j.Faces[i].Name {
			t.Errorf("face %d is the %s, want the %s", i, n.Face.Name, j.Faces[i].Name)
		}
		if strings.HasSuffix(n.Face.Name, "bevel") && !(math.Abs(n.Distance-want) <= 1e-15) {
			t.Errorf("%s: distance %v, want %v", n.Face.Name, n.Distance, want)
		}
	}
	for _, p := range []r2.Vec{{X: 0.021, Y: 9e-3}, {X: 0.041, Y: 5e-3}, {X: 0.0285, Y: 21e-3}} {
		nearest := j.Nearest(p)
		for _, n := range j.FromFaces(p) {
			if math.Abs(n.Distance) < math.Abs(nearest.Distance) || (n.Distance < 0) != (nearest.Distance < 0) {
				t.Errorf("at %v: the %s at %v, nearest %v", p, n.Face.Name, n.Distance, nearest.Distance)
			}
		}
	}
	if all := j.FromFaces(r2.Vec{X: math.NaN()}); all != nil {
		t.Errorf("no point: %v, want nil", all)
	}
}
