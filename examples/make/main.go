// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Make computes a capture of an invented scene from the ray model. It stores the capture with its
// set-up. Inspect can image it as any other capture:
//
//	go run ./examples/make
//	go run ./examples/inspect -capture plate.json -floor -24
//
// The scene is a steel plate of 25 mm with a crack from the back wall, a side-drilled hole and a
// patch of pores. The array of 32 elements is on a wedge. One element is dead.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"math"
	"os"
	"os/signal"
	"path/filepath"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "plate.json", "the set-up to write, a `FILE.json`, with the samples in a .npy file beside it")
	seed := flag.Uint64("seed", 1, "the `number` from which the noise and the pores follow")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Stdout, *out, *seed); err != nil {
		stop()
		log.Fatal(err)
	}
}

// The reflectors.
var (
	crack = synth.Crack{From: r3.Vec{X: 22e-3, Z: 20.5e-3}, To: r3.Vec{X: 21.2e-3, Z: 25e-3}, Rooted: true}
	hole  = synth.Hole{X: 30e-3, Z: 12e-3, Diameter: 1.5e-3}
	pores = synth.Cloud{From: r3.Vec{X: 10e-3, Z: 8e-3}, To: r3.Vec{X: 13e-3, Z: 11e-3}, Points: 12, Strength: 0.5e-3}
)

func run(ctx context.Context, w io.Writer, out string, seed uint64) error {
	record := &npy.Record{
		Title:     "invented steel plate, computed from the ray model",
		Coupling:  &npy.Material{Name: "polystyrene", Density: 1050, Longitudinal: 2330, Transverse: 1150},
		Part:      npy.Material{Name: "steel", Density: 7850, Longitudinal: 5900, Transverse: 3230},
		Thickness: 25e-3,
		Truth: npy.Truth{
			Holes: []npy.Hole{{X: hole.X, Z: hole.Z, Diameter: hole.Diameter}},
			Slits: []npy.Slit{{X0: crack.From.X, Z0: crack.From.Z, X1: crack.To.X, Z1: crack.To.Z}},
		},
	}
	capture, err := compute(ctx, record, seed)
	if err != nil {
		return err
	}
	record.Capture = capture
	if err := os.MkdirAll(filepath.Dir(out), 0o777); err != nil {
		return err
	}
	if err := npy.WriteFile(out, record, npy.Int16); err != nil {
		return err
	}
	fmt.Fprintf(w, "%d traces of %d samples in %s and its .npy\n", len(capture.Pairs), capture.Samples, out)
	return nil
}

// compute returns the capture of the scene, with the faults of a receiver.
func compute(ctx context.Context, record *npy.Record, seed uint64) (*fmc.Capture, error) {
	scene, err := newScene(record, seed)
	if err != nil {
		return nil, err
	}
	recording := synth.Recording{Samples: 2000, SampleRate: 50e6, FirstSample: 12e-6}
	capture, err := synth.Synthesise(ctx, scene, recording)
	if err != nil {
		return nil, err
	}
	receiver := synth.Receiver{
		Noise: 0.01, Dead: []int{19}, Jitter: 2e-9, Bits: 14, FullScale: 1.2, Seed: seed,
	}
	return receiver.Record(capture)
}

// newArray returns an array on a wedge of 36°. The array is turned about y. The normal through its
// middle meets the plate at x = 0.
func newArray() (fmc.Array, error) {
	like := fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}
	array, err := fmc.LinearArray(32, 0.6e-3, like)
	if err != nil {
		return array, err
	}
	const angle, height = 36 * math.Pi / 180, 14e-3
	turn := r3.NewRotation(angle, r3.Vec{Y: 1})
	return array.Place(turn, r3.Vec{X: -height * math.Tan(angle), Z: -height})
}

// newScene returns the plate, its reflectors and the array.
func newScene(record *npy.Record, seed uint64) (*synth.Scene, error) {
	geometry, err := record.Geometry()
	if err != nil {
		return nil, err
	}
	array, err := newArray()
	if err != nil {
		return nil, err
	}
	var views []wedge.View
	for _, name := range []string{"T-T", "TT-T", "TT-TT"} {
		v, err := wedge.ParseView(name)
		if err != nil {
			return nil, err
		}
		views = append(views, v)
	}
	cloud := pores
	cloud.Seed = seed
	return &synth.Scene{
		Setup: *geometry, Array: array, Length: 10e-3,
		Reflectors: []synth.Reflector{crack, hole, cloud},
		Views:      views,
		Walls:      [][]material.Mode{{material.T, material.T}},
	}, nil
}
