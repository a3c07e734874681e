// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stack

import (
	"context"
	"fmt"
	"io"
	"math/rand/v2"
	"path/filepath"
	"testing"
	"time"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/stream"
	"github.com/isochron-imaging/isochron/wedge"
)

// weldScan is a scan for benchmarks: a half matrix of n elements, 1,024 samples, int16, and two
// views of 30,000 pixels.
type weldScan struct {
	plans  []*tfm.Plan
	layout *Layout
	frames [16][]int16 // which come again and again
}

func newWeldScan(n int, precision tfm.Precision) *weldScan {
	array := check.Must(fmc.LinearArray(n, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	c := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.HalfPairs(n), Samples: 1024, SampleRate: 40e6}))
	plate := check.Must(wedge.NewPlate(nil, material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3240}, 25e-3))
	grid := check.Must(tfm.NewSection(0, 39.8e-3, 2e-3, 31.8e-3, 0.2e-3))
	w := &weldScan{layout: &Layout{
		Views:  []View{{Name: "L-L", Reference: 1e4}, {Name: "LL-L", Reference: 1e4}},
		Frames: 1 << 15, Pitch: 1e-3, Values: Int16,
	}}
	for _, v := range w.layout.Views {
		w.plans = append(w.plans, check.Must(tfm.PlanView(background, c, plate, v.Name, grid, &tfm.Options{Precision: precision})))
	}
	rng := rand.New(rand.NewPCG(1, 1))
	for f := range w.frames {
		w.frames[f] = make([]int16, len(c.Data))
		for i := range w.frames[f] {
			w.frames[f][i] = int16(rng.IntN(2000) - 1000)
		}
	}
	return w
}

// stack images so many frames into a new stack.
func (w *weldScan) stack(b *testing.B, frames int) {
	next := 0
	source := func(_ context.Context, f *stream.Frame) error {
		if next == frames {
			return io.EOF
		}
		f.Index, f.Position = next, float64(next)*1e-3
		f.Int16 = append(f.Int16, w.frames[next%len(w.frames)]...)
		next++
		return nil
	}
	l := *w.layout
	l.Frames = frames
	if _, err := Image(background, filepath.Join(b.TempDir(), "a.json"), w.plans, &l, source, nil); err != nil {
		b.Fatal(err)
	}
}

// single images so many frames one after the other, each on all cores.
func (w *weldScan) single(b *testing.B, frames int) {
	scratch := check.Must(tfm.NewViews(w.plans...)).NewScratch()
	images := []*tfm.Image{tfm.NewImage(w.plans[0].Grid()), tfm.NewImage(w.plans[1].Grid())}
	for f := range frames {
		if err := scratch.ReconstructInt16(background, images, w.frames[f%len(w.frames)]); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkRate compares the rate of frames into a stack with the rate of single images, in turns
// of 50 to 200 frames. "rate" and "cpu" are the ratios of the medians: single images over the stack, by the
// clock and by the time of the processor. The other numbers are of a frame of the stack. The stack
// contains the checksums, the fingerprint of the plans, the conversion to int16 and the files.
func BenchmarkRate(b *testing.B) {
	for _, precision := range []tfm.Precision{tfm.Single, tfm.Fixed16} {
		for _, n := range []int{16, 32, 64} {
			b.Run(fmt.Sprintf("elements=%d/%v", n, precision), func(b *testing.B) {
				w, frames := newWeldScan(n, precision), 3200/n
				var times [2][2][]float64 // by clock, and by stack or single, in s a frame
				for b.Loop() {
					for k, run := range []func(*testing.B, int){w.stack, w.single} {
						clock, cpu := time.Now(), check.CPUTime()
						run(b, frames)
						times[0][k] = append(times[0][k], time.Since(clock).Seconds()/float64(frames))
						times[1][k] = append(times[1][k], (check.CPUTime()-cpu).Seconds()/float64(frames))
					}
				}
				for i, name := range []string{"rate", "cpu"} {
					stack, single := number.Median(times[i][0]), number.Median(times[i][1])
					b.ReportMetric(single/stack, name)
					b.ReportMetric(stack*1e3, "ms-"+name)
				}
				b.ReportMetric(0, "ns/op")
			})
		}
	}
}

// BenchmarkProject projects 500 frames of two views of 30,000 pixels in int16.
func BenchmarkProject(b *testing.B) {
	l := newWeldScan(4, tfm.Single).layout
	l.Frames = 500
	l.Grid = check.Must(tfm.NewSection(0, 39.8e-3, 2e-3, 31.8e-3, 0.2e-3))
	name := filepath.Join(b.TempDir(), "a.json")
	w := check.Must(Create(name, l, 0, l.Frames))
	rng := rand.New(rand.NewPCG(1, 1))
	images := []*tfm.Envelope{tfm.NewImage(l.Grid).Envelope(nil), tfm.NewImage(l.Grid).Envelope(nil)}
	for f := range l.Frames {
		for _, e := range images {
			for i := range e.Data {
				e.Data[i] = rng.Float32() * 1e4
			}
		}
		if err := w.Put(Frame{Index: f, State: Imaged, Position: float64(f) * 1e-3}, images); err != nil {
			b.Fatal(err)
		}
	}
	if err := w.Finish(); err != nil {
		b.Fatal(err)
	}
	s := check.Must(Open(name))
	defer s.Close()
	cpu := check.CPUTime()
	for b.Loop() {
		check.Must(Project(background, []Source{{Stack: s}}, nil))
	}
	b.ReportMetric((check.CPUTime()-cpu).Seconds()*1e3/float64(b.N), "ms-cpu/op")
}
