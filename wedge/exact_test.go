// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge_test

import (
	"context"
	"math"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/exact"
)

// TestExact solves the problems of package exact as single rays, in both directions.
func TestExact(t *testing.T) {
	for _, p := range exact.Problems() {
		t.Run(p.Name, func(t *testing.T) {
			r := p.Path().Solve(p.From, p.To)
			if p.Index > 0 {
				r = slowest(t, &p)
			}
			if r.Status != wedge.OK {
				t.Fatal(r.Status)
			}
			if err := p.Check(r.Time); err != nil {
				t.Error(err)
			}
			for i, want := range p.Points {
				if d := r3.Norm(r3.Sub(r.Points[i+1], want)); !(d <= 1e-12) {
					t.Errorf("crossing %d at %v m, want %v m", i, r.Points[i+1], want)
				}
			}
			if p.Index > 0 {
				return
			}
			back := reversed(&p)
			if r := back.Path().Solve(back.From, back.To); r.Status != wedge.OK || back.Check(r.Time) != nil {
				t.Errorf("on the way back: %v, %v", r.Status, back.Check(r.Time))
			}
		})
	}
}

// slowest returns the slowest of all rays of a problem.
func slowest(t *testing.T, p *exact.Problem) wedge.Ray {
	t.Helper()
	rays, err := p.Path().Rays(p.From, p.To, nil)
	if err != nil || len(rays) == 0 {
		t.Fatalf("%d rays, error %v", len(rays), err)
	}
	i := slices.IndexFunc(rays, func(r wedge.StationaryRay) bool { return r3.Norm(r3.Sub(r.Points[1], p.Points[0])) < 1e-6 })
	if i < 0 || rays[i].Index != p.Index {
		t.Fatalf("no ray of index %d at %v m", p.Index, p.Points[0])
	}
	return rays[i].Ray
}

// reversed returns the problem in the other direction.
func reversed(p *exact.Problem) exact.Problem {
	back := *p
	back.From, back.To = p.To, p.From
	back.Legs, back.Crossings = slices.Clone(p.Legs), slices.Clone(p.Crossings)
	slices.Reverse(back.Legs)
	slices.Reverse(back.Crossings)
	for i, c := range back.Crossings {
		if !c.Reflects {
			back.Crossings[i].From = 1 - c.From
		}
	}
	return back
}

// TestExactTables makes tables of a small grid around the end of each problem.
func TestExactTables(t *testing.T) {
	for _, p := range exact.Problems() {
		if p.Index > 0 {
			continue // the search from the straight line need not find it
		}
		t.Run(p.Name, func(t *testing.T) {
			grid, middle := aroundEnd(p)
			times, err := p.Path().Times(context.Background(), []r3.Vec{p.From}, grid.Points(), nil)
			if err != nil {
				t.Fatal(err)
			}
			if got := float64(times.Seconds[middle]); !(math.Abs(got-p.Seconds) <= 1e-12+p.Seconds*0x1p-24) {
				t.Errorf("%v s in the table, want %v s", got, p.Seconds)
			}
			// TestInterpolateBound is enough for a short run. The long trial has the ellipses, in which
			// the search meets many ways of the same time.
			if !testing.Short() && !strings.Contains(p.Name, "ellipse") {
				compareInterpolated(t, p)
			}
		})
	}
}

// aroundEnd returns a grid around the end of a problem, and the index of the end. The grid is so
// small that it lies on one side of every surface. The nearest surface lies 0.1 mm above the end.
func aroundEnd(p exact.Problem) (grid wedge.Grid, end int) {
	const step, middle = 8e-6, 5
	return wedge.Grid{
		Origin: r3.Sub(p.To, r3.Vec{X: middle * step, Z: middle * step}),
		Step:   r3.Vec{X: step, Y: step, Z: step},
		Cols:   2*middle + 1, Rows: 2*middle + 1, Slices: 1,
	}, middle*(2*middle+1) + middle
}

// compareInterpolated compares the time of a problem in an interpolated table.
func compareInterpolated(t *testing.T, p exact.Problem) {
	t.Helper()
	grid, end := aroundEnd(p)
	woven, err := p.Path().Interpolate(context.Background(), []r3.Vec{p.From}, grid, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got := float64(woven.Seconds[end]); !(math.Abs(got-p.Seconds) <= 0.5e-9+p.Seconds*0x1p-24) {
		t.Errorf("%v s in the interpolated table, want %v s", got, p.Seconds)
	}
}

// TestExactSetup checks that a contact set-up makes the paths of the problems of a plate, 30 mm
// thick.
func TestExactSetup(t *testing.T) {
	part := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plate, err := wedge.NewPlate(nil, part, 30e-3)
	if err != nil {
		t.Fatal(err)
	}
	const L, T = material.L, material.T
	for name, modes := range map[string][]material.Mode{
		"no crossing": {L}, "skip, TT": {T, T}, "skip, LL": {L, L}, "two skips, TTT": {T, T, T}, "skip, LT": {L, T}, "skip, TL": {T, L},
	} {
		p, ok := exact.Get(name)
		path, err := plate.Path(modes)
		if !ok || err != nil {
			t.Fatalf("%s: %v, %v", name, ok, err)
		}
		r := path.Solve(p.From, p.To)
		if err := p.Check(r.Time); err != nil {
			t.Error(err)
		}
	}
}
