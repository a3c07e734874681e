// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package exact

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// TestProblems checks the problems without a solver. The crossings lie on their surfaces and obey
// Snell's law, and the time through them is the stated time.
func TestProblems(t *testing.T) {
	names := map[string]bool{}
	for _, p := range Problems() {
		if names[p.Name] || p.Source == "" || !(p.Seconds > 0) ||
			!(p.Tolerance > 0 && p.Tolerance <= 1e-12) {
			t.Errorf("%s: want a name of its own, a source, a time and a tolerance", p.Name)
		}
		names[p.Name] = true
		if got, ok := Get(p.Name); !ok || got.Seconds != p.Seconds {
			t.Errorf("%s: Get finds another", p.Name)
		}
		p.Path()
		same := strings.Contains(p.Name, "equal media") || strings.Contains(p.Name, "ellipse")
		if same && p.Legs[0].Speed != p.Legs[1].Speed {
			t.Errorf("%s: speeds of %v and %v m/s, want equal ones", p.Name, p.Legs[0].Speed, p.Legs[1].Speed)
		}
		if p.Everywhere {
			continue
		}
		if len(p.Points) != len(p.Crossings) {
			t.Errorf("%s: %d places of %d crossings", p.Name, len(p.Points), len(p.Crossings))
			continue
		}
		// Printed places are right to 5e-15 m. This is negligible because the time is stationary.
		if err := p.Check(p.Through(p.Points...)); err != nil {
			t.Error(err)
		}
		ends := append(append([]r3.Vec{p.From}, p.Points...), p.To)
		for i, c := range p.Crossings {
			at := c.Surface.At(c.Surface.Locate(p.Points[i]))
			if d := r3.Norm(r3.Sub(at.P, p.Points[i])); !(d <= 1e-12) {
				t.Errorf("%s: crossing %d lies %v m off its surface", p.Name, i, d)
			}
			in, out := r3.Unit(r3.Sub(ends[i+1], ends[i])), r3.Unit(r3.Sub(ends[i+2], ends[i+1]))
			before, after := p.Legs[i].Speed, p.Legs[i+1].Speed
			off := r3.Sub(r3.Scale(after/before, in), out)
			if along := r3.Norm(r3.Cross(off, at.Normal())); !(along <= 1e-8) {
				t.Errorf("%s: Snell's law broken by %v at crossing %d", p.Name, along, i)
			}
			side := 1.0
			if c.From == wedge.Far {
				side = -1
			}
			leave := side
			if c.Reflects {
				leave = -side
			}
			if !(side*r3.Dot(in, at.Normal()) > 0 && leave*r3.Dot(out, at.Normal()) > 0) {
				t.Errorf("%s: crossing %d is passed the wrong way", p.Name, i)
			}
		}
	}
	if len(names) < 40 {
		t.Errorf("%d problems only", len(names))
	}
	if _, ok := Get("nothing"); ok {
		t.Error("Get finds a problem that there is not")
	}
}

// TestBruteForce searches the least time over all places of the surfaces by a general-purpose
// minimisation without derivatives. If the time of a problem is a minimum, it must be the stated
// time.
func TestBruteForce(t *testing.T) {
	count := 0
	for _, p := range Problems() {
		if p.Everywhere || p.Index != 0 || len(p.Crossings) == 0 {
			continue
		}
		count++
		points := make([]r3.Vec, len(p.Crossings))
		var start []float64
		for i, c := range p.Crossings {
			share := float64(i+1) / float64(len(p.Legs))
			u, v := c.Surface.Locate(r3.Add(r3.Scale(1-share, p.From), r3.Scale(share, p.To)))
			start = append(start, u*1e3, v*1e3)
		}
		problem := optimize.Problem{Func: func(x []float64) float64 {
			for i, c := range p.Crossings {
				points[i] = c.Surface.At(x[2*i]*1e-3, x[2*i+1]*1e-3).P
			}
			return p.Through(points...) * 1e6
		}}
		least := math.Inf(1)
		for range 30 { // a simplex that has shrunk too far is set up anew
			converger := &optimize.FunctionConverge{Absolute: 1e-15, Iterations: 200}
			settings := &optimize.Settings{Converger: converger}
			result, err := optimize.Minimize(problem, start, settings,
				&optimize.NelderMead{SimplexSize: 0.3})
			if err != nil {
				t.Fatal(err)
			}
			gain := least - result.F
			least, start = min(least, result.F), result.X
			if gain < 1e-13 {
				break
			}
		}
		if want := p.Seconds * 1e6; !(math.Abs(least-want) <= 1e-10*want) {
			t.Errorf("%s: least time %.12f µs, stated %.12f µs", p.Name, least, want)
		}
	}
	if count < 30 {
		t.Errorf("%d problems only", count)
	}
}

// TestMaximum checks problems whose time is a maximum: paths through places beside the crossing are
// faster.
func TestMaximum(t *testing.T) {
	count := 0
	for _, p := range Problems() {
		if p.Index == 0 {
			continue
		}
		count++
		surface := p.Crossings[0].Surface
		u, v := surface.Locate(p.Points[0])
		for _, step := range []float64{-1e-3, -1e-4, 1e-4, 1e-3} {
			if time := p.Through(surface.At(u+step, v).P); !(time < p.Seconds) {
				t.Errorf("%s: %v s at %v m beside the crossing, %v s there", p.Name, time, step,
					p.Seconds)
			}
		}
	}
	if count != 1 {
		t.Errorf("%d maxima, want 1", count)
	}
}

// TestEverywhere checks that paths through random places of a surface take the same time if
// Everywhere is set.
func TestEverywhere(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	for _, p := range Problems() {
		if !p.Everywhere {
			continue
		}
		c, count := p.Crossings[0], 0
		for range 1000 {
			at := c.Surface.At(0.1*(rng.Float64()-0.5), 0)
			side := 1.0
			if c.Reflects {
				side = -1
			}
			if r3.Dot(r3.Sub(at.P, p.From), at.Normal()) <= 0 ||
				side*r3.Dot(r3.Sub(p.To, at.P), at.Normal()) <= 0 {
				continue
			}
			count++
			if err := p.Check(p.Through(at.P)); err != nil {
				t.Fatalf("by way of %v: %v", at.P, err)
			}
		}
		if count < 100 {
			t.Errorf("%s: %d places only", p.Name, count)
		}
	}
}

// TestCheck checks that wrong times are errors that name the problem.
func TestCheck(t *testing.T) {
	p, _ := Get("no crossing")
	for _, bad := range []float64{p.Seconds * 1.0001, math.NaN(), math.Inf(1), 0} {
		if err := p.Check(bad); err == nil || !strings.Contains(err.Error(), "no crossing") {
			t.Errorf("error %v for the time %v s", err, bad)
		}
	}
}

// TestSurfaces checks the surfaces of this package against the contract of [wedge.Surface], by
// finite differences and by steps along the normal.
func TestSurfaces(t *testing.T) {
	oval, _ := Get("Cartesian oval, 1.48 to 3.24 mm/µs, tilted")
	ellipse, _ := Get("tilted ellipse, focus to focus")
	converting, _ := Get("oval that reflects and converts")
	dish, _ := Get("paraboloid, in a section")
	rng := rand.New(rand.NewPCG(33, 34))
	for _, p := range []Problem{oval, ellipse, converting, dish} {
		s := p.Crossings[0].Surface
		for range 200 {
			u, v := 20e-3*(rng.Float64()-0.5), 20e-3*(rng.Float64()-0.5)
			const h = 1e-6
			at := s.At(u, v)
			difference := func(a, b r3.Vec) r3.Vec { return r3.Scale(1/(2*h), r3.Sub(a, b)) }
			east, west, north, south := s.At(u+h, v), s.At(u-h, v), s.At(u, v+h), s.At(u, v-h)
			for _, d := range []struct {
				name      string
				got, want r3.Vec
				tolerance float64
			}{
				{"U", at.U, difference(east.P, west.P), 1e-6},
				{"V", at.V, difference(north.P, south.P), 1e-8},
				{"UU", at.UU, difference(east.U, west.U), 1e-2},
				{"UV", at.UV, difference(east.V, west.V), 1e-3},
				{"VV", at.VV, difference(north.V, south.V), 1e-3},
			} {
				if e := r3.Norm(r3.Sub(d.got, d.want)); !(e <= d.tolerance) {
					t.Fatalf("%s: %s = %v at (%v, %v), by differences %v",
						p.Name, d.name, d.got, u, v, d.want)
				}
			}
			for _, depth := range []float64{-2e-3, 0, 2e-3} {
				q := r3.Add(at.P, r3.Scale(depth, at.Normal()))
				if got := s.Depth(q); !(math.Abs(got-depth) <= 1e-12) {
					t.Fatalf("%s: depth %v m of a point %v m along the normal", p.Name, got, depth)
				}
				if gu, gv := s.Locate(q); !(math.Abs(gu-u) <= 1e-9 && math.Abs(gv-v) <= 1e-9) {
					t.Fatalf("%s: located at (%v, %v), want (%v, %v)", p.Name, gu, gv, u, v)
				}
			}
		}
		nan, inf := math.NaN(), math.Inf(1)
		for _, q := range []r3.Vec{{X: nan}, {Z: nan}, {X: inf}, {Z: -inf}} {
			if depth := s.Depth(q); !math.IsNaN(depth) && !math.IsInf(depth, 0) {
				t.Errorf("%s: %v lies %v m deep", p.Name, q, depth)
			}
		}
	}
	// A point on the axis lies 100 mm above the vertex. For f = 30 mm the centre of curvature lies
	// 60 mm above the vertex. The nearest points form a circle of the radius √(4f·(100 mm - 2f)).
	s := dish.Crossings[0].Surface
	u, v := s.Locate(mm(0, -60))
	if r := math.Hypot(u, v); !(math.Abs(r-math.Sqrt(4*30e-3*40e-3)) <= 1e-12) {
		t.Errorf("nearest point of the paraboloid %v m from its axis", r)
	}
}
