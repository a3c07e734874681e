// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Judge assesses an array by its echoes, and repairs what can honestly be
// repaired: it leaves dead elements out, turns reversed ones, and shows what that does to
// the image.
//
//	go run ./examples/judge
//
// The capture is the block with side-drilled holes of testdata, a full-wave simulation.
// The faults of the array are invented.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"path/filepath"

	"github.com/isochron-imaging/isochron/examples/internal/command"
	"github.com/isochron-imaging/isochron/examples/internal/output"
	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

func main() {
	var out string
	command.Command{
		Name:  "judge",
		About: "Judge assesses an array by its echoes, repairs the capture, and draws the image before and after.",
		Flags: func(fs *flag.FlagSet) { fs.StringVar(&out, "out", ".", "the `folder` to write judge-*.png to") },
		Run: func(ctx context.Context, w, _ io.Writer) error {
			return run(ctx, w, "testdata/block16.json", out)
		},
	}.Main()
}

func run(ctx context.Context, w io.Writer, name, out string) error {
	record, err := npy.ReadFile(name, nil)
	if err != nil {
		return err
	}
	c := spoil(record.Capture)
	// All echoes are compared. That of the back wall alone would do in a plain block;
	// here the first hole hides it from the outermost element, which would look
	// uncoupled.
	report, err := health.Assess(c, nil)
	if err != nil {
		return err
	}
	for _, f := range report.Findings {
		fmt.Fprintln(w, f)
	}
	fmt.Fprintf(w, "signal-to-noise ratio %.0f dB, centre frequency %.2f MHz, bandwidth %.0f %%\n\n",
		float64(report.SNR), float64(report.CentreFrequency)/1e6, 100*float64(report.Bandwidth))
	repair, err := health.NewRepair(c, report, nil)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "left out: elements %v; turned: %v; all pairs × %.2f\n\n", repair.LeftOut, repair.Flipped, repair.Scale)

	grid, err := tfm.NewSection(-13e-3, 13e-3, 5e-3, 35e-3, 0.1e-3)
	if err != nil {
		return err
	}
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	images := []struct {
		name, title string
		capture     *fmc.Capture
		weights     []float32
		envelope    *tfm.Envelope
	}{
		{name: "sound", title: "sound array", capture: record.Capture},
		{name: "spoilt", title: "two bad elements", capture: c},
		{name: "repaired", title: "repaired", capture: c, weights: repair.Weights},
	}
	for i := range images {
		im := &images[i]
		plan, err := tfm.PlanView(ctx, im.capture, setup, "L-L", grid, &tfm.Options{Weights: im.weights})
		if err != nil {
			return err
		}
		image, err := plan.Image(ctx, im.capture)
		if err != nil {
			return err
		}
		im.envelope = image.Envelope(nil)
	}
	fmt.Fprintln(w, "echoes of the holes, in dB of those with a sound array:")
	for h, hole := range record.Truth.Holes {
		want := peakNear(images[0].envelope, hole)
		fmt.Fprintf(w, "hole %d at %.1f mm: %5.1f spoilt, %5.1f repaired\n", h+1, hole.Z*1e3,
			decibels(peakNear(images[1].envelope, hole)/want), decibels(peakNear(images[2].envelope, hole)/want))
	}
	reference, _ := images[0].envelope.Peak()
	pictures := output.Files{Folder: out}
	for _, im := range images {
		levels, err := im.envelope.Decibels(nil, reference, -30)
		if err != nil {
			return err
		}
		p := picture.Section{
			Title: "aluminium block, view L-L: " + im.title,
			Caption: fmt.Sprintf("longitudinal waves of %.0f m/s, pixels of %.1f mm, levels relative to the highest peak of the sound array",
				record.Part.Longitudinal, grid.Step.X*1e3),
			Levels: levels,
		}
		for _, hole := range record.Truth.Holes {
			p.Reflectors = append(p.Reflectors, picture.Circle(hole.X, hole.Z, hole.Diameter/2))
		}
		if err := pictures.Add("judge-"+im.name+".png", p.WritePNG); err != nil {
			return err
		}
	}
	if err := pictures.Commit(); err != nil {
		return err
	}
	for _, im := range images {
		fmt.Fprintln(w, "wrote", filepath.Join(out, "judge-"+im.name+".png"))
	}
	return nil
}

// The elements that are spoilt.
const dead, reversed = 5, 10

// spoil returns a copy of c from an array with a dead and a reversed element, with
// noise.
func spoil(c *fmc.Capture) *fmc.Capture {
	spoilt := *c
	spoilt.Data = append([]float32(nil), c.Data...)
	noise := rand.New(rand.NewPCG(3, 4))
	for pair, trace := range spoilt.Traces() {
		gain := float32(1)
		for _, e := range []int{pair.Tx, pair.Rx} {
			switch e {
			case dead:
				gain = 0
			case reversed:
				gain = -gain
			}
		}
		for k := range trace {
			trace[k] = gain*trace[k] + 100*float32(noise.NormFloat64())
		}
	}
	return &spoilt
}

// peakNear returns the highest amplitude within a diameter of a hole's face.
func peakNear(e *tfm.Envelope, h npy.Hole) float64 {
	peak := 0.0
	for i, v := range e.Data {
		p := e.Point(i)
		if math.Hypot(p.X-h.X, p.Z-(h.Z-h.Diameter/2)) <= h.Diameter {
			peak = max(peak, float64(v))
		}
	}
	return peak
}

func decibels(ratio float64) float64 { return 20 * math.Log10(ratio) }
