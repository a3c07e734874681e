// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// job is a capture of noise and a grid, in contact with steel, as in the benchmarks of package
// tfm. The array has 5 MHz and a pitch of 0.6 mm. There are 50 million samples a second. Pixels
// are 0.2 mm apart, from a depth of 3 mm on.
type job struct {
	name     string
	elements int  // along each axis of the array
	matrix   bool // a square of elements × elements
	full     bool // full matrix; otherwise half matrix
	cols     int  // along x
	rows     int  // along z
	slices   int  // along y, of a matrix array
	samples  int
}

// The jobs of the table. Near is a piece of A that stays in the second cache of a core.
var (
	jobs = []job{
		{name: "A", elements: 16, cols: 256, rows: 256, samples: 2048},
		{name: "B", elements: 64, full: true, cols: 256, rows: 256, samples: 2048},
	}
	near = job{name: "near", elements: 16, cols: 64, rows: 64, samples: 2048}
)

const (
	speed = 5900   // m/s
	step  = 0.2e-3 // m
	first = 3e-3   // m, depth of the first row
)

// array returns the array of j.
func (j job) array() (fmc.Array, error) {
	like := fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}
	if j.matrix {
		return fmc.MatrixArray(j.elements, j.elements, 0.6e-3, 0.6e-3, like)
	}
	return fmc.LinearArray(j.elements, 0.6e-3, like)
}

// pairs returns the number of traces of j.
func (j job) pairs() int {
	n := j.elements
	if j.matrix {
		n *= n
	}
	if j.full {
		return n * n
	}
	return n * (n + 1) / 2
}

// pixels returns the number of pixels of j.
func (j job) pixels() int { return j.cols * j.rows * max(1, j.slices) }

// terms returns the number of samples that an image sums: pairs × pixels.
func (j job) terms() float64 { return float64(j.pairs()) * float64(j.pixels()) }

// capture returns a capture of noise, as a digitiser of 14 bits delivers it.
func (j job) capture() (*fmc.Capture, error) {
	array, err := j.array()
	if err != nil {
		return nil, err
	}
	c := fmc.Capture{Array: array, Samples: j.samples, SampleRate: 50e6}
	c.Pairs = fmc.HalfPairs(len(array.Elements))
	if j.full {
		c.Pairs = fmc.FullPairs(len(array.Elements))
	}
	c.Data = make([]float32, len(c.Pairs)*j.samples)
	random := rand.New(rand.NewPCG(1, 1))
	for i := range c.Data {
		c.Data[i] = float32(random.IntN(1<<14) - 1<<13)
	}
	return fmc.New(c)
}

// grid returns the section, or the volume, under the array.
func (j job) grid() (tfm.Grid, error) {
	from := r3.Vec{X: -step * float64(j.cols) / 2, Z: first}
	last := r3.Vec{X: from.X + step*float64(j.cols-1), Z: first + step*float64(j.rows-1)}
	if j.matrix {
		from.Y = -step * float64(j.slices) / 2
		last.Y = from.Y + step*float64(j.slices-1)
		return tfm.NewVolume(from, last, r3.Vec{X: step, Y: step, Z: step})
	}
	return tfm.NewSection(from.X, last.X, from.Z, last.Z, step)
}

// path returns the direct way into the steel.
func (j job) path() (*wedge.Path, error) { return wedge.NewPath([]wedge.Leg{{Speed: speed}}, nil) }

// The ways to image a frame.
const (
	toImage = "image" // samples to complex amplitudes: its stage "sum" is delay-and-sum alone
	toLevel = "frame" // samples to levels in dB
)

// tasks returns the tasks of j: images and whole frames in both precisions, on one core and on
// all. The name of the kernel is the kernel of the plans.
func (j job) tasks(ctx context.Context, ways []string, cores int) (tasks []task, kernel string, err error) {
	c, err := j.capture()
	if err != nil {
		return nil, "", err
	}
	g, err := j.grid()
	if err != nil {
		return nil, "", err
	}
	path, err := j.path()
	if err != nil {
		return nil, "", err
	}
	times, err := path.Times(ctx, c.Array.Elements, g.Points(), nil)
	if err != nil {
		return nil, "", err
	}
	samples := make([]int16, len(c.Data))
	for i, v := range c.Data {
		samples[i] = int16(v)
	}
	for _, precision := range []tfm.Precision{tfm.Fixed16, tfm.Single} {
		plan, err := tfm.NewPlan(c, g, times, times, &tfm.Options{Precision: precision})
		if err != nil {
			return nil, "", err
		}
		kernel = plan.Kernel()
		tables, traces := plan.Bytes()
		outputs, err := outputsOf(ctx, plan, samples)
		if err != nil {
			return nil, "", err
		}
		for _, n := range counts(cores) {
			scratch := plan.NewScratchOf(n)
			for _, way := range ways {
				tasks = append(tasks, task{
					subject: subject{key{j.name, way, precision.String(), n > 1}, j.terms(), tables + traces},
					spent:   scratch.Spent,
					do:      func() error { return scratch.ReconstructInt16(ctx, outputs[way], samples) },
				})
			}
		}
	}
	return tasks, kernel, nil
}

// counts returns the numbers of cores to measure: one, and all.
func counts(cores int) []int {
	if cores == 1 {
		return []int{1}
	}
	return []int{1, cores}
}

// outputsOf returns the outputs of a plan for each way. Levels are relative to the peak of the
// frame.
func outputsOf(ctx context.Context, plan *tfm.Plan, samples []int16) (map[string]tfm.Output, error) {
	var envelope tfm.Envelope
	if err := plan.NewScratch().ReconstructInt16(ctx, &envelope, samples); err != nil {
		return nil, err
	}
	peak, _ := envelope.Peak()
	return map[string]tfm.Output{
		toImage: tfm.NewImage(plan.Grid()),
		toLevel: &tfm.Decibels{Reference: peak, Floor: -40},
	}, nil
}
