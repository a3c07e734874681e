// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestBlockInContact compares the rays of an array in contact with all arrivals of the solver in
// three dimensions that are polarised in the section or across it. The times are the length divided
// by the group speeds.
func TestBlockInContact(t *testing.T) {
	if testing.Short() {
		t.Skip("scans of all sheets")
	}
	curves, m := metal(t, "weld metal type 308")
	solver := check.Must(material.NewGroupSolver(m))
	block := &Block{Entry: plane(0), Curves: curves, Axis: math.Pi / 2}
	for i := range 34 {
		angle := (5.3 + 5*float64(i)) * degrees
		to := r3.Scale(25e-3, heading(angle))
		var times []float64
		for pol := qL; pol <= sH; pol++ {
			rays := check.Must(block.Rays(pol, r3.Vec{}, to))
			for k, r := range rays {
				if k > 0 && r.Time < rays[k-1].Time {
					t.Errorf("%v at %.1f°: times out of order", pol, angle/degrees)
				}
				times = append(times, r.Time)
			}
		}
		want := 0
		for _, w := range check.Must(solver.Arrivals(nil, to)) {
			if math.Abs(w.Normal.Y) > 1e-6 {
				continue
			}
			want++
			near := math.Inf(1)
			for _, s := range times {
				near = min(near, math.Abs(s-25e-3/w.GroupSpeed()))
			}
			if !(near <= 1e-15) {
				t.Errorf("%v at %.1f°: no ray with the time %v s", w.Sheet, angle/degrees,
					25e-3/w.GroupSpeed())
			}
		}
		if len(times) != want {
			t.Errorf("at %.1f°: %d rays, want %d", angle/degrees, len(times), want)
		}
	}
}

// TestBlockAgainstBruteForce checks rays behind a wedge and behind a curved surface. The first ray
// has the least time over all entry points. The slownesses of all rays agree along the surface.
func TestBlockAgainstBruteForce(t *testing.T) {
	curves, _ := metal(t, "weld metal type 308")
	round := check.Must(wedge.NewCylinder(r3.Vec{Z: 80e-3}, r3.Vec{Y: 1}, 80e-3, wedge.Convex))
	for _, entry := range []wedge.Surface{plane(0), round} {
		block := &Block{Coupling: polystyrene, Entry: entry, Curves: curves, Axis: 1.2}
		element := r3.Vec{X: -12e-3, Z: -15e-3}
		several := 0
		for _, pol := range []Polarisation{qL, qSV, sH} {
			for i := range 6 {
				to := r3.Vec{X: float64(6*i-14) * 1e-3, Z: 18e-3}
				rays := check.Must(block.Rays(pol, element, to))
				if len(rays) == 0 {
					t.Errorf("%v to %v: no ray", pol, to)
					continue
				}
				if len(rays) > 1 {
					several++
				}
				for _, r := range rays {
					if !(math.Abs(r.Snell) <= 1e-15) {
						t.Errorf("%v to %v: slownesses differ by %v s/m along the surface", pol, to,
							r.Snell)
					}
				}
				if pol == qSV {
					continue // its first ray may be no minimum
				}
				least := math.Inf(1)
				for u := -30e-3; u <= 30e-3; u += 5e-6 {
					at := entry.At(u, 0).P
					d := r3.Sub(to, at)
					time, _, _ := curves.travel(pol, 1.2, d)
					least = min(least, distance(element, at)/polystyrene.Longitudinal+time)
				}
				if !(rays[0].Time <= least) || !(least-rays[0].Time <= 1e-12) {
					t.Errorf("%v to %v: %v s, the least over entry points is %v s", pol, to,
						rays[0].Time, least)
				}
			}
		}
		if several == 0 {
			t.Error("no point with several rays: the test has not met its case")
		}
	}
}

// TestPartAgainstBlock checks that Part and Block give the same times for a block.
func TestPartAgainstBlock(t *testing.T) {
	curves, _ := metal(t, "weld metal X6CrNi18-11")
	block := &Block{Coupling: polystyrene, Entry: plane(0), Curves: curves, Axis: 1.9}
	for _, m := range []Medium{check.Must(NewUniform(curves, 1.9)),
		check.Must(NewGrains(curves, constant(1.9)))} {
		part := &Part{Coupling: polystyrene, Entry: plane(0), Media: []Medium{m}}
		for _, pol := range []Polarisation{qL, sH} {
			for _, to := range []r3.Vec{{X: 20e-3, Z: 15e-3}, {X: -9e-3, Z: 2e-3}, {Z: 30e-3}} {
				element := r3.Vec{X: -10e-3, Z: -12e-3}
				want := check.Must(block.Rays(pol, element, to))
				got := check.Must(part.Ray(pol, element, to, &Options{Spacing: 1e-3}))
				if len(want) != 1 || !(math.Abs(got.Time-want[0].Time) <= 1e-17) {
					t.Errorf("%v to %v: %v %v s, the block has %v", pol, to, got.Status, got.Time,
						want)
				}
			}
		}
	}
}

// TestBlockAtGrazing checks points just below the surface, beyond the critical angle, against
// package wedge. Their rays enter far from the point and travel along under the surface.
func TestBlockAtGrazing(t *testing.T) {
	part := solid(5900, 3230)
	block := &Block{Coupling: polystyrene, Entry: plane(0),
		Curves: check.Must(NewSlownessCurves(check.Must(part.Anisotropic()))), Axis: 1}
	layer := &Part{Coupling: polystyrene, Entry: plane(0),
		Media: []Medium{check.Must(NewIsotropic(part))}}
	path := check.Must(wedge.NewPath([]wedge.Leg{{Speed: 2330}, {Speed: 5900}},
		[]wedge.Crossing{{Surface: plane(0)}}))
	element := r3.Vec{Z: -10e-3}
	for _, depth := range []float64{1e-3, 1e-4, 1e-5, 1e-6} {
		for _, x := range []float64{-40e-3, 10e-3, 25e-3} {
			to := r3.Vec{X: x, Z: depth}
			rays := check.Must(block.Rays(qL, element, to))
			want := path.Solve(element, to).Time
			if len(rays) != 1 || !(math.Abs(rays[0].Time/want-1) <= 1e-9) {
				t.Errorf("to %v: %v, want one ray of %v s", to, rays, want)
			}
			if r := check.Must(layer.Ray(qL, element, to,
				nil)); !(math.Abs(r.Time/want-1) <= 1e-12) {
				t.Errorf("to %v: part %v, %v s, want %v", to, r.Status, r.Time, want)
			}
		}
	}
	rays := check.Must(block.Rays(qL, element, r3.Vec{X: 10e-3}))
	if want := math.Hypot(10e-3, 10e-3) / 2330; len(rays) != 1 ||
		!(math.Abs(rays[0].Time/want-1) <= 1e-15) {
		t.Errorf("on the surface: %v, want one ray of %v s", rays, want)
	}
}

// TestBlockTimes compares tables with rays, for several arrivals and numbers of workers.
func TestBlockTimes(t *testing.T) {
	curves, _ := metal(t, "weld metal type 308")
	block := &Block{Coupling: polystyrene, Entry: plane(0), Curves: curves, Axis: 1.2}
	elements := []r3.Vec{{X: -12e-3, Z: -15e-3}, {X: -11e-3, Z: -14e-3}}
	var points []r3.Vec
	for i := range 60 {
		points = append(points, r3.Vec{X: float64(i%15) * 2e-3, Z: float64(i/15-1) * 8e-3})
	}
	counts := [3]int{}
	for arrival := range counts {
		one := check.Must(block.Times(context.Background(), qSV, elements, points,
			&BlockOptions{Arrival: arrival, Workers: 1}))
		three := check.Must(block.Times(context.Background(), qSV, elements, points,
			&BlockOptions{Arrival: arrival, Workers: 3}))
		for i, s := range one.Seconds {
			if math.Float32bits(s) != math.Float32bits(three.Seconds[i]) {
				t.Fatalf("time %d depends on the number of workers", i)
			}
			if !math.IsNaN(float64(s)) {
				counts[arrival]++
				rays := check.Must(block.Rays(qSV, elements[i/60], points[i%60]))
				if s != float32(rays[arrival].Time) {
					t.Errorf("time %d is %v s, that of the ray %v s", i, s, rays[arrival].Time)
				}
			}
		}
		if one.Missing != len(one.Seconds)-counts[arrival] {
			t.Errorf("arrival %d: %d times missing, says %d", arrival,
				len(one.Seconds)-counts[arrival], one.Missing)
		}
	}
	if !(counts[0] >= 75 && counts[1] < counts[0] && counts[2] > 0) {
		t.Errorf("%v points have a first, second and third arrival: the test has not met its case",
			counts)
	}
}

// TestTablesKnowTheirPath checks that two tables are of the same path exactly if polarisation,
// medium and arrival are equal.
func TestTablesKnowTheirPath(t *testing.T) {
	if testing.Short() {
		t.Skip("the default form runs it")
	}
	curves, _ := metal(t, "weld metal type 308")
	elements, points := []r3.Vec{{X: -12e-3}, {X: -11e-3}}, []r3.Vec{{X: 1e-3, Z: 8e-3},
		{X: 2e-3, Z: 8e-3}}
	ctx := context.Background()
	block := func(axis float64, pol Polarisation, options *BlockOptions) wedge.MadeFor {
		b := &Block{Entry: plane(0), Curves: curves, Axis: axis}
		return check.Must(b.Times(ctx, pol, elements, points, options)).MadeFor
	}
	part := func(axis float64, pol Polarisation, options Options) wedge.MadeFor {
		options.Spacing = 0.5e-3
		options.Region = r2.Box{Min: r2.Vec{X: -20e-3, Y: -1e-3}, Max: r2.Vec{X: 20e-3, Y: 21e-3}}
		p := &Part{Entry: plane(0), Back: plane(20e-3), Media: []Medium{check.Must(NewUniform(curves, axis))}}
		return check.Must(p.Times(ctx, pol, elements, points, &options)).MadeFor
	}
	for _, test := range []struct {
		name string
		a, b wedge.MadeFor
		want bool
	}{
		{"block", block(1, qL, nil), block(1, qL, &BlockOptions{Workers: 1}), true},
		{"block, another axis", block(1, qL, nil), block(1.1, qL, nil), false},
		{"block, another pol", block(1, qL, nil), block(1, qSV, nil), false},
		{"block, another arrival", block(1, qSV, nil), block(1, qSV, &BlockOptions{Arrival: 1}),
			false},
		{"part", part(1, qL, Options{}),
			part(1, qL, Options{Workers: 1, Progress: func(float64) {}}),
			true},
		{"part, another axis", part(1, qL, Options{}), part(1.1, qL, Options{}), false},
		{"part, another pol", part(1, qL, Options{}), part(1, sH, Options{}), false},
		{"part, skips", part(1, qL, Options{Skips: []Polarisation{qL}}), part(1, qL, Options{Skips: []Polarisation{qL}}), true},
		{"part, without skips", part(1, qL, Options{Skips: []Polarisation{qL}}), part(1, qL, Options{}), false},
		{"part, another skip", part(1, qL, Options{Skips: []Polarisation{qL}}), part(1, qL, Options{Skips: []Polarisation{qSV}}),
			false},
		{"part and block", part(1, qL, Options{}), block(1, qL, nil), false},
	} {
		if got := test.a.Equal(test.b); got != test.want {
			t.Errorf("%s: equal %v, want %v", test.name, got, test.want)
		}
	}
}

// TestTablesOfChangedCoupling changes the coupling of a set-up between two tables. The tables differ,
// and must not count as tables of one path.
func TestTablesOfChangedCoupling(t *testing.T) {
	curves, _ := metal(t, "weld metal type 308")
	elements, points := []r3.Vec{{Z: -12e-3}}, []r3.Vec{{X: 1e-3, Z: 8e-3}, {X: 2e-3, Z: 8e-3}}
	coupling := *polystyrene
	block := &Block{Coupling: &coupling, Entry: plane(0), Curves: curves, Axis: 1}
	part := &Part{Coupling: &coupling, Entry: plane(0),
		Media: []Medium{check.Must(NewUniform(curves, 1))}}
	tables := func() [2]*wedge.Times {
		ctx := context.Background()
		return [2]*wedge.Times{
			check.Must(block.Times(ctx, qL, elements, points, nil)),
			check.Must(part.Times(ctx, qL, elements, points, &Options{Spacing: 0.5e-3})),
		}
	}
	before, same := tables(), tables()
	coupling.Longitudinal = 1480
	after := tables()
	for i, name := range []string{"block", "part"} {
		if before[i].Seconds[0] == after[i].Seconds[0] {
			t.Fatalf("%s: both couplings give %v s", name, after[i].Seconds[0])
		}
		if before[i].MadeFor.Equal(after[i].MadeFor) {
			t.Errorf("%s: equal paths before and after the coupling was changed", name)
		}
		if !before[i].MadeFor.Equal(same[i].MadeFor) {
			t.Errorf("%s: different paths of the same coupling", name)
		}
	}
}

// TestRefusals checks that errors name the faulty argument.
func TestRefusals(t *testing.T) {
	curves, _ := metal(t, "weld metal type 308")
	medium := check.Must(NewUniform(curves, 0))
	good := Part{Coupling: polystyrene, Entry: plane(0), Media: []Medium{medium}}
	element, point := r3.Vec{Z: -1e-2}, r3.Vec{Z: 1e-2}
	contact, faceless, mediumless := good, good, good
	contact.Coupling = nil
	faceless.Media = []Medium{medium, medium}
	mediumless.Media = []Medium{nil}
	ray := func(p *Part, pol Polarisation, a, b r3.Vec, o *Options) func() error {
		return func() error { _, err := p.Ray(pol, a, b, o); return err }
	}
	for _, row := range []struct {
		name, want string
		call       func() error
	}{
		{"polarisation", "polarisation 3", ray(&good, 3, element, point, nil)},
		{"element NaN", "element 0", ray(&good, qL, r3.Vec{X: math.NaN(), Z: -1}, point, nil)},
		{"point infinite", "point 0", ray(&good, qL, element, r3.Vec{X: math.Inf(1)}, nil)},
		{"point in another section", "y = 1", ray(&good, qL, element, r3.Vec{Y: 1, Z: 1e-2}, nil)},
		{"element in the part", "in the coupling", ray(&good, qL, point, point, nil)},
		{"element off the surface", "on the surface", ray(&contact, qL, element, point, nil)},
		{"no faces", "faces", ray(&faceless, qL, element, point, nil)},
		{"no medium", "medium 0", ray(&mediumless, qL, element, point, nil)},
		{"empty part", "entry surface", ray(&Part{}, qL, element, point, nil)},
		{"spacing", "spacing", ray(&good, qL, element, point, &Options{Spacing: -1})},
		{"fine spacing", "nodes", ray(&good, qL, element, point, &Options{Spacing: 1e-6})},
		{"tolerance", "tolerance", ray(&good, qL, element, point, &Options{Tolerance: math.NaN()})},
		{"region", "region", ray(&good, qL, element, point,
			&Options{Region: r2.Box{Min: r2.Vec{X: 1}}})},
		{"no elements", "0 elements", func() error {
			_, err := good.Times(context.Background(), qL,
				nil, []r3.Vec{point}, nil)
			return err
		}},
		{"block without curves", "curves",
			func() error {
				_, err := (&Block{Entry: plane(0)}).Rays(qL, element,
					point)
				return err
			}},
		{"block with axis", "axis", func() error {
			_, err := (&Block{Entry: plane(0), Curves: curves, Axis: math.Inf(1)}).Rays(qL, element,
				point)
			return err
		}},
		{"arrival", "arrival", func() error {
			_, err := (&Block{}).Times(context.Background(), qL, nil, nil,
				&BlockOptions{Arrival: -1})
			return err
		}},
		{"weld without texture", "texture", func() error {
			_, err := NewWeld(nil, parent, curves,
				nil, veeWeld)
			return err
		}},
		{"gradient", "gradient", func() error {
			_, err := NewLinear(parent, r3.Vec{},
				r3.Vec{Y: 1})
			return err
		}},
	} {
		if err := row.call(); err == nil || !strings.Contains(err.Error(), row.want) ||
			!strings.HasPrefix(err.Error(), "graded: ") {
			t.Errorf("%s: error %v, want one of the package with %q", row.name, err, row.want)
		}
	}
}

// TestDegenerateEnds checks points on surfaces and faces, and points that no ray can reach.
func TestDegenerateEnds(t *testing.T) {
	p := weldCase(t, polystyrene, 1)
	element := r3.Vec{X: -40e-3, Z: -12e-3}
	width, _ := vee.halfWidth(20e-3)
	for _, row := range []struct {
		name string
		to   r3.Vec
		want wedge.Status
	}{
		{"above the part", r3.Vec{Z: -1e-3}, wedge.EndOutside},
		{"beyond the back wall", r3.Vec{Z: 31e-3}, wedge.EndOutside},
		{"on the back wall", r3.Vec{Z: 30e-3}, wedge.OK},
		{"on the fusion face", r3.Vec{X: -width, Z: 20e-3}, wedge.OK},
		{"on the centre line", r3.Vec{Z: 20e-3}, wedge.OK},
		{"on the far fusion face", r3.Vec{X: width, Z: 20e-3}, wedge.OK},
		{"a nanometre inside it", r3.Vec{X: width - 1e-9, Z: 20e-3}, wedge.OK},
		{"a micrometre inside it", r3.Vec{X: width - 1e-6, Z: 20e-3}, wedge.OK},
		{"on the entry surface under the element", r3.Vec{X: -40e-3}, wedge.OK},
	} {
		r := check.Must(p.Ray(qL, element, row.to, &Options{Spacing: 1e-3}))
		if r.Status != row.want || math.IsNaN(r.Time) != (row.want != wedge.OK) {
			t.Errorf("%s: %v, %v s, want %v", row.name, r.Status, r.Time, row.want)
		}
	}
	contact := weldCase(t, nil, 1)
	if r := check.Must(contact.Ray(qL, r3.Vec{}, r3.Vec{}, nil)); r.Status == wedge.OK &&
		r.Time != 0 {
		t.Errorf("ray of no length: %v, %v s", r.Status, r.Time)
	}
}
