// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Makescan computes the scan of an invented part from the ray model. It stores the frames with the
// set-up, and the true flaws in a file beside them:
//
//	go run ./examples/makescan -part weld
//	go run ./examples/makescan -part girth -elements 32 -step 1e-3
//
// The parts are weld, a butt weld of two plates, girth, a girth weld in a pipe, and plate, a plate
// with pits in its back wall.
//
// This command made the scan of testdata:
//
//	go run ./examples/makescan -small -out testdata/scan/weld16.json
package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"math"
	"os"
	"os/signal"
	"path/filepath"
	"strings"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/synth"
)

// job says which scan to make.
type job struct {
	out, part string
	elements  int
	length    float64 // m
	step      float64 // m
	seed      uint64
	small     bool // the scan of testdata
}

func main() {
	log.SetFlags(0)
	var j job
	flag.StringVar(&j.out, "out", "scan.json", "the set-up to write, a `FILE.json`, with the frames and the truth beside it")
	flag.StringVar(&j.part, "part", "weld", "the `PART`: weld, girth or plate")
	flag.IntVar(&j.elements, "elements", 32, "`number` of elements")
	flag.Float64Var(&j.length, "length", 0.2, "of the scan of a weld or a plate, in `metres`")
	flag.Float64Var(&j.step, "step", 1e-3, "from frame to frame, in `metres`")
	flag.Uint64Var(&j.seed, "seed", 1, "the `number` from which flaws and noise follow")
	flag.BoolVar(&j.small, "small", false, "make the small weld of testdata, compressed; other flags but out have no effect")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Stdout, j); err != nil {
		stop()
		log.Fatal(err)
	}
}

func run(ctx context.Context, w io.Writer, j job) error {
	if j.small {
		j.part, j.elements, j.length, j.step, j.seed = "weld", 16, 90e-3, 2.25e-3, 4
	}
	part, recording, err := makePart(&j)
	if err != nil {
		return err
	}
	if j.small {
		recording.SampleRate, recording.Samples = 25e6, 400
	}
	pass := synth.Pass{
		Positions: synth.Steps(0, j.step, int(j.length/j.step+0.5)),
		Patches:   []synth.Patch{{From: 0.55 * j.length, To: 0.65 * j.length, Loss: 6}},
		Drift:     -1, Noise: 0.002, Bits: 14, Seed: j.seed,
	}
	if j.small {
		pass.Bits = 9 // so that the samples compress well
	}
	scan, err := synth.NewScan(ctx, part, pass, recording)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(j.out), 0o777); err != nil {
		return err
	}
	record, err := newRecord(part, scan, "invented "+j.part+", computed from the ray model")
	if err != nil {
		return err
	}
	write := writeFrames
	if j.small {
		write = writeCompressed
	}
	if err := write(ctx, j.out, record, scan.Source(0, scan.Len())); err != nil {
		return err
	}
	truth, err := synth.NewTruth("true flaws of the invented "+j.part, part, pass.Patches)
	if err != nil {
		return err
	}
	if err := truth.WriteFile(strings.TrimSuffix(j.out, ".json") + ".truth.json"); err != nil {
		return err
	}
	fmt.Fprintf(w, "%d frames of %d traces in %s\n", scan.Len(), len(scan.Capture().Pairs), j.out)
	return nil
}

// makePart returns the part of a job. The scan of a pipe goes once round it.
func makePart(j *job) (*synth.Part, synth.Recording, error) {
	switch j.part {
	case "weld":
		return synth.ButtWeld(j.elements, j.length, j.seed)
	case "plate":
		return synth.CorrodedPlate(j.elements, j.length, j.seed)
	case "girth":
		part, recording, err := synth.GirthWeld(j.elements, j.seed)
		if err == nil {
			j.length = 2 * math.Pi * part.Radius
		}
		return part, recording, err
	}
	return nil, synth.Recording{}, fmt.Errorf("part %q: want weld, girth or plate", j.part)
}

// newRecord returns the record of a scan of a part on or without a wedge of polystyrene. In the
// section of a frame a pipe is a plate. Its thickness is the thickness at the start of the scan.
func newRecord(part *synth.Part, scan *synth.Scan, title string) (*npy.Record, error) {
	thickness, err := part.Wall(0, 0)
	if err != nil {
		return nil, err
	}
	setup := part.Scene.Setup
	record := &npy.Record{
		Title: title, Capture: scan.Capture(),
		Part: npy.Material{
			Name: "steel", Density: setup.Part.Density, Longitudinal: setup.Part.Longitudinal, Transverse: setup.Part.Transverse,
		},
		Thickness: thickness,
	}
	if c := setup.Coupling; c != nil {
		record.Coupling = &npy.Material{
			Name: "polystyrene", Density: c.Density, Longitudinal: c.Longitudinal, Transverse: c.Transverse,
		}
	}
	return record, nil
}

// writeFrames writes the frames of a source as int16.
func writeFrames(ctx context.Context, name string, record *npy.Record, source fmc.FrameSource) error {
	writer, err := npy.CreateScan(name, record, npy.Int16)
	if err != nil {
		return err
	}
	defer writer.Discard()
	for frame, err := range fmc.Frames(ctx, source) {
		if err != nil {
			return err
		}
		if err := writer.Append(frame); err != nil {
			return err
		}
	}
	return writer.Close()
}

// writeCompressed writes the frames compressed by gzip. Where a scan stands, it is replaced in
// place.
func writeCompressed(ctx context.Context, out string, record *npy.Record, source fmc.FrameSource) error {
	folder, err := os.MkdirTemp("", "makescan")
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	setup := filepath.Join(folder, filepath.Base(out))
	if err := writeFrames(ctx, setup, record, source); err != nil {
		return err
	}
	text, err := os.ReadFile(setup)
	if err != nil {
		return err
	}
	samples, err := os.ReadFile(strings.TrimSuffix(setup, ".json") + ".npy")
	if err != nil {
		return err
	}
	var packed bytes.Buffer
	z, err := gzip.NewWriterLevel(&packed, gzip.HuffmanOnly) // longer matches save little
	if err != nil {
		return err
	}
	if _, err := z.Write(samples); err != nil {
		return err
	}
	if err := z.Close(); err != nil {
		return err
	}
	name := strings.TrimSuffix(filepath.Base(out), ".json") + ".npy"
	text = bytes.Replace(text, []byte(`"`+name+`"`), []byte(`"`+name+`.gz"`), 1)
	if err := os.WriteFile(strings.TrimSuffix(out, ".json")+".npy.gz", packed.Bytes(), 0o666); err != nil {
		return err
	}
	return os.WriteFile(out, text, 0o666)
}
