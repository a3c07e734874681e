// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
)

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

const deg = math.Pi / 180

// The preparations below have sizes of common practice, no source.
var (
	plates  = Butt{Thickness: 20e-3, Gap: 3e-3}
	cap10   = Bead{Height: 2e-3, Width: 28e-3}
	singleV = SingleV{Butt: Butt{Thickness: 20e-3, Gap: 3e-3, Cap: cap10, Root: Bead{Height: 1e-3, Width: 6e-3}}, Angle: 30 * deg, RootFace: 2e-3}
	doubleV = DoubleV{Butt: Butt{Thickness: 30e-3, Gap: 2e-3, Cap: Bead{2e-3, 22e-3}, Root: Bead{2e-3, 22e-3}}, Angle: 30 * deg, RootFace: 2e-3}
	lackV   = SingleV{Butt: Butt{Thickness: 20e-3, Gap: 1e-3, Unwelded: 3e-3}, Angle: 30 * deg, RootFace: 4e-3}
	filletT = Tee{Flange: 16e-3, Web: 12e-3, Left: Weld{Fillet: Fillet{Leg: 8e-3}}, Right: Weld{Fillet: Fillet{Leg: 8e-3}}}
	buttT   = Tee{
		Flange: 20e-3, Web: 16e-3, Gap: 2e-3,
		Left:  Weld{Fillet: Fillet{Leg: 4e-3, OtherLeg: 14e-3, Convexity: 1e-3}, Angle: 50 * deg, Depth: 7e-3, Penetration: 1e-3},
		Right: Weld{Fillet: Fillet{Leg: 4e-3, OtherLeg: 14e-3, Convexity: 1e-3}, Angle: 50 * deg, Depth: 7e-3, Penetration: 1e-3},
	}
	lapped = Lap{Upper: 10e-3, Lower: 12e-3, Overlap: 40e-3, Gap: 0.5e-3, Left: Fillet{Leg: 8e-3}, Right: Fillet{Leg: 8e-3, Convexity: 0.5e-3}}
)

// preparations are one or more of each kind.
func preparations() map[string]Preparation {
	mismatched := singleV
	mismatched.Mismatch = -1e-3
	closed := SingleV{Butt: Butt{Thickness: 12e-3, Root: Bead{1e-3, 4e-3}}, Angle: 35 * deg, RootFace: 1.5e-3}
	lackX := doubleV
	lackX.Unwelded = 1.5e-3
	lackK := DoubleJ{Butt: Butt{Thickness: 30e-3, Gap: 1e-3, Unwelded: 4e-3}, Angle: 15 * deg, RootFace: 4e-3, Radius: 4e-3, Bevelled: Left}
	thickRight, thickLeft, step := singleV, singleV, singleV
	thickRight.RightTaper = Taper{Below: 5e-3, Angle: 14 * deg}
	thickLeft.LeftTaper = Taper{Above: 3e-3, Below: 3e-3, Angle: 20 * deg}
	step.Mismatch, step.RightTaper = 1e-3, Taper{Above: 4e-3}
	return map[string]Preparation{
		"square butt":              SquareButt{Butt{Thickness: 4e-3, Gap: 2e-3, Cap: Bead{Height: 1e-3, Width: 6e-3}}},
		"square butt, touching":    SquareButt{Butt{Thickness: 4e-3, Unwelded: 1e-3, Cap: Bead{Height: 1e-3, Width: 6e-3}}},
		"single V":                 singleV,
		"single V, mismatch":       mismatched,
		"single V, touching":       closed,
		"single V, unwelded":       lackV,
		"double V":                 doubleV,
		"double V, unwelded":       lackX,
		"double U":                 DoubleU{Butt: Butt{Thickness: 40e-3, Gap: 2e-3}, Angle: 8 * deg, RootFace: 4e-3, Radius: 6e-3},
		"double bevel":             DoubleBevel{Butt: plates, Angle: 45 * deg, RootFace: 2e-3},
		"double J, unwelded":       lackK,
		"square, from both sides":  DoubleV{Butt: Butt{Thickness: 10e-3, Gap: 2e-3, Unwelded: 3e-3}, RootFace: 3e-3},
		"single V, thick right":    thickRight,
		"single V, thick left":     thickLeft,
		"single V, step":           step,
		"single bevel":             SingleBevel{Butt: plates, Angle: 45 * deg, RootFace: 2e-3},
		"single bevel, left":       SingleBevel{Butt: plates, Angle: 45 * deg, RootFace: 2e-3, Bevelled: Left},
		"single U":                 SingleU{Butt: plates, Angle: 8 * deg, RootFace: 3e-3, Radius: 6e-3},
		"single J":                 SingleJ{Butt: plates, Angle: 12 * deg, RootFace: 3e-3, Radius: 6e-3},
		"fillet tee":               filletT,
		"fillet tee, one side":     Tee{Flange: 16e-3, Web: 12e-3, Gap: 1e-3, Left: Weld{Fillet: Fillet{Leg: 8e-3}, Penetration: 2e-3}},
		"double-bevel tee":         buttT,
		"single-bevel tee, no gap": Tee{Flange: 16e-3, Web: 12e-3, Left: Weld{Fillet: Fillet{Leg: 5e-3, OtherLeg: 18e-3}, Angle: 50 * deg, Depth: 12e-3}},
		"lap":                      lapped,
		"lap, right side only":     Lap{Upper: 10e-3, Lower: 12e-3, Overlap: 40e-3, Right: Fillet{Leg: 8e-3}},
	}
}

// TestArea compares areas of weld metal with formulas worked out by hand.
func TestArea(t *testing.T) {
	tan := math.Tan
	// cap is the segment of a circle of a chord and a height.
	segment := func(b Bead) float64 {
		r := (b.Width*b.Width/4 + b.Height*b.Height) / (2 * b.Height)
		return r*r*math.Acos((r-b.Height)/r) - (r-b.Height)*b.Width/2
	}
	// round is what the arc of a U of the bevel angle β and the radius r adds beside the gap.
	round := func(beta, r float64) float64 {
		return r * r / 2 * (math.Pi/2 - beta - math.Sin(beta)*math.Cos(beta))
	}
	u := func(t, gap, c, beta, r float64) (gapArea, oneSide float64) {
		h := t - c - r + r*math.Sin(beta)
		return gap * t, h*r*math.Cos(beta) + h*h*tan(beta)/2 + round(beta, r)
	}
	uGap, uSide := u(20e-3, 3e-3, 3e-3, 8*deg, 6e-3)
	jGap, jSide := u(20e-3, 3e-3, 3e-3, 12*deg, 6e-3)
	_, doubleU := u(18e-3+4e-3, 2e-3, 4e-3, 8*deg, 6e-3)
	_, doubleJ := u(13e-3+4e-3, 1e-3, 4e-3, 15*deg, 4e-3)
	for name, want := range map[string]float64{
		"double U":                 2e-3*40e-3 + 4*doubleU,
		"double bevel":             3e-3*20e-3 + 9e-3*9e-3,
		"double J, unwelded":       1e-3*26e-3 + 2*doubleJ,
		"square, from both sides":  2e-3 * 7e-3,
		"square butt":              4e-3*2e-3 + segment(Bead{1e-3, 6e-3}),
		"single V":                 20e-3*3e-3 + 18e-3*18e-3*tan(30*deg) + segment(singleV.Cap) + segment(singleV.Root),
		"single V, touching":       10.5e-3*10.5e-3*tan(35*deg) + segment(Bead{1e-3, 4e-3}),
		"single V, unwelded":       17e-3*1e-3 + 16e-3*16e-3*tan(30*deg),
		"double V":                 30e-3*2e-3 + 2*14e-3*14e-3*tan(30*deg) + 2*segment(doubleV.Cap),
		"double V, unwelded":       28.5e-3*2e-3 + 2*14e-3*14e-3*tan(30*deg) + 2*segment(doubleV.Cap),
		"single bevel":             20e-3*3e-3 + 18e-3*18e-3/2,
		"single bevel, left":       20e-3*3e-3 + 18e-3*18e-3/2,
		"single U":                 uGap + 2*uSide,
		"single J":                 jGap + jSide,
		"fillet tee":               8e-3 * 8e-3,
		"fillet tee, one side":     8e-3*8e-3/2 + 2e-3*1e-3,
		"double-bevel tee":         4e-3*14e-3 + 2e-3*16e-3 + 7e-3*7e-3*tan(50*deg) + 2*segment(Bead{1e-3, math.Hypot(4e-3, 14e-3)}),
		"single-bevel tee, no gap": 5e-3*18e-3/2 + 12e-3*12e-3*tan(50*deg)/2,
		"lap":                      8e-3*8e-3 + segment(Bead{0.5e-3, 8e-3 * math.Sqrt2}),
	} {
		j := must(preparations()[name].Joint())
		if got := j.Area(); !(math.Abs(got-want) <= 1e-12*want) {
			t.Errorf("%s: %.6f mm², want %.6f mm²", name, got*1e6, want*1e6)
		}
		if got := must(j.Shifted(r2.Vec{X: 0.1, Y: -0.03}), nil).Area(); !(math.Abs(got-want) <= 1e-10*want) {
			t.Errorf("%s, shifted: %.6f mm², want %.6f mm²", name, got*1e6, want*1e6)
		}
	}
}

// TestPlatesAndMetal checks that two plates, the weld metal and what is not
// welded fill the rectangle that flush plates are cut off at, and a tapered one adds a
// trapezium on each side.
func TestPlatesAndMetal(t *testing.T) {
	thicker := plates
	thicker.RightTaper = Taper{Above: 4e-3, Below: 4e-3, Angle: 20 * deg}
	toe := 1.5e-3 + 9e-3*math.Tan(30*deg)
	rise := 2 * (4e-3*(Extent-toe) - 4e-3*4e-3/math.Tan(20*deg)/2)
	for _, p := range []Preparation{
		DoubleU{Butt: plates, Angle: 8 * deg, RootFace: 2e-3, Radius: 3e-3, Depth: 7e-3},
		DoubleBevel{Butt: plates, Angle: 40 * deg, LowerAngle: 50 * deg, RootFace: 2e-3},
		DoubleJ{Butt: plates, Angle: 0, RootFace: 2e-3, Radius: 5e-3, Bevelled: Left},
		DoubleV{Butt: thicker, Angle: 30 * deg, RootFace: 2e-3},
		SingleV{Butt: plates, Angle: 30 * deg, RootFace: 2e-3},
		SingleBevel{Butt: plates, Angle: 45 * deg, RootFace: 2e-3},
		SingleU{Butt: plates, Angle: 8 * deg, RootFace: 3e-3, Radius: 6e-3},
		SingleJ{Butt: plates, Angle: 0, RootFace: 3e-3, Radius: 6e-3, Bevelled: Left},
		DoubleV{Butt: plates, Angle: 30 * deg, LowerAngle: 20 * deg, RootFace: 2e-3, Depth: 11e-3},
		lackV,
	} {
		j := must(p.Joint())
		sum := j.Area()
		for _, o := range append(append([]Outline(nil), j.Parts...), j.Voids...) {
			if !strings.HasPrefix(o.Name, "outside") {
				sum += o.Area()
			}
		}
		want := 2 * Extent * 20e-3
		if v, ok := p.(DoubleV); ok && v.RightTaper != (Taper{}) {
			want += rise
		}
		if !(math.Abs(sum-want) <= 1e-12*want) {
			t.Errorf("%T: %v m², want %v m²", p, sum, want)
		}
	}
}

// TestThroat checks ISO 2553's z = a·√2 (from memory), and a triangle of sides 3, 4, 5.
func TestThroat(t *testing.T) {
	for _, test := range []struct {
		f    Fillet
		want float64
	}{{Fillet{Leg: 8e-3}, 8e-3 / math.Sqrt2}, {Fillet{Leg: 3, OtherLeg: 4}, 12. / 5}, {Fillet{}, 0}} {
		if got := test.f.Throat(); !(math.Abs(got-test.want) <= 1e-15) {
			t.Errorf("%+v: %v m, want %v m", test.f, got, test.want)
		}
	}
}
