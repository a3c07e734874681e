// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// tableCase is a weld with an array and the grid of an image.
type tableCase struct {
	name     string
	part     *Part
	pol      Polarisation
	elements []r3.Vec
	grid     wedge.Grid
}

// austenitic returns a V weld of weld metal type 308 with grains by Ogilvy's law, T = η = 1. The
// bevel angles are 30°.
func austenitic(t testing.TB, coupling *material.Isotropic, thickness, gap float64) *Part {
	edge := joint.Edge{Upper: joint.Bevel{Angle: math.Pi / 6}}
	vee := check.Must(joint.Butt{Thickness: thickness, Gap: gap, Left: edge, Right: edge}.Joint())
	curves, _ := metal(t, "weld metal type 308")
	law := check.Must(NewGrainLaw(vee, 1, 1))
	return check.Must(NewWeld(coupling, parent, curves, law, vee))
}

// tableCases returns an array of 32 elements in contact with a weld, for qL, and an array of 32
// elements on a wedge beside a weld, for qSV. The grids have 256 × 256 points.
func tableCases(t testing.TB) []tableCase {
	contact := tableCase{
		name: "contact", pol: qL, part: austenitic(t, nil, 30e-3, 6e-3),
		grid: wedge.Grid{Origin: r3.Vec{X: -12e-3, Z: 4e-3},
			Step: r3.Vec{X: 0.1e-3, Y: 1e-3, Z: 0.1e-3}, Cols: 256, Rows: 256, Slices: 1},
	}
	onWedge := tableCase{
		name: "wedge", pol: qSV,
		part: austenitic(t, &material.Isotropic{Density: 1055, Longitudinal: 2340}, 20e-3, 4e-3),
		grid: wedge.Grid{Origin: r3.Vec{X: -12e-3, Z: 1e-3},
			Step: r3.Vec{X: 0.1e-3, Y: 1e-3, Z: 0.07e-3}, Cols: 256, Rows: 256, Slices: 1},
	}
	for i := range 32 {
		contact.elements = append(contact.elements, r3.Vec{X: -30.6e-3 + 1.2e-3*float64(i)})
		along := 0.8e-3 * float64(i)
		onWedge.elements = append(onWedge.elements,
			r3.Vec{X: -39.7e-3 + along*math.Cos(36*degrees), Z: -6e-3 - along*math.Sin(36*degrees)})
	}
	return []tableCase{contact, onWedge}
}

// compare compares interpolated times with exact times at random points. The exact times share
// with the table the rays and their equations. For qL they do not even share these: they come from
// bending. A time may be the time on the other side of a fold, or of the edge of a shadow, if the
// fold is near.
func (c tableCase) compare(t *testing.T, points int, elements ...int) {
	t.Helper()
	rng := rand.New(rand.NewPCG(5, 6))
	var from []r3.Vec
	for _, e := range elements {
		from = append(from, c.elements[e])
	}
	table := check.Must(c.part.Interpolate(context.Background(), c.pol, from, c.grid, nil))
	var errs []float64
	beside, compared, off := 0, 0, 0
	for e := range from {
		var index []int
		var at []r3.Vec
		for range points {
			k := rng.IntN(c.grid.Len())
			index, at = append(index, k), append(at, c.grid.Point(k))
		}
		exact := check.Must(c.part.Times(context.Background(), c.pol, from[e:e+1], at, nil))
		for i, k := range index {
			got, want := float64(table.Seconds[e*c.grid.Len()+k]), float64(exact.Seconds[i])
			if math.IsNaN(got) && math.IsNaN(want) {
				continue
			}
			compared++
			if d := math.Abs(got - want); d <= defaultError {
				errs = append(errs, d)
				continue
			}
			beside++
			if !c.near(from[e], at[i], got, want) {
				off++
				t.Errorf("%s: from %v to %v: %v s, want %v", c.name, from[e], at[i], got, want)
			}
		}
	}
	slices.Sort(errs)
	t.Logf("%s: %d of %d pairs have a time; median error %.2g ns, 99 %% %.2g ns, largest %.2g ns; "+
		"%d lie beside a fold or a shadow; largest error at a check %.2g ns, %d rays an element",
		c.name, compared, points*len(from), errs[len(errs)/2]*1e9, errs[len(errs)*99/100]*1e9,
		errs[len(errs)-1]*1e9, beside, table.Error*1e9, table.Rays/len(from))
	if beside > 1+compared/100 || compared < points*len(from)/2 {
		t.Errorf("%s: %d of %d times differ by more than the tolerance", c.name, beside, compared)
	}
	// The formula of the time is of third order: the tolerance is met by few rays, and by a
	// margin.
	if !(errs[len(errs)/2] <= 0.03e-9) || table.Rays > 2000*len(from) {
		t.Errorf("%s: median error %v s with %d rays", c.name, errs[len(errs)/2], table.Rays)
	}
	if !(table.Error > 0 && table.Error <= defaultError) {
		t.Errorf("%s: error at a check %v s", c.name, table.Error)
	}
}

// near reports whether a time, or no time, is the time on the other side of an edge within 80 µm
// of a point. The edge of a shadow shows in exact times that are missing on one side. The edge of
// a fold shows in a jump of the exact times along a line through the point, of at least half of
// the difference: along 160 µm a smooth time deviates from a straight line by 0.2 ns. There may
// also be no time if no ray can be shot to the point. Bending then has a ray that lies partly
// outside the part, by up to 10 µm.
func (c tableCase) near(element, q r3.Vec, got, want float64) bool {
	if math.IsNaN(got) && len(check.Must(c.part.Rays(c.pol, element, q, nil))) == 0 {
		return true
	}
	fits, jumps := false, math.IsNaN(got) || math.IsNaN(want)
	for _, distance := range []float64{20e-6, 80e-6} {
		for k := range 4 {
			step := r3.Scale(distance, heading(math.Pi/4*float64(k)))
			times := check.Must(c.part.Times(context.Background(), c.pol, []r3.Vec{element},
				[]r3.Vec{r3.Sub(q, step), r3.Add(q, step)}, &Options{Spacing: 0.1e-3}))
			before, after := float64(times.Seconds[0]), float64(times.Seconds[1])
			for _, s := range []float64{before, after} {
				fits = fits || math.IsNaN(got) && math.IsNaN(s) || math.Abs(s-got) <= 1e-9+distance/1500
			}
			jumps = jumps || math.Abs(before+after-2*want) >= math.Abs(got-want)/2
		}
	}
	return fits && jumps
}

// TestInterpolate compares tables with exact tables at random points.
func TestInterpolate(t *testing.T) {
	points, elements := 120, []int{15, 31}
	if !long {
		points, elements = 40, elements[:1]
	}
	for _, c := range tableCases(t) {
		c.compare(t, points, elements...)
	}
}

// TestInterpolateTolerance compares tables with exact tables where times are smooth, at tolerances
// that the largest distance of the rays does not meet. An error of third order is zero in the
// middle of a cell.
func TestInterpolateTolerance(t *testing.T) {
	if testing.Short() {
		t.Skip("the default form runs it")
	}
	c := tableCases(t)[0]
	from := c.elements[:1]
	g := wedge.Grid{Origin: r3.Vec{X: -8e-3, Z: 6e-3}, Step: r3.Vec{X: 0.9e-3, Y: 1, Z: 0.9e-3}, Cols: 20, Rows: 24, Slices: 1}
	if !long {
		g.Cols, g.Step.X = 10, 1.8e-3
	}
	exact := check.Must(c.part.Times(context.Background(), qL, from, g.Points(), &Options{Tolerance: 1e-14}))
	for _, tolerance := range []float64{3e-11, 1e-11} {
		table := check.Must(c.part.Interpolate(context.Background(), qL, from, g, &Options{Tolerance: tolerance}))
		worst := 0.0
		for i, s := range table.Seconds {
			worst = max(worst, math.Abs(float64(s)-float64(exact.Seconds[i]))) // NaN stays
		}
		const rounding = 1e-5 * 0x1p-23 // of both tables, to float32, s
		t.Logf("tolerance %v s: largest error %.2g s, %d rays", tolerance, worst, table.Rays)
		if !(worst <= tolerance+rounding) {
			t.Errorf("tolerance %v s: error %v s", tolerance, worst)
		}
	}
}

// TestInterpolateArrivals compares tables of a dented wave in weld metal of one orientation with
// the block, which searches over the phase direction. All arrivals count.
func TestInterpolateArrivals(t *testing.T) {
	if !long {
		t.Skip("runs with the build tag long")
	}
	curves, _ := metal(t, "zinc")
	block := &Block{Coupling: acrylic, Entry: plane(0), Curves: curves, Axis: 1.3}
	part := block.part(check.Must(NewUniform(curves, 1.3)))
	elements := []r3.Vec{{X: -6e-3, Z: -12e-3}}
	g := wedge.Grid{Origin: r3.Vec{X: -12e-3, Z: 2e-3}, Step: r3.Vec{X: 0.53e-3, Y: 1, Z: 0.47e-3},
		Cols: 40, Rows: 40, Slices: 1}
	var rays [][]BlockRay
	for _, q := range g.Points() {
		rays = append(rays, check.Must(block.Rays(qSV, elements[0], q)))
	}
	for arrival := range 4 {
		table := check.Must(part.Interpolate(context.Background(), qSV, elements, g,
			&Options{Arrival: arrival}))
		found, off := 0, 0
		for i, s := range table.Seconds {
			want := math.NaN()
			if arrival < len(rays[i]) {
				want = rays[i][arrival].Time
				found++
			}
			if math.IsNaN(want) && math.IsNaN(float64(s)) || math.Abs(float64(s)-want) <= 0.5e-9 {
				continue
			}
			off++
		}
		t.Logf("arrival %d: %d points have it, %d differ", arrival, found, off)
		if off > g.Len()/400 || arrival < 2 && found < g.Len()/20 {
			t.Errorf("arrival %d: %d points have it, %d times differ", arrival, found, off)
		}
	}
}

// TestTimesOfTheFullWave compares tables with times that were read from a full-wave computation.
// It knows nothing of rays: see testdata/README.md. A few of its times are times of other waves,
// so the median and the share count. The limits are half of a sample of 20 ns, and three samples.
func TestTimesOfTheFullWave(t *testing.T) {
	var file struct {
		Elements []float64    `json:"elements_x_m"`
		Points   [][2]float64 `json:"points_m"`
		Times    [][]*float64 `json:"times_s"`
	}
	data := check.Must(os.ReadFile("../../testdata/austenitic/grain32_times.json"))
	if err := json.Unmarshal(data, &file); err != nil {
		t.Fatal(err)
	}
	c := tableCases(t)[0]
	c.grid = wedge.Grid{Origin: r3.Vec{X: -12e-3, Z: 8e-3}, Step: r3.Vec{X: 2e-3, Y: 1, Z: 6e-3},
		Cols: 16, Rows: 4, Slices: 1}
	want := 467 // times that are not null
	if !long {
		file.Elements, c.elements, want = file.Elements[8:16], c.elements[8:16], 80
		file.Times = file.Times[8:16]
	}
	table := check.Must(c.part.Interpolate(context.Background(), qL, c.elements, c.grid, nil))
	var errs []float64
	for e, x := range file.Elements {
		if !(math.Abs(x-c.elements[e].X) <= 1e-9) {
			t.Fatalf("element %d at %v m, want %v", e, x, c.elements[e].X)
		}
		for i, q := range file.Points {
			if file.Times[e][i] == nil {
				continue
			}
			column, row := math.Round((q[0]+12e-3)/2e-3), math.Round((q[1]-8e-3)/6e-3)
			s := table.Seconds[e*table.Points+int(row)*c.grid.Cols+int(column)]
			errs = append(errs, math.Abs(float64(s)-*file.Times[e][i]))
		}
	}
	slices.SortFunc(errs, func(a, b float64) int { // NaN last
		switch {
		case math.IsNaN(a) || a > b:
			return 1
		case math.IsNaN(b) || a < b:
			return -1
		}
		return 0
	})
	median, most := errs[len(errs)/2], errs[len(errs)*9/10]
	t.Logf("%d times: median error %.1f ns, 90 %% within %.1f ns", len(errs), median*1e9, most*1e9)
	if len(errs) != want || !(median <= 10e-9) || !(most <= 60e-9) {
		t.Errorf("%d times: median error %v s, 90 %% within %v s", len(errs), median, most)
	}
}

// TestInterpolateWorkers checks that a table has the same bits for any number of workers, and that
// it knows what it was made for.
func TestInterpolateWorkers(t *testing.T) {
	if testing.Short() {
		t.Skip("the default form runs it")
	}
	c := tableCases(t)[1]
	c.grid.Cols, c.grid.Rows, c.grid.Step = 12, 10, r3.Vec{X: 2e-3, Y: 1, Z: 1.8e-3}
	elements := c.elements[:2]
	share := 0.0
	one := check.Must(c.part.Interpolate(context.Background(), qSV, elements, c.grid,
		&Options{Workers: 1}))
	three := check.Must(c.part.Interpolate(context.Background(), qSV, elements, c.grid,
		&Options{Workers: 3, Progress: func(s float64) { share = s }}))
	if share != 1 {
		t.Errorf("share of the work at the end %v, want 1", share)
	}
	missing := 0
	for i, s := range one.Seconds {
		if math.Float32bits(s) != math.Float32bits(three.Seconds[i]) {
			t.Fatalf("time %d: %v s with one worker, %v with three", i, s, three.Seconds[i])
		}
		if math.IsNaN(float64(s)) {
			missing++
		}
	}
	if missing != one.Missing || missing == 0 || missing == len(one.Seconds) {
		t.Errorf("%d times missing, says %d", missing, one.Missing)
	}
	if diff := cmp.Diff([4]int{2, c.grid.Len(), one.Missing, one.Rays},
		[4]int{three.Elements, three.Points, three.Missing, three.Rays}); diff != "" {
		t.Error(diff)
	}
	if !one.MadeFor.Equal(three.MadeFor) {
		t.Error("tables of one worker and of three are made for different paths")
	}
	coarse := check.Must(c.part.Interpolate(context.Background(), qSV, elements, c.grid,
		&Options{Tolerance: 5e-9}))
	if one.MadeFor.Equal(coarse.MadeFor) || !(coarse.Rays < one.Rays) {
		t.Errorf("tolerance of 5 ns: %d rays, 0.5 ns: %d", coarse.Rays, one.Rays)
	}
}

// TestInterpolateRefuses checks that errors name the faulty argument.
func TestInterpolateRefuses(t *testing.T) {
	c := tableCases(t)[0]
	c.grid.Cols, c.grid.Rows = 2, 2
	for _, row := range []struct {
		name, want string
		change     func(*wedge.Grid, *Options)
	}{
		{"no column", "pixels along x", func(g *wedge.Grid, _ *Options) { g.Cols = 0 }},
		{"a volume", "2 slices", func(g *wedge.Grid, _ *Options) { g.Slices = 2 }},
		{"another section", "y = 1", func(g *wedge.Grid, _ *Options) { g.Origin.Y = 1 }},
		{"tolerance", "tolerance NaN", func(_ *wedge.Grid, o *Options) { o.Tolerance = math.NaN() }},
		{"small tolerance", "tolerance 9e-12", func(_ *wedge.Grid, o *Options) { o.Tolerance = 9e-12 }},
		{"arrival", "arrival 16", func(_ *wedge.Grid, o *Options) { o.Arrival = 16 }},
		{"region", "region", func(_ *wedge.Grid, o *Options) {
			o.Region = r2.Box{Min: r2.Vec{X: 1}}
		}},
	} {
		g, o := c.grid, Options{}
		row.change(&g, &o)
		_, err := c.part.Interpolate(context.Background(), qL, c.elements, g, &o)
		check.Error(t, err, "graded: ", row.want)
	}
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := c.part.Interpolate(ctx, qL, c.elements, c.grid, nil); !errors.Is(err,
		context.Canceled) {
		t.Errorf("error %v after cancelling, want %v", err, context.Canceled)
	}
}
