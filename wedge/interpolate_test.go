// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// gridOf returns the grid of columns × rows points in the section y = 0; lengths in mm.
func gridOf(x0, z0, step float64, columns, rows int) Grid {
	return Grid{Origin: mm(x0, z0), Step: r3.Vec{X: step * 1e-3, Y: 1e-3, Z: step * 1e-3}, Cols: columns, Rows: rows, Slices: 1}
}

func TestInterpolate(t *testing.T) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	thick := check.Must(NewPlate(&water, steel, 30e-3))
	pipe := check.Must(NewPipe(&water, steel, 57.15e-3, 14e-3))
	thin := check.Must(NewPipe(&water, steel, 17e-3, 4.25e-3))
	contact := check.Must(NewPlate(nil, aluminium, 40e-3))
	uneven := &Setup{Coupling: &water, Part: steel, Entry: check.Must(NewProfile(wavy()))}
	skew := &Setup{Coupling: &water, Part: steel, Entry: check.Must(NewCylinder(mm(1, 52), r3.Vec{X: 1, Y: 1}, 50e-3, Convex))}
	step := r3.Vec{X: 0.2e-3, Y: 0.2e-3, Z: 0.2e-3}
	level := Grid{Origin: r3.Vec{X: -8e-3, Y: -4e-3, Z: 12e-3}, Step: step, Cols: 81, Rows: 1, Slices: 40}
	volume := Grid{Origin: r3.Vec{X: -4e-3, Y: -2e-3, Z: 5e-3}, Step: step, Cols: 30, Rows: 70, Slices: 3}
	for _, test := range []struct {
		name, reason string
		setup        *Setup
		path         string
		elements     []r3.Vec
		grid         Grid
		tolerance    float64
	}{
		{"plane", "a picture from the surface on", thick, "T", lineElements(4, 5e-3, -10e-3), gridOf(-12.8, 0, 0.1, 256, 256), 0},
		{"plane, finer tolerance", "", thick, "T", lineElements(2, 5e-3, -10e-3), gridOf(-12.8, 1, 0.1, 200, 150), 1e-11},
		{"plane, from above", "half of the points lie in the wedge", plate, "T", wedgeElements()[:2], gridOf(5, -2, 0.1, 101, 77), 0},
		{"converted skip", "the points below the back wall have no ray", plate, "LT", wedgeElements()[:2], gridOf(5, 1, 0.1, 131, 170), 0},
		{"pipe", "the points beside the pipe have no ray", pipe, "L", lineElements(2, 5e-3, -10e-3), gridOf(-20, 0, 0.1, 401, 130), 0},
		{"pipe, skip", "the bore is no convex region", pipe, "TT", lineElements(2, 5e-3, -10e-3), gridOf(-6, 10, 0.1, 120, 60), 0},
		{"plane, odd error", "an error that is zero in the middle of a cell", thick, "T", []r3.Vec{mm(4, -20)}, gridOf(-5, 2, 0.13, 136, 145), 0},
		{"behind a bore", "the shadow of a wall between the checks of a cell", thin, "L", []r3.Vec{mm(2, -16)}, gridOf(-8, 2, 0.1, 200, 200), 0},
		{"profile", "waves that bend the times", uneven, "L", lineElements(2, 5e-3, -10e-3), gridOf(-10, 3, 0.1, 200, 100), 0},
		{"contact", "no crossing", contact, "L", lineElements(2, 5e-3, 0), gridOf(-10, 0, 0.1, 200, 100), 0},
		{"skew cylinder", "rays out of the section", skew, "L", lineElements(2, 5e-3, -10e-3), gridOf(-6, 4, 0.2, 60, 50), 0},
		{"skew cylinder, level", "points along x and y", skew, "L", lineElements(2, 5e-3, -10e-3), level, 0},
		{"plane, level", "points along x and y", thick, "L", lineElements(2, 5e-3, -10e-3), level, 0},
		{"plane, volume", "slices across the array", thick, "T", lineElements(2, 5e-3, -10e-3), volume, 0},
		{"one row", "", thick, "T", lineElements(2, 5e-3, -10e-3), gridOf(-12.8, 5, 0.1, 150, 1), 0},
		{"one column", "", thick, "T", lineElements(2, 5e-3, -10e-3), gridOf(-12.8, 5, 0.1, 1, 150), 0},
		{"one point", "", thick, "T", lineElements(2, 5e-3, -10e-3), gridOf(-12.8, 5, 0.1, 1, 1), 0},
		{"two points", "", thick, "T", lineElements(2, 5e-3, -10e-3), gridOf(-12.8, 5, 0.1, 2, 1), 0},
		{"a point more than a cell", "", thick, "T", lineElements(2, 5e-3, -10e-3), gridOf(-12.8, 5, 0.1, coarse+2, coarse+2), 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			modes, _ := parseModes(test.path)
			p := check.Must(test.setup.Path(modes))
			want := check.Must(p.Times(background, test.elements, test.grid.Points(), nil))
			got, err := p.Interpolate(background, test.elements, test.grid, &InterpolateOptions{Tolerance: test.tolerance})
			if err != nil {
				t.Fatal(err)
			}
			if got.Elements != want.Elements || got.Points != want.Points || got.Missing != want.Missing {
				t.Fatalf("%d × %d pairs, %d missing; want %d × %d, %d",
					got.Elements, got.Points, got.Missing, want.Elements, want.Points, want.Missing)
			}
			tolerance := test.tolerance
			if tolerance == 0 {
				tolerance = defaultError
			}
			worst := 0.0
			for i := range want.Seconds {
				a, b := float64(got.Seconds[i]), float64(want.Seconds[i])
				if math.IsNaN(a) && math.IsNaN(b) {
					continue
				}
				d := math.Abs(a - b)
				worst = max(worst, d)
				// The rounding of each table is at most half of 2^-23 of the time.
				if !(d <= tolerance+b*0x1p-23) {
					t.Fatalf("%s: index %d: %v s, want %v", test.reason, i, a, b)
				}
			}
			t.Logf("largest error %.3g ns, at checks %.3g ns, %d rays for %d pairs",
				worst*1e9, got.Error*1e9, got.Rays, len(got.Seconds))
			if !(got.Error <= tolerance*margin) {
				t.Errorf("error of %v s passed the checks", got.Error)
			}
			first, rows := got.Seconds[0], test.grid.Rows
			if r := p.Solve(test.elements[0], test.grid.Origin); r.Status == OK && !(math.Abs(float64(first)-r.Time) <= 1e-12+r.Time*0x1p-24) {
				t.Errorf("%v s at the first of %d rows, want %v exactly", first, rows, r.Time)
			}
		})
	}
}

// TestSlopes compares the derivatives at the corners of cells with finite differences of times, for
// the solver of sections and for the general solver.
func TestSlopes(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	check := func(name string, p *Path, w *tracer, from, q, a, b r3.Vec) {
		t.Helper()
		w.forget(nil)
		if _, status := w.trace(from, q, other); status != OK {
			t.Fatalf("%s: %v", name, status)
		}
		got := w.slopes(from, q, a, b)
		at := func(i, j float64) float64 {
			return p.Solve(from, r3.Add(q, r3.Add(r3.Scale(i, a), r3.Scale(j, b)))).Time
		}
		for _, d := range []struct {
			name            string
			got, want, size float64
		}{
			{"first", got.a, (at(1, 0) - at(-1, 0)) / 2, 1e-12},
			{"second", got.b, (at(0, 1) - at(0, -1)) / 2, 1e-12},
			{"mixed", got.mixed, (at(1, 1) - at(1, -1) - at(-1, 1) + at(-1, -1)) / 4, 1e-14},
		} {
			if !(math.Abs(d.got-d.want) <= d.size) {
				t.Errorf("%s: %s derivative %v s, by differences %v", name, d.name, d.got, d.want)
			}
		}
	}
	for i := range 100 {
		p, from, to := randomSection(rng)
		a, b := mm(0.05, 0.01), mm(0.02, -0.05)
		check(fmt.Sprintf("section %d", i), p, newTracer(p), from, to[0], a, b)
		general := newTracer(p)
		general.section = nil
		check(fmt.Sprintf("general solver in section %d", i), p, general, from, to[0], a, b)
		p, from, end := randomCase(rng)
		a, b = r3.Vec{X: 5e-5, Y: 1e-5}, r3.Vec{Y: 4e-5, Z: 3e-5}
		check(fmt.Sprintf("skew %d", i), p, newTracer(p), from, end, a, b)
	}
}

func TestInterpolateWorkersAndReuse(t *testing.T) {
	pipe := check.Must(NewPipe(&water, steel, 57.15e-3, 14e-3))
	p := check.Must(pipe.Path([]material.Mode{material.L}))
	elements, grid := lineElements(5, 0.6e-3, -10e-3), gridOf(-10, 2.5, 0.1, 101, 51)
	want := check.Must(p.Interpolate(background, elements, grid, &InterpolateOptions{Workers: 1}))
	for _, n := range []int{2, 3, 8} {
		if got := check.Must(p.Interpolate(background, elements, grid, &InterpolateOptions{Workers: n})); !cmp.Equal(got, want) {
			t.Errorf("%d workers give another table than one", n)
		}
	}
	if _, err := p.Interpolate(background, elements, grid, &InterpolateOptions{Workers: -1}); err == nil || !strings.Contains(err.Error(), "workers -1") {
		t.Errorf("error %v for -1 workers", err)
	}
	larger := check.Must(p.Interpolate(background, elements, gridOf(-10, 2.5, 0.1, 131, 81), nil))
	if got := check.Must(p.Interpolate(background, elements, grid, &InterpolateOptions{Reuse: larger})); got != larger || !cmp.Equal(got, want) {
		t.Error("a table in the memory of another differs")
	}
	moved := check.Must(p.Interpolate(background, lineElements(5, 0.6e-3, -11e-3), grid, &InterpolateOptions{Reuse: larger})).MadeFor
	if moved.Elements == want.MadeFor.Elements || moved.Points != PlacesOf(slices.Values(grid.Points())) {
		t.Errorf("table for other elements in the memory of another is made for %v", moved)
	}
	ended, cancel := context.WithCancel(background)
	cancel()
	if _, err := p.Interpolate(ended, elements, grid, &InterpolateOptions{Reuse: larger}); !errors.Is(err, context.Canceled) || larger.MadeFor != (MadeFor{}) {
		t.Errorf("error %v, and a table half overwritten that is made for %v; want no such claim", err, larger.MadeFor)
	}
	w := newCellFiller(p, grid.lattices()[0], defaultError)
	if n := testing.AllocsPerRun(3, func() { w.table(elements[0], nil, want.Seconds[:grid.Len()]) }); n != 0 {
		t.Errorf("%v allocations for %d points, want none", n, grid.Len())
	}
}

func TestInterpolateErrors(t *testing.T) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	p := check.Must(plate.Path([]material.Mode{material.T}))
	elements, grid := wedgeElements()[:1], gridOf(5, 1, 0.5, 20, 20)
	for _, test := range []struct {
		name      string
		elements  []r3.Vec
		grid      Grid
		tolerance float64
		words     []string
	}{
		{"no element", nil, grid, 0, []string{"0 elements"}},
		{"element in the part", []r3.Vec{mm(0, 1)}, grid, 0, []string{"element 0", "wrong side"}},
		{"no column", elements, gridOf(5, 1, 0.5, 0, 20), 0, []string{"0 pixels along x"}},
		{"no row", elements, gridOf(5, 1, 0.5, 20, -1), 0, []string{"-1 pixels along z"}},
		{"step of NaN", elements, gridOf(5, 1, math.NaN(), 20, 20), 0, []string{"step NaN m along x", "finite"}},
		{"origin at infinity", elements, gridOf(math.Inf(1), 1, 1, 20, 20), 0, []string{"origin +Inf m along x", "finite"}},
		{"end at infinity", elements, gridOf(5, 1, math.MaxFloat64, 1e6, 1), 0, []string{"point 1", "finite"}},
		{"negative tolerance", elements, grid, -1e-9, []string{"tolerance", "-1e-09"}},
		{"tolerance below rounding", elements, grid, 1e-15, []string{"tolerance", "1e-13"}},
		{"tolerance of NaN", elements, grid, math.NaN(), []string{"tolerance", "NaN"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := p.Interpolate(background, test.elements, test.grid, &InterpolateOptions{Tolerance: test.tolerance})
			check.Error(t, err, test.words...)
		})
	}
	ctx, cancel := context.WithCancel(background)
	cancel()
	if _, err := p.Interpolate(ctx, elements, grid, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v of a cancelled context, want context.Canceled", err)
	}
}

// BenchmarkInterpolate compares interpolated tables with exact tables. It makes them by turns and
// reports the medians, so other load of the machine affects both.
func BenchmarkInterpolate(b *testing.B) {
	plate := check.Must(NewPlate(&water, steel, 30e-3))
	pipe := check.Must(NewPipe(&water, steel, 57.15e-3, 14e-3))
	for _, bench := range []struct {
		surface string
		setup   *Setup
		path    string
		grid    Grid
	}{
		{"plane", plate, "T", gridOf(-12.8, 1, 0.1, 256, 256)},
		{"cylinder", pipe, "L", gridOf(-6.4, 1, 0.05, 256, 256)},
		{"plane", plate, "LT", gridOf(-12.8, 1, 0.1, 256, 256)},
	} {
		b.Run(fmt.Sprintf("surface=%s/path=%s", bench.surface, bench.path), func(b *testing.B) {
			modes, _ := parseModes(bench.path)
			p := check.Must(bench.setup.Path(modes))
			elements, points := lineElements(64, 0.6e-3, -10e-3), bench.grid.Points()
			options := InterpolateOptions{Reuse: check.Must(p.Interpolate(background, elements, bench.grid, nil))}
			pairs := float64(len(options.Reuse.Seconds))
			var exact, interpolated []float64
			for b.Loop() {
				start := time.Now()
				check.Must(p.Times(background, elements, points, nil))
				middle := time.Now()
				options.Reuse = check.Must(p.Interpolate(background, elements, bench.grid, &options))
				exact = append(exact, float64(middle.Sub(start))/pairs)
				interpolated = append(interpolated, float64(time.Since(middle))/pairs)
			}
			median := func(of []float64) float64 {
				slices.Sort(of)
				return of[len(of)/2]
			}
			b.ReportMetric(median(exact), "exact-ns/ray")
			b.ReportMetric(median(interpolated), "ns/ray")
			b.ReportMetric(median(exact)/median(interpolated), "times-faster")
			b.ReportMetric(float64(options.Reuse.Rays)/pairs, "solved/ray")
		})
	}
}
