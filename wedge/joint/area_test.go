// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/internal/check"
)

const deg = math.Pi / 180

// preparation is a type that describes a joint.
type preparation interface{ Joint() (*Joint, error) }

// single returns b with a root face and upper bevels.
func single(b Butt, rootFace float64, left, right Bevel) Butt {
	b.RootFace, b.Left.Upper, b.Right.Upper = rootFace, left, right
	return b
}

// double returns b with a root face in the middle, and the same bevels above and below.
func double(b Butt, rootFace float64, left, right Bevel) Butt {
	b.RootFace, b.LowerGroove = rootFace, (b.Thickness-rootFace)/2
	b.Left, b.Right = Edge{left, left}, Edge{right, right}
	return b
}

// singleVee and doubleVee return preparations whose bevels all have the same angle.
func singleVee(b Butt, angle, rootFace float64) Butt {
	return single(b, rootFace, Bevel{Angle: angle}, Bevel{Angle: angle})
}

func doubleVee(b Butt, angle, rootFace float64) Butt {
	return double(b, rootFace, Bevel{Angle: angle}, Bevel{Angle: angle})
}

// The preparations below have sizes of common practice, no source.
var (
	square  = Bevel{}
	plates  = Butt{Thickness: 20e-3, Gap: 3e-3}
	cap10   = Bead{Height: 2e-3, Width: 28e-3}
	root10  = Bead{Height: 1e-3, Width: 6e-3}
	singleV = singleVee(Butt{Thickness: 20e-3, Gap: 3e-3, Cap: cap10, Root: root10}, 30*deg, 2e-3)
	bead22  = Bead{2e-3, 22e-3}
	doubleV = doubleVee(Butt{Thickness: 30e-3, Gap: 2e-3, Cap: bead22, Root: bead22}, 30*deg, 2e-3)
	lackV   = singleVee(Butt{Thickness: 20e-3, Gap: 1e-3, Unwelded: 3e-3}, 30*deg, 4e-3)
	leg8    = Fillet{Leg: 8e-3}
	filletT = Tee{Flange: 16e-3, Web: 12e-3, Left: TeeWeld{Fillet: leg8},
		Right: TeeWeld{Fillet: leg8}}
	bevel50 = TeeWeld{
		Fillet: Fillet{Leg: 4e-3, OtherLeg: 14e-3, Convexity: 1e-3},
		Angle:  50 * deg, Depth: 7e-3, Penetration: 1e-3,
	}
	buttT  = Tee{Flange: 20e-3, Web: 16e-3, Gap: 2e-3, Left: bevel50, Right: bevel50}
	lapped = Lap{
		Upper: 10e-3, Lower: 12e-3, Overlap: 40e-3, Gap: 0.5e-3,
		Left: leg8, Right: Fillet{Leg: 8e-3, Convexity: 0.5e-3},
	}
)

// preparations holds at least one preparation of each kind.
func preparations() map[string]preparation {
	cap6 := Bead{Height: 1e-3, Width: 6e-3}
	bevel45 := Bevel{Angle: 45 * deg}
	mismatched := singleV
	mismatched.Mismatch = -1e-3
	lackX := doubleV
	lackX.Unwelded = 1.5e-3
	thickRight, thickLeft, step := singleV, singleV, singleV
	thickRight.RightTaper = Taper{Below: 5e-3, Angle: 14 * deg}
	thickLeft.LeftTaper = Taper{Above: 3e-3, Below: 3e-3, Angle: 20 * deg}
	step.Mismatch, step.RightTaper = 1e-3, Taper{Above: 4e-3}
	u8, j15 := Bevel{Angle: 8 * deg, Radius: 6e-3}, Bevel{Angle: 15 * deg, Radius: 4e-3}
	return map[string]preparation{
		"square butt":           Butt{Thickness: 4e-3, RootFace: 4e-3, Gap: 2e-3, Cap: cap6},
		"square butt, touching": Butt{Thickness: 4e-3, RootFace: 4e-3, Unwelded: 1e-3, Cap: cap6},
		"single V":              singleV,
		"single V, mismatch":    mismatched,
		"single V, touching": singleVee(Butt{Thickness: 12e-3, Root: Bead{1e-3, 4e-3}}, 35*deg,
			1.5e-3),
		"single V, unwelded": lackV,
		"double V":           doubleV,
		"double V, unwelded": lackX,
		"double U":           double(Butt{Thickness: 40e-3, Gap: 2e-3}, 4e-3, u8, u8),
		"double bevel":       double(plates, 2e-3, square, bevel45),
		"double J, unwelded": double(
			Butt{Thickness: 30e-3, Gap: 1e-3, Unwelded: 4e-3}, 4e-3, j15, square),
		"square, from both sides": double(
			Butt{Thickness: 10e-3, Gap: 2e-3, Unwelded: 3e-3}, 3e-3, square, square),
		"single V, thick right": thickRight,
		"single V, thick left":  thickLeft,
		"single V, step":        step,
		"single bevel":          single(plates, 2e-3, square, bevel45),
		"single bevel, left":    single(plates, 2e-3, bevel45, square),
		"single U":              single(plates, 3e-3, u8, u8),
		"single J":              single(plates, 3e-3, square, Bevel{12 * deg, 6e-3}),
		"fillet tee":            filletT,
		"fillet tee, one side": Tee{
			Flange: 16e-3, Web: 12e-3, Gap: 1e-3, Left: TeeWeld{Fillet: leg8, Penetration: 2e-3},
		},
		"double-bevel tee": buttT,
		"single-bevel tee, no gap": Tee{
			Flange: 16e-3, Web: 12e-3,
			Left: TeeWeld{Fillet: Fillet{Leg: 5e-3, OtherLeg: 18e-3}, Angle: 50 * deg,
				Depth: 12e-3},
		},
		"lap":                  lapped,
		"lap, right side only": Lap{Upper: 10e-3, Lower: 12e-3, Overlap: 40e-3, Right: leg8},
	}
}

// TestArea compares the areas of weld metal with formulas derived by hand.
func TestArea(t *testing.T) {
	tan := math.Tan
	// segment returns the area of a segment of a circle with a chord and a height.
	segment := func(b Bead) float64 {
		r := (b.Width*b.Width/4 + b.Height*b.Height) / (2 * b.Height)
		return r*r*math.Acos((r-b.Height)/r) - (r-b.Height)*b.Width/2
	}
	// round returns the area that the arc of a U adds beside the gap, for the bevel angle β and the
	// radius r.
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
		"double U":                2e-3*40e-3 + 4*doubleU,
		"double bevel":            3e-3*20e-3 + 9e-3*9e-3,
		"double J, unwelded":      1e-3*26e-3 + 2*doubleJ,
		"square, from both sides": 2e-3 * 7e-3,
		"square butt":             4e-3*2e-3 + segment(Bead{1e-3, 6e-3}),
		"single V": 20e-3*3e-3 + 18e-3*18e-3*tan(30*deg) + segment(singleV.Cap) +
			segment(singleV.Root),
		"single V, touching": 10.5e-3*10.5e-3*tan(35*deg) + segment(Bead{1e-3, 4e-3}),
		"single V, unwelded": 17e-3*1e-3 + 16e-3*16e-3*tan(30*deg),
		"double V":           30e-3*2e-3 + 2*14e-3*14e-3*tan(30*deg) + 2*segment(doubleV.Cap),
		"double V, unwelded": 28.5e-3*2e-3 + 2*14e-3*14e-3*tan(30*deg) +
			2*segment(doubleV.Cap),
		"single bevel":         20e-3*3e-3 + 18e-3*18e-3/2,
		"single bevel, left":   20e-3*3e-3 + 18e-3*18e-3/2,
		"single U":             uGap + 2*uSide,
		"single J":             jGap + jSide,
		"fillet tee":           8e-3 * 8e-3,
		"fillet tee, one side": 8e-3*8e-3/2 + 2e-3*1e-3,
		"double-bevel tee": 4e-3*14e-3 + 2e-3*16e-3 + 7e-3*7e-3*tan(50*deg) +
			2*segment(Bead{1e-3, math.Hypot(4e-3, 14e-3)}),
		"single-bevel tee, no gap": 5e-3*18e-3/2 + 12e-3*12e-3*tan(50*deg)/2,
		"lap":                      8e-3*8e-3 + segment(Bead{0.5e-3, 8e-3 * math.Sqrt2}),
	} {
		j := check.Must(preparations()[name].Joint())
		if got := j.Area(); !(math.Abs(got-want) <= 1e-12*want) {
			t.Errorf("%s: %.6f mm², want %.6f mm²", name, got*1e6, want*1e6)
		}
		if got := j.Shifted(r2.Vec{X: 0.1, Y: -0.03}).Area(); !(math.Abs(got-want) <= 1e-10*want) {
			t.Errorf("%s, shifted: %.6f mm², want %.6f mm²", name, got*1e6, want*1e6)
		}
	}
}

// TestPlatesAndMetal checks the sum of the areas of two plates, the weld metal and the unwelded
// root. Flush plates fill a rectangle. A tapered plate adds a trapezium on each side.
func TestPlatesAndMetal(t *testing.T) {
	thicker := plates
	thicker.RightTaper = Taper{Above: 4e-3, Below: 4e-3, Angle: 20 * deg}
	toe := 1.5e-3 + 9e-3*math.Tan(30*deg)
	rise := 2 * (4e-3*(extent-toe) - 4e-3*4e-3/math.Tan(20*deg)/2)
	lowRoot := double(plates, 2e-3, Bevel{8 * deg, 3e-3}, Bevel{8 * deg, 3e-3})
	lowRoot.LowerGroove = 11e-3
	uneven := double(plates, 2e-3, square, Bevel{Angle: 40 * deg})
	uneven.Right.Lower.Angle = 50 * deg
	steep := doubleVee(plates, 30*deg, 2e-3)
	steep.Left.Lower.Angle, steep.Right.Lower.Angle, steep.LowerGroove = 20*deg, 20*deg, 7e-3
	for _, p := range []Butt{
		lowRoot, uneven, steep, doubleVee(thicker, 30*deg, 2e-3),
		double(plates, 2e-3, Bevel{Radius: 5e-3}, square),
		singleVee(plates, 30*deg, 2e-3),
		single(plates, 2e-3, square, Bevel{Angle: 45 * deg}),
		single(plates, 3e-3, Bevel{8 * deg, 6e-3}, Bevel{8 * deg, 6e-3}),
		single(plates, 3e-3, Bevel{Radius: 6e-3}, square),
		lackV,
	} {
		j := check.Must(p.Joint())
		sum := j.Area()
		for _, o := range slices.Concat(j.parts, j.voids) {
			if !strings.HasPrefix(o.name, "outside") {
				sum += o.area()
			}
		}
		want := 2 * extent * 20e-3
		if p.RightTaper != (Taper{}) {
			want += rise
		}
		if !(math.Abs(sum-want) <= 1e-12*want) {
			t.Errorf("%+v: %v m², want %v m²", p, sum, want)
		}
	}
}

// TestThroat checks ISO 2553's z = a·√2 (from memory), and a triangle of sides 3, 4, 5.
func TestThroat(t *testing.T) {
	for _, test := range []struct {
		f    Fillet
		want float64
	}{{Fillet{Leg: 8e-3}, 8e-3 / math.Sqrt2}, {Fillet{Leg: 3, OtherLeg: 4}, 12. / 5}, {Fillet{},
		0}} {
		if got := test.f.Throat(); !(math.Abs(got-test.want) <= 1e-15) {
			t.Errorf("%+v: %v m, want %v m", test.f, got, test.want)
		}
	}
}
