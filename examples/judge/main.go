// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Judge finds the faults of an array in its echoes, and repairs the capture. It leaves dead
// elements out, and turns the sign of reversed ones.
//
//	go run ./examples/judge
//
// The first lines are the findings, with the measured value and its limit. One value is how far an
// element is below the others, at most 120 dB. Another is how like the others it is with its sign
// turned. The repair multiplies by (16/15)², for the pairs left out. With one dead and one reversed
// element of 16, an echo is the sum of 14-1 elements, there and back: (13/16)², or -3.6 dB. The
// last lines show the levels of four holes relative to the sound array.
//
// A repair restores the level. It does not restore what the gap in the aperture takes: noise and
// side lobes stay higher. If a fault is found on a job, the job was done with a faulty array: the
// procedure says what to do then. The capture is a simulation (testdata), the faults are invented.
package main

import (
	"cmp"
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"math/rand/v2"
	"os"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "judge.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	record, err := npy.ReadFile("testdata/block16.json", nil)
	if err != nil {
		return err
	}
	spoilt := spoil(record.Capture)
	report, err := health.Assess(spoilt, nil)
	if err != nil {
		return err
	}
	for _, finding := range report.Findings {
		fmt.Fprintln(w, finding)
	}
	repair, err := health.NewRepair(spoilt, report, nil)
	if err != nil {
		return err
	}
	fmt.Fprintf(w, "left out: elements %v; turned: %v; all pairs × %.2f\n", repair.LeftOut, repair.Flipped, repair.Scale)
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(-13e-3, 13e-3, 6e-3, 36e-3, 0.1e-3)
	if err != nil {
		return err
	}
	sheet := &picture.Panels{Title: "Four holes in aluminium, view L-L; 0 dB: the strongest echo with the sound array"}
	var sound *tfm.Envelope
	captures := []*fmc.Capture{record.Capture, spoilt, spoilt}
	weights := [][]float32{nil, nil, repair.Weights} // of the pairs
	for i, title := range []string{"sound array", "one element dead, one reversed", "repaired"} {
		image, err := tfm.ImageView(context.Background(), captures[i], setup, "L-L", grid, &tfm.Options{Weights: weights[i]})
		if err != nil {
			return err
		}
		e := image.Envelope(nil)
		sound = cmp.Or(sound, e)
		fmt.Fprintf(w, "%-31s", title+":")
		for _, hole := range record.Truth.Holes {
			face := r3.Vec{X: hole.X, Z: hole.Z - hole.Diameter/2}
			before, _ := sound.PeakNear(face, hole.Diameter)
			now, _ := e.PeakNear(face, hole.Diameter)
			fmt.Fprintf(w, " %5.1f", sizing.LevelDB(float64(now), float64(before)))
		}
		fmt.Fprintln(w, " dB")
		reference, _ := sound.Peak()
		levels, err := e.Decibels(nil, reference, -30)
		if err != nil {
			return err
		}
		holes := picture.Reflectors(record.Truth)
		sheet.Pictures = append(sheet.Pictures, &picture.Section{Title: title, Levels: levels, Reflectors: holes})
	}
	return picture.WriteFile(out, sheet)
}

// spoil returns a copy of a capture with noise, in which element 5 is dead and element 10 reversed.
func spoil(c *fmc.Capture) *fmc.Capture {
	spoilt := *c
	spoilt.Data = slices.Clone(c.Data)
	gains := slices.Repeat([]float32{1}, 16)
	gains[5], gains[10] = 0, -1
	noise := rand.New(rand.NewPCG(3, 4))
	for pair, trace := range spoilt.Traces() {
		for k := range trace {
			trace[k] = gains[pair.Tx]*gains[pair.Rx]*trace[k] + 100*float32(noise.NormFloat64())
		}
	}
	return &spoilt
}
