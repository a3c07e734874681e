// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestOutlines checks that outlines are chains of curves, that the outlines of metal, parts and
// gaps are closed, and that polylines lie within their tolerance.
func TestOutlines(t *testing.T) {
	for name, p := range preparations() {
		j := check.Must(p.Joint())
		outlines := check.Must(j.Outlines(10e-6))
		for _, kind := range []struct {
			lines []wedge.Outline
			want  []outline
		}{{outlines.Metal, j.metal}, {outlines.Parts, j.parts}, {outlines.Voids, j.voids}} {
			for i, line := range kind.lines {
				if !slices.Equal(line, kind.want[i].polyline(10e-6)) {
					t.Errorf("%s: outline is no polyline of the %s", name, kind.want[i].name)
				}
			}
			if len(kind.lines) != len(kind.want) {
				t.Errorf("%s: %d outlines, want %d", name, len(kind.lines), len(kind.want))
			}
		}
		for _, o := range slices.Concat(j.metal, j.parts, j.voids) {
			for i := 1; i < len(o.curves); i++ {
				if o.curves[i].from != o.curves[i-1].to {
					t.Errorf("%s, %s: edge %d begins at %v, the one before ends at %v", name,
						o.name, i, o.curves[i].from, o.curves[i-1].to)
				}
			}
			points := o.polyline(10e-6)
			if open := strings.HasPrefix(o.name,
				"outside"); open == (points[0] == points[len(points)-1]) {
				t.Errorf("%s, %s: from %v to %v", name, o.name, points[0], points[len(points)-1])
			}
			for i := 1; i < len(points); i++ {
				middle := r2.Scale(0.5, r2.Add(points[i-1], points[i]))
				if d := o.distance(middle); !(d <= 10e-6+1e-15) {
					t.Errorf("%s, %s: polyline lies %v m off", name, o.name, d)
				}
			}
		}
	}
}

// TestChords checks that an arc gets no more chords than the tolerance needs. The chords of n equal
// parts of a quarter circle lie r·(1 - cos(π/4n)) off. For r = 10 mm this is 9.5 µm for 18 chords,
// and 10.7 µm for 17 chords.
func TestChords(t *testing.T) {
	quarter := curve{mm(10, 0), mm(0, 10), 10e-3 * (1 - math.Cos(45*deg))}
	o := outline{"quarter", []curve{quarter}}
	if got := len(o.polyline(10e-6)) - 1; got != 18 {
		t.Errorf("%d chords, want 18", got)
	}
}

// TestFusionFaces checks that points of a fusion face have the distance 0. It also checks that weld
// metal lies 5 µm to one side of the face and a parent part 5 µm to the other side.
func TestFusionFaces(t *testing.T) {
	for name, p := range preparations() {
		j := check.Must(p.Joint())
		for _, f := range j.Faces {
			for _, share := range []float64{0, 0.3, 0.5, 0.8, 1} {
				at := f.At(share)
				n := j.Nearest(at)
				if !(math.Abs(n.Distance) <= 1e-15) || !(r2.Norm(r2.Sub(n.Foot, at)) <= 1e-15) {
					t.Errorf("%s, %s at %v: distance %v m, foot %v", name, f.Name, share,
						n.Distance, n.Foot)
				}
				if got, want := j.Zone(at, 1e-3), WeldMetal; got != want {
					touching := strings.Contains(f.Name,
						"root face") // there is no weld metal between
					if !touching {
						t.Errorf("%s, %s at %v: %v, want %v", name, f.Name, share, got, want)
					}
				}
				if share == 0 || share == 1 {
					continue
				}
				// The tangent by the difference of two places.
				tangent := r2.Unit(r2.Sub(f.At(share+1e-6), f.At(share-1e-6)))
				if got := inclination(tangent); !(math.Abs(math.Sin(got-n.Inclination)) <= 1e-8) &&
					n.Face.Name == f.Name {
					t.Errorf("%s, %s at %v: inclination %v, by difference %v", name, f.Name, share,
						n.Inclination, got)
				}
				count := map[Zone]int{}
				for _, step := range []float64{-5e-6, 5e-6} {
					q := r2.Add(at, r2.Scale(step, right(tangent)))
					z, m := j.Zone(q, 1e-3), j.Nearest(q)
					count[z]++
					if !(math.Abs(math.Abs(m.Distance)-5e-6) <= 1e-12) ||
						(m.Distance < 0) != (z == WeldMetal) {
						t.Errorf("%s, %s at %v: %v m away, in the %v", name, f.Name, share,
							m.Distance, z)
					}
				}
				if count[WeldMetal] != 1 || count[HeatAffected] != 1 {
					if !(strings.Contains(name, "touching") || strings.Contains(name, "no gap")) ||
						!strings.Contains(f.Name, "root face") {
						t.Errorf("%s, %s at %v: %v on its sides", name, f.Name, share, count)
					}
				}
			}
		}
	}
}

// TestWholeRootUnwelded checks that the whole root face may be unwelded.
func TestWholeRootUnwelded(t *testing.T) {
	for _, rootFace := range []float64{1e-3, 1.1e-3, 2e-3, 2.3e-3, 3.7e-3} {
		b := Butt{Thickness: 20e-3, Gap: 1e-3, Unwelded: rootFace}
		for _, p := range []Butt{singleVee(b, 0.5, rootFace), doubleVee(b, 0.5, rootFace)} {
			j, err := p.Joint()
			if err != nil {
				t.Errorf("%+v: %v", p, err)
				continue
			}
			if got, want := j.voids[0].area(), rootFace*1e-3; !(math.Abs(got-want) <= 1e-15) {
				t.Errorf("%+v: void of %v m², want %v m²", p, got, want)
			}
		}
	}
}

// TestMirror checks that a double V is its own mirror image in x and in z, and that a left single
// bevel is the mirror image of a right single bevel.
func TestMirror(t *testing.T) {
	x := check.Must(doubleV.Joint())
	right := check.Must(single(plates, 2e-3, square, Bevel{Angle: 45 * deg}).Joint())
	left := check.Must(single(plates, 2e-3, Bevel{Angle: 45 * deg}, square).Joint())
	rng := rand.New(rand.NewPCG(1, 2))
	for range 2000 {
		p := r2.Vec{X: 40e-3 * (rng.Float64() - 0.5), Y: 36e-3*rng.Float64() - 3e-3}
		want, zone := x.Nearest(p).Distance, x.Zone(p, 2e-3)
		for _, q := range []r2.Vec{{X: -p.X, Y: p.Y}, {X: p.X, Y: 30e-3 - p.Y}} {
			if got := x.Nearest(q).Distance; !(math.Abs(got-want) <= 1e-15) {
				t.Fatalf("double V at %v: %v m, its image %v m", p, want, got)
			}
			if got := x.Zone(q, 2e-3); got != zone {
				t.Fatalf("double V at %v: %v, its image %v", p, zone, got)
			}
		}
		if a, b := right.Zone(p, 2e-3), left.Zone(r2.Vec{X: -p.X, Y: p.Y}, 2e-3); a != b {
			t.Fatalf("single bevel at %v: %v, its image %v", p, a, b)
		}
	}
}

// TestZonesBySum counts the cells of a raster of which a random point lies in weld metal. The count
// must give the area of the outlines.
func TestZonesBySum(t *testing.T) {
	const step = 0.2e-3
	for name, p := range preparations() {
		rng := rand.New(rand.NewPCG(3, 4))
		j := check.Must(p.Joint())
		count := 0
		for x := -40e-3; x < 40e-3; x += step {
			for z := -4e-3; z < 44e-3; z += step {
				if j.inMetal(r2.Vec{X: x + step*rng.Float64(), Y: z + step*rng.Float64()}) {
					count++
				}
			}
		}
		if got, want := float64(count)*step*step, j.Area(); !(math.Abs(got-want) <= 0.03*want) {
			t.Errorf("%s: %v mm² of weld metal, want %v mm²", name, got*1e6, want*1e6)
		}
	}
}

// FuzzJoint checks that random lengths neither cause a panic nor results that are not finite.
func FuzzJoint(f *testing.F) {
	f.Add(uint8(0), 20e-3, 3e-3, 0.5, 2e-3, 1e-3, 0., 6e-3, 2e-3, 8e-3)
	f.Add(uint8(5), 20e-3, 0., 0.5, 2e-3, 0., 1e-3, 6e-3, 2e-3, 0.)
	f.Add(uint8(6), 20e-3, 10e-3, 0.5, 2e-3, 1e-3, 0., 6e-3, 2e-3, 8e-3)
	f.Add(uint8(7), math.NaN(), math.Inf(1), -1., 1e-300, 1e300, 0., 6e-3, 2e-3, 8e-3)
	f.Fuzz(func(t *testing.T, kind uint8, a, b, angle, c, d, e, g, h, i float64) {
		butt := Butt{
			Thickness: a, Gap: b, RootFace: c, Unwelded: d, Mismatch: e,
			Cap: Bead{h, g}, RightTaper: Taper{math.Max(0, e), d, angle},
		}
		if d == 0 {
			butt.Root = Bead{h, i}
		}
		w, fillet := TeeWeld{Fillet: Fillet{h, g, i}, Angle: angle, Depth: c,
			Penetration: d}, Fillet{g, h, i}
		vee, round := Bevel{Angle: angle}, Bevel{angle, g}
		uneven := double(butt, c, vee, vee)
		uneven.LowerGroove, uneven.Right.Lower.Angle = h, i
		uneven.Left.Upper.Radius = g
		p := []preparation{
			butt, singleVee(butt, angle, c), single(butt, c, vee, square), single(butt, c, round,
				round),
			single(butt, c, square, round), double(butt, c, round, square), uneven,
			Tee{a, b, e, w, TeeWeld{Fillet: fillet}}, Lap{a, b, c, d, fillet, Fillet{Leg: h}},
		}[kind%9]
		j, err := p.Joint()
		if err != nil {
			if !strings.HasPrefix(err.Error(), "joint: ") || !strings.Contains(err.Error(),
				"want") {
				t.Fatalf("%+v: error %q", p, err)
			}
			return
		}
		if area := j.Area(); !(area > 0 && area < 1) {
			t.Fatalf("%+v: area %v m²", p, area)
		}
		for _, q := range []r2.Vec{{}, {X: g, Y: h}, {X: 1e-3, Y: a / 2}} {
			n := j.Nearest(q)
			if sum := n.Distance + n.Foot.X + n.Foot.Y + n.Inclination + n.Share; finite(q) &&
				!(sum*0 == 0) {
				t.Fatalf("%+v: nearest of %v is %+v", p, q, n)
			}
			j.Zone(q, 1e-3)
		}
		for _, plate := range []*Plate{&j.Plate, j.Other} {
			if plate == nil {
				continue
			}
			if _, err := j.Setup(*plate, steel, 1e-3); err != nil {
				t.Fatalf("%+v: %v", p, err)
			}
		}
		for _, face := range j.Faces {
			if n := j.Nearest(face.At(0.5)); !(math.Abs(n.Distance) <= 1e-12) {
				t.Fatalf("%+v: middle of the %s lies %v m off", p, face.Name, n.Distance)
			}
			if beam, err := j.Square(face, 0.5, 1); err == nil &&
				!((beam.Angle+beam.Index+beam.Path)*0 == 0) {
				t.Fatalf("%+v: beam %+v", p, beam)
			}
		}
		for _, o := range check.Must(j.Outlines(1e-3)).Voids {
			for _, q := range o {
				if !finite(q) {
					t.Fatalf("%+v: void of %v", p, o)
				}
			}
		}
	})
}
