// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Judge assesses an array by its echoes, and repairs the capture: it leaves dead elements out, and
// turns the sign of reversed elements. It draws the images before and after the repair.
//
//	go run ./examples/judge
//
// The capture is the block with side-drilled holes of testdata, a full-wave simulation. The faults
// of the array are invented.
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
		About: "Judge assesses an array by its echoes, repairs the capture, and draws both images.",
		Flags: func(fs *flag.FlagSet) {
			fs.StringVar(&out, "out", ".", "the `folder` for the pictures judge-*.png")
		},
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
	repair, err := assess(w, c)
	if err != nil {
		return err
	}
	images := []shown{
		{name: "sound", title: "sound array", capture: record.Capture},
		{name: "spoilt", title: "two bad elements", capture: c},
		{name: "repaired", title: "repaired", capture: c, weights: repair.Weights},
	}
	for i := range images {
		if err := images[i].compute(ctx, record); err != nil {
			return err
		}
	}
	compare(w, record.Truth.Holes, images)
	return draw(w, record, images, out)
}

// assess prints the faults of a capture, and returns their repair. It compares the echoes of all
// traces. In a plain block, the echo of the back wall would be enough. In this block the first hole
// hides the back wall from the outermost element, which would look uncoupled.
func assess(w io.Writer, c *fmc.Capture) (*health.Repair, error) {
	report, err := health.Assess(c, nil)
	if err != nil {
		return nil, err
	}
	for _, f := range report.Findings {
		fmt.Fprintln(w, f)
	}
	fmt.Fprintf(w, "signal-to-noise ratio %.0f dB, centre frequency %.2f MHz, bandwidth %.0f %%\n\n",
		float64(report.SNR), float64(report.CentreFrequency)/1e6, 100*float64(report.Bandwidth))
	repair, err := health.NewRepair(c, report, nil)
	if err != nil {
		return nil, err
	}
	fmt.Fprintf(w, "left out: elements %v; turned: %v; all pairs × %.2f\n\n",
		repair.LeftOut, repair.Flipped, repair.Scale)
	return repair, nil
}

// shown is an image that is drawn.
type shown struct {
	name, title string
	capture     *fmc.Capture
	weights     []float32 // of the pairs; nil for none
	envelope    *tfm.Envelope
}

// compute images the capture with its weights.
func (s *shown) compute(ctx context.Context, record *npy.Record) error {
	grid, err := tfm.NewSection(-13e-3, 13e-3, 5e-3, 35e-3, 0.1e-3)
	if err != nil {
		return err
	}
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	plan, err := tfm.PlanView(ctx, s.capture, setup, "L-L", grid, &tfm.Options{Weights: s.weights})
	if err != nil {
		return err
	}
	image, err := plan.Image(ctx, s.capture)
	if err != nil {
		return err
	}
	s.envelope = image.Envelope(nil)
	return nil
}

// compare prints the echoes of the holes in the spoilt and in the repaired image, relative to the
// sound array.
func compare(w io.Writer, holes []npy.Hole, images []shown) {
	fmt.Fprintln(w, "echoes of the holes, in dB relative to the sound array:")
	for i, h := range holes {
		var peaks [3]float64
		for k, image := range images {
			peaks[k] = peakNear(image.envelope, h)
		}
		fmt.Fprintf(w, "hole %d at %.1f mm: %5.1f spoilt, %5.1f repaired\n", i+1, h.Z*1e3,
			decibels(peaks[1]/peaks[0]), decibels(peaks[2]/peaks[0]))
	}
}

// draw writes the pictures of the images into a folder. Their levels are relative to the first
// image.
func draw(w io.Writer, record *npy.Record, images []shown, folder string) error {
	reference, _ := images[0].envelope.Peak()
	pictures := output.Files{Folder: folder}
	for _, image := range images {
		levels, err := image.envelope.Decibels(nil, reference, -30)
		if err != nil {
			return err
		}
		p := picture.Section{
			Title: "aluminium block, view L-L: " + image.title,
			Caption: fmt.Sprintf("longitudinal waves of %.0f m/s, pixels of %.1f mm, "+
				"levels relative to the highest peak of the sound array",
				record.Part.Longitudinal, levels.Grid.Step.X*1e3),
			Levels: levels,
		}
		for _, hole := range record.Truth.Holes {
			p.Reflectors = append(p.Reflectors, picture.Circle(hole.X, hole.Z, hole.Diameter/2))
		}
		if err := pictures.Add("judge-"+image.name+".png", p.WritePNG); err != nil {
			return err
		}
	}
	if err := pictures.Commit(); err != nil {
		return err
	}
	for _, image := range images {
		fmt.Fprintln(w, "wrote", filepath.Join(folder, "judge-"+image.name+".png"))
	}
	return nil
}

// The elements with faults.
const dead, reversed = 5, 10

// spoil returns a copy of c with a dead and a reversed element, and with noise.
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

// peakNear returns the highest amplitude within a diameter of the near face of a hole.
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
