// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// gridPoints returns nx × nz points, row after row, in mm.
func gridPoints(x0, z0, step float64, nx, nz int) []r3.Vec {
	var points []r3.Vec
	for r := range nz {
		for c := range nx {
			points = append(points, mm(x0+float64(c)*step, z0+float64(r)*step))
		}
	}
	return points
}

func TestTimes(t *testing.T) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	pipe := check.Must(NewPipe(&water, steel, 57.15e-3, 14e-3))
	contact := check.Must(NewPlate(nil, aluminium, 40e-3))
	scattered := []r3.Vec{mm(20, 3), mm(-4, 12), mm(20, 3), mm(9, 1), mm(9, 15.9), mm(30, 7)}
	for _, test := range []struct {
		name, reason string
		setup        *Setup
		path         string
		elements     []r3.Vec
		points       []r3.Vec
		missing      int // points
	}{
		{"contact", "no crossing", contact, "L", lineElements(4, 1e-3, 0), gridPoints(-5, 0, 0.5, 21, 30), 0},
		{"plane", "rows long enough to extrapolate along", plate, "T", wedgeElements()[:4], gridPoints(5, 0, 0.5, 60, 30), 0},
		{"plane, above the surface", "half of the points lie in the wedge", plate, "T", wedgeElements()[:2], gridPoints(5, -2, 0.5, 20, 8), 80},
		{"skip, below the back wall", "a path that skips ends inside the part", plate, "TT", wedgeElements()[:2], gridPoints(5, 15, 0.5, 20, 8), 100},
		{"beyond the back wall", "a direct path goes on", plate, "T", wedgeElements()[:2], gridPoints(5, 15, 0.5, 20, 8), 0},
		{"converted skip", "two crossings", plate, "LT", wedgeElements()[:4], gridPoints(5, 1, 0.5, 40, 30), 0},
		{"cylinder", "rows of which part lies outside the pipe", pipe, "L", lineElements(4, 0.6e-3, -10e-3), gridPoints(-15, 0.5, 0.5, 60, 20), 54},
		{"cylinder, skip", "", pipe, "TT", lineElements(4, 0.6e-3, -10e-3), gridPoints(-6, 3, 0.3, 40, 30), 0},
		{"scattered", "no order at all", plate, "T", wedgeElements()[:3], scattered, 0},
		{"column", "each point below the last", plate, "T", wedgeElements()[:3], gridPoints(20, 1, 0.1, 1, 100), 0},
		{"one point", "", plate, "T", wedgeElements()[:1], scattered[:1], 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			modes, _ := parseModes(test.path)
			p := check.Must(test.setup.Path(modes))
			table, err := p.Times(background, test.elements, test.points, &TimesOptions{Directions: true})
			if err != nil {
				t.Fatal(err)
			}
			if want := test.missing * len(test.elements); table.Missing != want {
				t.Errorf("%d rays missing, want %d", table.Missing, want)
			}
			for e, from := range test.elements {
				for i, to := range test.points {
					at := e*len(test.points) + i
					got, r := float64(table.Seconds[at]), p.Solve(from, to)
					if r.Status != OK {
						if !math.IsNaN(got) || !math.IsNaN(float64(table.Arrival[at].X)) || !math.IsNaN(float64(table.Departure[at].Z)) {
							t.Fatalf("element %d, point %v: %v s, want NaN (%v)",
								e, to, got, r.Status)
						}
						continue
					}
					// The rounding of a float32 is at most half of 2^-23.
					if !(math.Abs(got-r.Time) <= 1e-12+r.Time*0x1p-24) {
						t.Fatalf("element %d, point %v: %v s, want %v", e, to, got, r.Time)
					}
					if r3.Norm(r3.Sub(r.Points[len(r.Points)-1], r.Points[len(r.Points)-2])) < 1e-6 {
						continue // no direction where the last leg has no length
					}
					last := r.Direction(len(r.Points) - 2)
					if d := distance(table.Arrival[at], last); !(d <= 1e-5) {
						t.Fatalf("element %d, point %v: arrives along %v, want %v",
							e, to, table.Arrival[at], last)
					}
					if d := distance(table.Departure[at], r.Direction(0)); !(d <= 1e-5) {
						t.Fatalf("element %d, point %v: departs along %v, want %v",
							e, to, table.Departure[at], r.Direction(0))
					}
				}
			}
		})
	}
}

func distance(a Direction, b r3.Vec) float64 {
	return r3.Norm(r3.Sub(r3.Vec{X: float64(a.X), Y: float64(a.Y), Z: float64(a.Z)}, b))
}

// TestTimesWorkers checks that the table does not depend on the number of cores, with more points
// than one task takes.
func TestTimesWorkers(t *testing.T) {
	pipe := check.Must(NewPipe(&water, steel, 57.15e-3, 14e-3))
	p := check.Must(pipe.Path([]material.Mode{material.L}))
	elements, points := lineElements(3, 0.6e-3, -10e-3), gridPoints(-10, 2.5, 0.1, 201, 101)
	if len(points) <= chunk {
		t.Fatalf("%d points fit one task of %d", len(points), chunk)
	}
	want := check.Must(p.Times(background, elements, points, &TimesOptions{Workers: 1}))
	for _, n := range []int{2, 3, 8} {
		if got := check.Must(p.Times(background, elements, points, &TimesOptions{Workers: n})); !cmp.Equal(got, want) {
			t.Errorf("%d workers give another table than one", n)
		}
	}
	if _, err := p.Times(background, elements, points, &TimesOptions{Workers: -1}); err == nil || !strings.Contains(err.Error(), "workers -1") {
		t.Errorf("error %v for -1 workers", err)
	}
}

func TestTimesProgressAndCancel(t *testing.T) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	p := check.Must(plate.Path([]material.Mode{material.T}))
	points := gridPoints(5, 0.5, 0.5, 40, 30) // two tasks, in the layers as from neighbours
	var shares []float64
	if _, err := p.Times(background, wedgeElements()[:4], points, &TimesOptions{
		Progress: func(share float64) { shares = append(shares, share) },
	}); err != nil {
		t.Fatal(err)
	}
	if want := []float64{0.5, 1}; !cmp.Equal(shares, want) {
		t.Errorf("progress %v, want %v", shares, want)
	}
	ctx, cancel := context.WithCancel(background)
	cancel()
	if _, err := p.Times(ctx, wedgeElements(), points, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v of a cancelled context, want context.Canceled", err)
	}
}

// TestDelayLaw checks the delays that focus an array of four elements, 0.6 mm apart, at (10, 30) mm
// in steel of 5.92 mm/µs. Each element waits for the element farthest from the focus. Independent
// calculation, mpmath 1.2.1; in µs.
func TestDelayLaw(t *testing.T) {
	p := check.Must(plateOf(40, 5.92, 3.255).Path([]material.Mode{material.L}))
	table := check.Must(p.Times(background, lineElements(4, 0.6e-3, 0), []r3.Vec{mm(10, 30)}, nil))
	for i, want := range []float64{0, 0.03376376, 0.06581257, 0.0961153} {
		if got := float64(table.Seconds[0]-table.Seconds[i]) * 1e6; !(math.Abs(got-want) <= 2e-6) {
			t.Errorf("element %d waits %.7f µs, want %.7f", i, got, want)
		}
	}
}

// BenchmarkTimes reports the time per ray on all cores. Set GOMAXPROCS=1 for the time on one core.
func BenchmarkTimes(b *testing.B) {
	plate := check.Must(NewPlate(&water, steel, 30e-3))
	pipe := check.Must(NewPipe(&water, steel, 57.15e-3, 14e-3))
	gentle := &Setup{Coupling: &water, Part: steel, Entry: check.Must(NewProfile(wavy()))}
	strong := &Setup{Coupling: &water, Part: steel, Entry: check.Must(NewProfile(waves(1e-3, 500)))}
	for _, bench := range []struct {
		surface string
		setup   *Setup
		path    string
		points  []r3.Vec
	}{
		{"plane", plate, "T", gridPoints(-12.8, 1, 0.1, 256, 256)},
		{"cylinder", pipe, "L", gridPoints(-6.4, 1, 0.05, 256, 256)},
		{"plane", plate, "LT", gridPoints(-12.8, 1, 0.1, 256, 256)},
		{"cylinder", pipe, "TT", gridPoints(-6.4, 1, 0.05, 256, 256)},
		{"gentle", gentle, "L", gridPoints(-12.8, 1, 0.1, 256, 256)},
		{"strong", strong, "L", gridPoints(-12.8, 2, 0.1, 256, 256)},
	} {
		b.Run(fmt.Sprintf("surface=%s/path=%s", bench.surface, bench.path), func(b *testing.B) {
			modes, _ := parseModes(bench.path)
			p := check.Must(bench.setup.Path(modes))
			elements := lineElements(64, 0.6e-3, -10e-3)
			for b.Loop() {
				check.Must(p.Times(background, elements, bench.points, nil))
			}
			rays := float64(b.N) * float64(len(elements)*len(bench.points))
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/rays, "ns/ray")
		})
	}
}

// TestTracerAllocations checks that a ray of a table needs no allocation.
func TestTracerAllocations(t *testing.T) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	p := check.Must(plate.Path([]material.Mode{material.L, material.T}))
	points := gridPoints(5, 1, 0.5, 20, 20)
	table := &Times{Elements: 2, Points: len(points), Seconds: make([]float32, 2*len(points))}
	tracers := []*tracer{newTracer(p), newTracer(p)}
	elements := wedgeElements()[:2]
	strides := p.strides(points)
	if n := testing.AllocsPerRun(3, func() { fill(table, tracers, nil, 0, elements, 0, points, strides) }); n != 0 {
		t.Errorf("%v allocations for %d rays, want none", n, 2*len(points))
	}
}

// TestTimesAcrossBore compares the table with single rays where rows of a grid run from one side of
// a pipe through its bore to the other side. So the ray after the bore has no neighbour from which
// it can start.
func TestTimesAcrossBore(t *testing.T) {
	for _, radius := range []float64{12.7, 25, 57.15} {
		for _, path := range []string{"L", "T", "TT", "LT"} {
			pipe := check.Must(NewPipe(&water, steel, radius*1e-3, radius*0.25e-3))
			modes, _ := parseModes(path)
			p := check.Must(pipe.Path(modes))
			points := gridPoints(-0.8*radius, 0.3, radius/25, 41, 19)
			elements := lineElements(3, 4e-3, -10e-3)
			reached := 0
			var rays []Ray
			for _, from := range elements {
				for _, to := range points {
					rays = append(rays, p.Solve(from, to))
				}
			}
			for _, order := range []string{"forwards", "backwards"} {
				table := check.Must(p.Times(background, elements, points, nil))
				for e, from := range elements {
					for i, to := range points {
						ray := i
						if order == "backwards" {
							ray = len(points) - 1 - i
						}
						got, r := table.Seconds[e*len(points)+i], rays[e*len(points)+ray]
						if r.Status == OK {
							reached++
						}
						if (r.Status == OK) != !math.IsNaN(float64(got)) {
							t.Fatalf("radius %v mm, %s, element %v, point %v: %v s in the table, ray %v",
								radius, path, from, to, got, r.Status)
						}
						if r.Status == OK && !(math.Abs(float64(got)-r.Time) <= 1e-12+r.Time*0x1p-24) {
							t.Fatalf("radius %v mm, %s, element %v, point %v: %v s in the table, ray %v",
								radius, path, from, to, got, r.Time)
						}
					}
				}
				slices.Reverse(points)
			}
			if reached < len(points) {
				t.Errorf("radius %v mm, %s: %d rays only", radius, path, reached)
			}
		}
	}
}

func TestNewTimes(t *testing.T) {
	nan, inf := float32(math.NaN()), float32(math.Inf(1))
	elements, points := []r3.Vec{{X: -1}, {X: 1}}, []r3.Vec{{Z: 1}, {Z: 2}, {Z: 3}}
	got := check.Must(NewTimes("shear", elements, points, []float32{1, nan, 3, 4, 5, nan}))
	if got.Elements != 2 || got.Points != 3 || got.Missing != 2 || got.MadeFor.Path != "shear" {
		t.Errorf("table of %d × %d, %d missing, of path %v",
			got.Elements, got.Points, got.Missing, got.MadeFor.Path)
	}
	path := check.Must(NewPath([]Leg{{Speed: 1}}, nil))
	if made := check.Must(path.Times(context.Background(), elements, points, nil)).MadeFor; made.Elements != got.MadeFor.Elements || made.Points != got.MadeFor.Points || made.Equal(got.MadeFor) {
		t.Errorf("made for %v, want the same elements and points as %v, and another path",
			made, got.MadeFor)
	}
	for _, test := range []struct {
		name             string
		elements, points []r3.Vec
		seconds          []float32
		want             string
	}{
		{"no elements", nil, points, nil, "0 elements and 3 points"},
		{"no points", elements, nil, nil, "2 elements and 0 points"},
		{"too few times", elements, points, make([]float32, 5), "5 times: want 6"},
		{"infinite time", elements, points, []float32{1, 2, 3, 4, inf, 6}, "+Inf s from element 1 to point 1"},
		{"point that is not finite", elements, []r3.Vec{{X: math.NaN()}}, make([]float32, 2), "point 0"},
		{"element that is not finite", []r3.Vec{{Y: math.Inf(-1)}}, points, make([]float32, 3), "element 0"},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := NewTimes(nil, test.elements, test.points, test.seconds)
			if err == nil || !strings.Contains(err.Error(), test.want) {
				t.Errorf("error %v, want one that says %q", err, test.want)
			}
		})
	}
}

// TestPlaces checks that places are the same for other rounding errors, and differ if one place is
// some nanometres off.
func TestPlaces(t *testing.T) {
	var a, b []r3.Vec
	x := -0.012
	for i := range 1000 {
		a = append(a, r3.Vec{X: -0.012 + float64(i)*1e-4, Z: 3e-3})
		b = append(b, r3.Vec{X: x, Y: math.Copysign(0, -1), Z: 3 * 1e-3})
		x += 1e-4
	}
	if slices.Equal(a, b) {
		t.Fatal("both were rounded alike, which shows nothing")
	}
	of := func(v []r3.Vec) Places { return PlacesOf(slices.Values(v)) }
	if of(a) != of(b) {
		t.Errorf("%v are not %v", of(a), of(b))
	}
	seen := map[[3]uint64]string{of(a).Hash: "all"}
	check := func(name string, v []r3.Vec) {
		t.Helper()
		if other, found := seen[of(v).Hash]; found {
			t.Errorf("%s: the same places as %s", name, other)
		}
		seen[of(v).Hash] = name
	}
	check("one less", a[:999])
	check("none", nil)
	for _, i := range []int{0, 126, 127, 128, 500, 999} {
		for axis := range 3 {
			moved := slices.Clone(a)
			*[...]*float64{&moved[i].X, &moved[i].Y, &moved[i].Z}[axis] += 3e-9
			check(fmt.Sprintf("place %d moved along axis %d", i, axis), moved)
		}
	}
}

// TestTracerAfterALostRay checks that the ray after a lost ray starts a new trail, in a section and in
// space.
func TestTracerAfterALostRay(t *testing.T) {
	path := refracting([]float64{1.48, 5.9}, check.Must(HorizontalPlane(0)))
	for _, y := range []float64{0, 3e-3} {
		tracer := newTracer(path)
		for _, x := range []float64{0, 0.3, 0.6} {
			tracer.lose()
			end := r3.Add(mm(x, 9), r3.Vec{Y: y})
			if _, status := tracer.trace(mm(-4, -12), end, other); status != OK {
				t.Fatal(status)
			}
			length := tracer.trail.length
			if y == 0 {
				length = tracer.section.trail.length
			}
			if length != 1 {
				t.Errorf("y = %v m: a trail of %d rays after a lost ray, want 1", y, length)
			}
		}
	}
}
