// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"image/color"
	"io"
	"math"
	"runtime"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
)

// sections returns the sections of -large, the smallest first: elements in a full matrix, and
// square images. Records are as long as the way to the farthest pixel and back.
func sections() (jobs []job) {
	for _, size := range []struct{ pixels, samples int }{{256, 1536}, {512, 2560}, {1024, 4608}} {
		for _, elements := range []int{32, 64, 128} {
			jobs = append(jobs, job{
				name:     fmt.Sprintf("%d elements, %d × %d pixels", elements, size.pixels, size.pixels),
				elements: elements, full: true, cols: size.pixels, rows: size.pixels, samples: size.samples,
			})
		}
	}
	return jobs
}

// volume is a slab of the volume of 256 × 256 × 256 pixels under 32 × 32 elements in a half
// matrix.
func volume(slices int) job {
	return job{
		name:     fmt.Sprintf("32 × 32 elements, 256 × 256 × %d pixels", slices),
		elements: 32, matrix: true, cols: 256, rows: 256, slices: slices, samples: 1280,
	}
}

// largeRow is what is measured of a large job, on one core, in seconds and bytes.
type largeRow struct {
	job
	precision           tfm.Precision
	tables, plan, frame float64 // seconds; all in frame for a slab
	bytes               int     // of tables and traces, or the limit of a slab
	peak                int     // of the process so far
}

// runLarge measures the large jobs, writes a table, and draws it.
func runLarge(ctx context.Context, w io.Writer, s settings) error {
	fmt.Fprintf(w, "%s\n\n", machine())
	t := new(table)
	t.add("job", "precision", "10⁹ samples", "tables, s", "plan, s", "frame, s", "G samples/s", "tables and traces, or limit, MB", "peak of the process, MB")
	var rows []largeRow
	add := func(r largeRow, err error) error {
		if err != nil {
			return fmt.Errorf("%s: %w", r.name, err)
		}
		rows = append(rows, r)
		tables, plan := digits(r.tables), digits(r.plan)
		if r.tables == 0 {
			tables, plan = "in the frame", "in the frame"
		}
		t.add(r.name, r.precision.String(), digits(r.terms()/1e9), tables, plan, digits(r.frame),
			digits(r.terms()/r.frame/1e9), digits(float64(r.bytes)/1e6), digits(float64(r.peak)/1e6))
		return nil
	}
	for _, j := range sections() {
		for _, precision := range []tfm.Precision{tfm.Fixed16, tfm.Single} {
			if err := add(section(ctx, j, precision)); err != nil {
				return err
			}
		}
	}
	for _, n := range []int{1, 2, 4} {
		if err := add(slab(ctx, volume(n))); err != nil {
			return err
		}
	}
	if err := t.write(w, s.markdown); err != nil {
		return err
	}
	fmt.Fprintln(w, volumeLine(rows))
	return picture.WriteFile(s.out, growth(rows))
}

// seconds returns the time of the processor that do takes.
func seconds(do func() error) (float64, error) {
	runtime.GC() // so that the garbage of others does not count
	m, err := task{do: do}.measure(0)
	return m.Seconds, err
}

// section measures the tables, the plan and a frame of j.
func section(ctx context.Context, j job, precision tfm.Precision) (r largeRow, err error) {
	r = largeRow{job: j, precision: precision}
	c, err := j.capture()
	if err != nil {
		return r, err
	}
	samples := make([]int16, len(c.Data))
	for i, v := range c.Data {
		samples[i] = int16(v)
	}
	g, err := j.grid()
	if err != nil {
		return r, err
	}
	path, err := j.path()
	if err != nil {
		return r, err
	}
	var times *wedge.Times
	if r.tables, err = seconds(func() (err error) {
		times, err = path.Times(ctx, c.Array.Elements, g.Points(), &wedge.TimesOptions{Workers: 1})
		return err
	}); err != nil {
		return r, err
	}
	var plan *tfm.Plan
	if r.plan, err = seconds(func() (err error) {
		plan, err = tfm.NewPlan(c, g, times, times, &tfm.Options{Precision: precision, Workers: 1})
		return err
	}); err != nil {
		return r, err
	}
	times, c.Data = nil, nil
	tables, traces := plan.Bytes()
	r.bytes = tables + traces
	scratch, image := plan.NewScratch(), tfm.NewImage(g)
	frame := func() error { return scratch.ReconstructInt16(ctx, image, samples) }
	if err := frame(); err != nil { // touches the memory
		return r, err
	}
	r.frame, err = seconds(frame)
	r.peak = peakMemory()
	return r, err
}

// slab measures an image of j in bands, from samples to the image, with its tables and plans.
func slab(ctx context.Context, j job) (r largeRow, err error) {
	r = largeRow{job: j, precision: tfm.Fixed16, bytes: min(8<<30, math.MaxInt)}
	c, err := j.capture()
	if err != nil {
		return r, err
	}
	g, err := j.grid()
	if err != nil {
		return r, err
	}
	path, err := j.path()
	if err != nil {
		return r, err
	}
	timer := func(ctx context.Context, points []r3.Vec) (tx, rx *wedge.Times, err error) {
		times, err := path.Times(ctx, c.Array.Elements, points, &wedge.TimesOptions{Workers: 1})
		return times, times, err
	}
	bands, err := tfm.NewBands(c, g, timer, r.bytes, &tfm.Options{Precision: r.precision, Workers: 1})
	if err != nil {
		return r, err
	}
	r.frame, err = seconds(func() error { _, err := bands.Images(ctx, c); return err })
	r.peak = peakMemory()
	return r, err
}

// volumeLine returns the time of the whole volume. It is computed from the last two slabs, whose
// difference holds no work that is done once.
func volumeLine(rows []largeRow) string {
	last, before := rows[len(rows)-1], rows[len(rows)-2]
	slice := (last.frame - before.frame) / float64(last.slices-before.slices)
	whole := volume(256)
	return fmt.Sprintf("computed: %s take %s s on one core, %s s each slice (%.3g samples)",
		whole.name, digits(slice*float64(whole.slices)), digits(slice), whole.terms())
}

// growth draws the time of each frame against its number of samples, on logarithmic scales, with a
// line for each kind of job: time in proportion, at its median rate.
func growth(rows []largeRow) picture.Picture {
	chart := &picture.Chart{
		Title:   "Time of a frame on one core",
		Caption: machine(),
		X:       picture.Axis{Label: "log10 of pairs × pixels", From: 7, To: 12},
		Y:       picture.Axis{Label: "log10 of the time in s", From: -3, To: 2},
	}
	for _, line := range []struct {
		name   string
		colour color.Color
		has    func(r largeRow) bool
	}{
		{"full matrix, fixed16", frameColour, func(r largeRow) bool { return !r.matrix && r.precision == tfm.Fixed16 }},
		{"full matrix, single", sumColour, func(r largeRow) bool { return !r.matrix && r.precision == tfm.Single }},
		{"half matrix of 32 × 32 elements, fixed16", slabColour, func(r largeRow) bool { return r.matrix }},
	} {
		var rates []float64 // logarithms
		var marks []picture.Line
		for _, r := range rows {
			if line.has(r) {
				rates = append(rates, math.Log10(r.terms()/r.frame))
				marks = append(marks, mark(math.Log10(r.terms()), math.Log10(r.frame), line.colour, line.name))
			}
		}
		rate := number.Median(rates)
		chart.Lines = append(append(chart.Lines, picture.Line{
			Points: []r2.Vec{{X: 7, Y: 7 - rate}, {X: 12, Y: 12 - rate}}, Colour: line.colour, Dashed: true,
			Name: fmt.Sprintf("%.1f G samples/s", math.Pow(10, rate-9)),
		}), marks...)
	}
	return chart
}
