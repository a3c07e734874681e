// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Make computes a capture from the ray model, of a scene of one's own, and stores it with
// its set-up, so that it can be imaged like any other:
//
//	go run ./examples/make
//	go run ./examples/inspect -capture plate.json -floor -24
//
// The scene is invented: a steel plate of 25 mm with a crack from the back wall, a
// side-drilled hole and a patch of pores, under an array of 32 elements on a wedge, of
// which one is dead.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/examples/internal/command"
	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

func main() {
	var out string
	var seed uint64
	command.Command{
		Name:  "make",
		About: "Make computes a capture of an invented plate from the ray model, for inspect to image.",
		Flags: func(fs *flag.FlagSet) {
			fs.StringVar(&out, "out", "plate.json", "the set-up to write, a `FILE.json`, with the samples in a .npy beside it")
			fs.Uint64Var(&seed, "seed", 1, "the seed of the noise and the pores")
		},
		Run: func(ctx context.Context, w, _ io.Writer) error { return run(ctx, w, out, seed) },
	}.Main()
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
	scene, err := newScene(record, seed)
	if err != nil {
		return err
	}
	recording := synth.Recording{Samples: 2000, SampleRate: 50e6, FirstSample: 12e-6}
	capture, err := synth.Synthesise(ctx, scene, recording)
	if err != nil {
		return err
	}
	receiver := synth.Receiver{Noise: 0.01, Dead: []int{19}, Jitter: 2e-9, Bits: 14, FullScale: 1.2, Seed: seed}
	if capture, err = receiver.Record(capture); err != nil {
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

// newScene returns what the array looks at.
func newScene(record *npy.Record, seed uint64) (*synth.Scene, error) {
	geometry, err := record.Geometry()
	if err != nil {
		return nil, err
	}
	array, err := fmc.LinearArray(32, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		return nil, err
	}
	// A wedge of 36°: the array is turned about y, and its middle lies over the plate so
	// that the normal to it meets the plate at x = 0.
	const angle, height = 36 * math.Pi / 180, 14e-3
	array, err = array.Place(r3.NewRotation(angle, r3.Vec{Y: 1}), r3.Vec{X: -height * math.Tan(angle), Z: -height})
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
