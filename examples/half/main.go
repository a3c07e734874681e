// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Half compares the full matrix with the half matrix.
//
//	go run ./examples/half
//
// The full matrix holds a trace from each element to each element. Waves are reciprocal: the trace
// from i to j is the trace from j to i. The half matrix leaves one of both out, and the image
// counts the other one twice. It needs half the memory.
//
// The price is noise, which is not reciprocal: N elements give 10·log10(2 - 1/N) dB more. The mean
// of both traces (Capture.Half) avoids this loss, but needs a recorded full matrix.
//
// The picture: the images, with white noise as strong as the highest echo. The numbers: the
// traces, the largest difference from the image of the full matrix, and the noise of the image.
// Echoes of grains are reciprocal, so they do not rise. Plate, hole and noise are invented.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"math"
	"os"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "half.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	ctx := context.Background()
	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230} // kg/m³, m/s
	setup, err := wedge.NewPlate(nil, steel, 60e-3)
	if err != nil {
		return err
	}
	array, err := fmc.LinearArray(32, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		return err
	}
	hole := synth.Hole{X: -2e-3, Z: 22e-3, Diameter: 1.5e-3} // m
	clean, err := synth.Synthesise(ctx, &synth.Scene{
		Setup: *setup, Array: array, Reflectors: []synth.Reflector{hole},
		Views: []wedge.View{{Transmit: []material.Mode{material.L}, Receive: []material.Mode{material.L}}},
	}, synth.Recording{Samples: 1000, SampleRate: 50e6})
	if err != nil {
		return err
	}
	noisy, err := synth.Receiver{Noise: 1, Seed: 1}.Record(clean) // as strong as the highest echo
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(-20e-3, 20e-3, 10e-3, 40e-3, 0.1e-3)
	if err != nil {
		return err
	}
	var panels []picture.Picture
	var envelopes []*tfm.Envelope // of each matrix without and with noise
	for _, matrix := range []struct {
		title string
		of    func(*fmc.Capture) (*fmc.Capture, error)
	}{
		{"full matrix", (*fmc.Capture).Full},
		{"half matrix", func(c *fmc.Capture) (*fmc.Capture, error) { return c.Select(fmc.HalfPairs(32)) }},
		{"half matrix of means", (*fmc.Capture).Half},
	} {
		var c *fmc.Capture
		for _, all := range []*fmc.Capture{clean, noisy} {
			if c, err = matrix.of(all); err != nil {
				return err
			}
			image, err := tfm.ImageView(ctx, c, setup, "L-L", grid, nil)
			if err != nil {
				return err
			}
			envelopes = append(envelopes, image.Envelope(nil))
		}
		first, with, without := envelopes[0], envelopes[len(envelopes)-1], envelopes[len(envelopes)-2]
		peak, _ := first.Peak()
		noise, err := sizing.EstimateNoise(with)
		if err != nil {
			return err
		}
		levels, err := with.Decibels(nil, peak, -36)
		if err != nil {
			return err
		}
		difference := 0.0
		for k, v := range without.Data {
			difference = max(difference, math.Abs(float64(v-first.Data[k])))
		}
		fmt.Fprintf(w, "%-21s %4d traces, without noise within %.4f %% of the peak, noise at %.1f dB\n", matrix.title+":",
			len(c.Pairs), 100*difference/float64(peak), 20*math.Log10(noise.Level/float64(peak)))
		panels = append(panels, &picture.Section{
			Title: matrix.title, Levels: levels, Reflectors: [][]r2.Vec{picture.Circle(hole.X, hole.Z, hole.Diameter/2)},
		})
	}
	fmt.Fprintf(w, "10·log10(2 - 1/32) is %.1f dB\n", 10*math.Log10(2-1./32))
	return picture.WriteFile(out, &picture.Panels{Title: "Half the data, the same echoes, more noise", Pictures: panels})
}
