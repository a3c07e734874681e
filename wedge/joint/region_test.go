// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// sections returns a joint of each kind, with invented sizes.
func sections() map[string]*Joint {
	bevel := Bevel{Angle: 0.5}
	vee := Edge{Upper: bevel}
	both := Edge{Upper: bevel, Lower: Bevel{Angle: 0.7}}
	you := Edge{Upper: Bevel{Angle: 0.2, Radius: 4e-3}}
	fillet := Fillet{Leg: 8e-3}
	tee := TeeWeld{Fillet: fillet, Angle: 0.8, Depth: 5e-3}
	return map[string]*Joint{
		"V":           check.Must(Butt{Thickness: 20e-3, Gap: 3e-3, RootFace: 2e-3, Left: vee, Right: vee}.Joint()),
		"X":           check.Must(Butt{Thickness: 30e-3, Gap: 3e-3, RootFace: 2e-3, LowerGroove: 12e-3, Left: both, Right: both}.Joint()),
		"U":           check.Must(Butt{Thickness: 20e-3, Gap: 2e-3, RootFace: 2e-3, Left: you, Right: you}.Joint()),
		"J":           check.Must(Butt{Thickness: 20e-3, Gap: 2e-3, RootFace: 2e-3, Right: you}.Joint()),
		"bevel":       check.Must(Butt{Thickness: 20e-3, Gap: 2e-3, Left: vee, Cap: Bead{Height: 1e-3}}.Joint()),
		"no gap":      check.Must(Butt{Thickness: 20e-3, RootFace: 2e-3, Left: vee, Right: vee}.Joint()),
		"V below":     check.Must(Butt{Thickness: 20e-3, Gap: 3e-3, LowerGroove: 20e-3, Left: Edge{Lower: bevel}, Right: Edge{Lower: bevel}}.Joint()),
		"open root":   check.Must(Butt{Thickness: 20e-3, Gap: 1e-3, RootFace: 4e-3, Unwelded: 2e-3, Left: vee, Right: vee}.Joint()),
		"fillets":     check.Must(Tee{Flange: 12e-3, Web: 12e-3, Gap: 0.1e-3, Left: TeeWeld{Fillet: fillet}, Right: TeeWeld{Fillet: fillet}}.Joint()),
		"through tee": check.Must(Tee{Flange: 12e-3, Web: 10e-3, Gap: 2e-3, Left: tee, Right: tee}.Joint()),
		"lap":         check.Must(Lap{Upper: 10e-3, Lower: 12e-3, Overlap: 40e-3, Gap: 0.5e-3, Left: fillet, Right: fillet}.Joint()),
	}
}

// TestSectionAgreesWithZones checks the regions of each joint against Joint.Zone, which follows from
// other outlines.
func TestSectionAgreesWithZones(t *testing.T) {
	for name, plain := range sections() {
		t.Run(name, func(t *testing.T) {
			random := rand.New(rand.NewPCG(1, 2))
			j := plain.Shifted(r2.Vec{X: 3e-3, Y: 1e-3})
			s := check.Must(j.Section())
			switch {
			case j.Other == nil:
				if s.Back != nil {
					t.Error("a back wall across the web")
				}
			default:
				bottom := max(j.Top+j.Thickness, j.Other.Top+j.Other.Thickness)
				check.Within(t, "depth of the back wall", s.Back.Depth(r3.Vec{Z: bottom}), 0, 1e-12)
			}
			seen := map[Zone]int{}
			for range 2000 {
				p := r2.Vec{X: (random.Float64() - 0.5) * 80e-3, Y: random.Float64() * 40e-3}
				q := r3.Vec{X: p.X, Z: p.Y}
				if s.Entry.Depth(q) < 0 || s.Back != nil && s.Back.Depth(q) > 0 {
					continue
				}
				k, margin := 0, math.Inf(1)
				for ; s.Regions[k].Boundary != nil; k++ {
					d := s.Regions[k].Boundary.Depth(q)
					margin = min(margin, math.Abs(d))
					if d <= 0 {
						break
					}
				}
				if want := j.Zone(p, 0); margin > 1e-6 && s.Regions[k].Zone != want {
					t.Fatalf("%v m in the %s, a region of %v: want %v", p, s.Regions[k].Name, s.Regions[k].Zone, want)
				}
				seen[s.Regions[k].Zone]++
			}
			if seen[WeldMetal] < 20 || seen[Parent] < 200 {
				t.Errorf("regions of %v: want weld metal and parent metal", seen)
			}
		})
	}
}

// TestBoundaries checks each boundary against its own points: positions on both sides of it, and
// derivatives by finite differences.
func TestBoundaries(t *testing.T) {
	for name, j := range sections() {
		for _, r := range check.Must(j.Section()).Regions {
			if r.Boundary == nil {
				continue
			}
			for i := range 40 {
				p := r3.Vec{X: (float64(i%8) - 3.7) * 4e-3, Z: float64(i/8) * 5e-3}
				u, v := r.Boundary.Locate(p)
				at := r.Boundary.At(u, v)
				check.Within(t, name+": distance of the nearest point", r3.Norm(r3.Sub(p, at.P)), math.Abs(r.Boundary.Depth(p)), 1e-12)
				out := r.Boundary.Depth(r3.Add(at.P, r3.Scale(1e-7, at.Normal())))
				in := r.Boundary.Depth(r3.Sub(at.P, r3.Scale(1e-7, at.Normal())))
				after := r.Boundary.At(u+1e-6, v)
				before := r.Boundary.At(u-1e-6, v)
				if turn := r3.Norm(r3.Sub(after.U, before.U)); turn > 0.01 {
					continue // at a corner
				}
				if !(out > 0 && in < 0) {
					t.Errorf("%s, %s: depths %v and %v m on the sides of %v m", name, r.Name, out, in, at.P)
				}
				slope := r3.Scale(1e6, r3.Sub(after.P, at.P))
				check.Within(t, name+": first derivative", r3.Norm(r3.Sub(slope, at.U)), 0, 1e-3)
				bend := r3.Scale(1e6, r3.Sub(after.U, at.U))
				check.Within(t, name+": second derivative", r3.Norm(r3.Sub(bend, at.UU)), 0, 1)
			}
		}
	}
}

// TestGrowthField checks the direction of growth against a sum over short pieces of the faces, and
// the gradient against finite differences.
func TestGrowthField(t *testing.T) {
	for name, j := range sections() {
		for _, r := range check.Must(j.Section()).Regions {
			if r.Zone != WeldMetal {
				continue
			}
			for _, f := range r.Faces {
				at, across := f.At(0.5), r2.Scale(1e-6, right(r2.Unit(f.tangent(0.5))))
				a, _ := r.Growth(r2.Add(at, across))
				b, _ := r.Growth(r2.Sub(at, across))
				check.Within(t, name+": turn across the "+f.Name, math.Remainder(a-b, 2*math.Pi), 0, 5e-3)
				for i := range 72 { // round an end, in the weld metal of the region
					var angles [2]float64
					metal := true
					for k := range angles {
						turn := 2 * math.Pi * (float64(i+k) + 0.5) / 72
						p := r2.Add(f.At(float64(i%2)), r2.Vec{X: 0.3e-3 * math.Cos(turn), Y: 0.3e-3 * math.Sin(turn)})
						angles[k], _ = r.Growth(p)
						metal = metal && j.Zone(p, 0) == WeldMetal && (r.Boundary == nil || r.Boundary.Depth(r3.Vec{X: p.X, Z: p.Y}) < 0)
					}
					if metal && (r.Boundary != nil || r.Name == "weld metal") {
						check.Within(t, name+": turn at an end of the "+f.Name, math.Remainder(angles[1]-angles[0], 2*math.Pi), 0, 0.3)
					}
				}
			}
			random := rand.New(rand.NewPCG(3, 4))
			checked := 0
			for range 4000 {
				p := r2.Vec{X: (random.Float64() - 0.5) * 70e-3, Y: random.Float64() * 40e-3}
				if j.Zone(p, 0) != WeldMetal || r.Boundary != nil && r.Boundary.Depth(r3.Vec{X: p.X, Z: p.Y}) > 0 {
					continue
				}
				var field r2.Vec
				least := math.Inf(1)
				for _, s := range r.sinks {
					const n = 2000
					for i := range n {
						away := r2.Sub(p, s.At((float64(i)+0.5)/n))
						least = min(least, r2.Norm(away))
						field = r2.Add(field, r2.Scale(s.length()/n/r2.Norm2(away), away))
					}
				}
				if last := check.Must(j.Section()).Regions; r.Boundary == nil && last[len(last)-2].Zone == WeldMetal &&
					last[len(last)-2].Boundary.Depth(r3.Vec{X: p.X, Z: p.Y}) <= 0 || least < 0.5e-3 {
					continue // in the weld from the other side, or too near a face for the sum
				}
				angle, gradient := r.Growth(p)
				check.Within(t, name+": direction", cmplx.Phase(cmplx.Rect(1, angle)*cmplx.Conj(complex(field.X, field.Y))), 0, 1e-3)
				const h = 1e-7
				x, _ := r.Growth(r2.Vec{X: p.X + h, Y: p.Y})
				z, _ := r.Growth(r2.Vec{X: p.X, Y: p.Y + h})
				check.Within(t, name+": gradient along x", math.Remainder(x-angle, 2*math.Pi)/h, gradient.X, 1e-2+1e-3*math.Abs(gradient.X))
				check.Within(t, name+": gradient along z", math.Remainder(z-angle, 2*math.Pi)/h, gradient.Y, 1e-2+1e-3*math.Abs(gradient.Y))
				if checked++; checked == 12 {
					break
				}
			}
			if checked < 5 {
				t.Errorf("%s, %s: %d places checked", name, r.Name, checked)
			}
		}
	}
	if angle, _ := (Region{}).Growth(r2.Vec{}); !math.IsNaN(angle) {
		t.Errorf("growth at %v rad in a region without faces, want NaN", angle)
	}
}

// TestGrowthOnAnArc checks the field of an arc at its centre and beside it, where the closed form is
// replaced by a series.
func TestGrowthOnAnArc(t *testing.T) {
	s := sink{curve: curve{from: r2.Vec{X: -5e-3, Y: 2e-3}, to: r2.Vec{X: 4e-3, Y: 6e-3}, sagitta: 3e-3}}
	centre, radius := s.circle()
	c := complex(centre.X, centre.Y)
	inside, d := s.field(c + complex(0.99e-4*radius, 0))
	outside, e := s.field(c + complex(1.01e-4*radius, 0))
	check.Within(t, "step of the field", cmplx.Abs(outside-inside)/cmplx.Abs(inside), 0, 1e-5)
	check.Within(t, "step of the derivative", cmplx.Abs(e-d)/cmplx.Abs(d), 0, 1e-4)
}

// TestNewBoundaryRefuses checks the errors of polygons.
func TestNewBoundaryRefuses(t *testing.T) {
	square := []r2.Vec{{}, {X: 1e-3}, {X: 1e-3, Y: 1e-3}, {Y: 1e-3}}
	if b := check.Must(NewBoundary(square)); !(b.Depth(r3.Vec{X: 0.5e-3, Z: 0.25e-3}) == -0.25e-3) {
		t.Errorf("depth %v m in a square, want -0.25 mm", b.Depth(r3.Vec{X: 0.5e-3, Z: 0.25e-3}))
	}
	for _, row := range []struct {
		want    string
		polygon []r2.Vec
	}{
		{"sides", nil},
		{"sides", square[:2]},
		{"do not cross", []r2.Vec{square[0], square[2], square[1], square[3]}},
		{"want within 0.5 m", []r2.Vec{{}, {X: math.NaN()}, {X: 1}}},
		{"want within 0.5 m", []r2.Vec{{}, {X: 0.6}, {Y: 0.6}}},
	} {
		_, err := NewBoundary(row.polygon)
		check.Error(t, err, "joint: ", row.want)
	}
}

// TestSectionRefuses checks that joints without flat surfaces are errors.
func TestSectionRefuses(t *testing.T) {
	edge := Edge{Upper: Bevel{Angle: 0.5}}
	for _, b := range []Butt{
		{Thickness: 20e-3, Gap: 3e-3, Left: edge, Right: edge, Mismatch: 1e-3},
		{Thickness: 20e-3, Gap: 3e-3, Left: edge, Right: edge, RightTaper: Taper{Below: 2e-3}},
	} {
		_, err := check.Must(b.Joint()).Section()
		check.Error(t, err, "joint: ", "same surfaces")
	}
	closed := Butt{Thickness: 20e-3, RootFace: 4e-3, Unwelded: 2e-3, Left: edge, Right: edge}
	_, err := check.Must(closed.Joint()).Section()
	check.Error(t, err, "joint: ", "want a gap")
}
