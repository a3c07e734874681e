// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Plastic images holes in polyethylene at two frequencies. Plastic absorbs high frequencies, so
// echoes come back weak and low. The lower frequency sees deeper, though its spots are larger.
//
//	go run ./examples/plastic
//
// A pulse of the frequency f, with a Gaussian spectrum of the standard deviation σ, comes back at
// f - a·p·σ² after the path p, if the attenuation is a·f. Its amplitude falls by the factor
// exp((a·p·σ)²/2 - a·p·f). Brackets hold these values for the way straight down and up. Slanting
// ways are longer, so the image loses up to 3 dB more. In the picture, 0 dB is the strongest hole
// of a plate without absorption.
//
// Only L waves are used: T waves die out in such plastics within millimetres (common practice, no
// source). Speed and attenuation depend on grade and temperature: measure them. All data are
// invented.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"math"
	"math/cmplx"
	"os"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
)

const loss = 23e-6                                                                // Np/m for each Hz: 2 dB/cm for each MHz, invented
const bandwidth, diameter = 0.6, 2e-3                                             // of the pulse at half amplitude; of the holes in m
var holes = []r3.Vec{{X: -6e-3, Z: 10e-3}, {X: 0, Z: 20e-3}, {X: 6e-3, Z: 30e-3}} // their centres in m

func main() {
	log.SetFlags(0)
	out := flag.String("out", "plastic.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	sheet := &picture.Panels{Title: "Polyethylene: holes of 2 mm at two frequencies",
		Caption: "View L-L. 0 dB: the strongest hole if the plate absorbed nothing. Blue: true holes."}
	fmt.Fprintln(w, "frequency   depth  amplitude falls by   comes back at")
	for _, frequency := range []float64{2.25e6, 5e6} {
		ideal, err := focus(frequency, 0)
		if err != nil {
			return err
		}
		image, err := focus(frequency, loss)
		if err != nil {
			return err
		}
		best, _ := ideal.Envelope(nil).Peak()
		levels, err := image.Envelope(nil).Decibels(nil, best, -60)
		if err != nil {
			return err
		}
		s := &picture.Section{Title: fmt.Sprintf("%.2f MHz", frequency/1e6), Levels: levels}
		sheet.Pictures = append(sheet.Pictures, s)
		for _, at := range holes {
			s.Reflectors = append(s.Reflectors, picture.Circle(at.X, at.Z, diameter/2))
			before, i := ideal.Envelope(nil).PeakNear(at, 2e-3)
			after, k := image.Envelope(nil).PeakNear(at, 2e-3)
			dose, sigma := loss*2*(at.Z-diameter/2), bandwidth*frequency/math.Sqrt(8*math.Ln2) // a·p, σ
			fmt.Fprintf(w, "%.2f MHz   %2.0f mm     %3.0f dB (%2.0f dB)  %.2f MHz (%.2f MHz)\n", frequency/1e6, at.Z*1e3,
				sizing.LevelDB(float64(before), float64(after)), material.DecibelsPerNeper*(dose*frequency-dose*dose*sigma*sigma/2),
				frequency/1e6*turn(image, k)/turn(ideal, i), (frequency-dose*sigma*sigma)/1e6)
		}
	}
	return picture.WriteFile(out, sheet)
}

// turn returns by which angle the phase turns from a pixel to the next one below: so many radians a step.
func turn(im *tfm.Image, pixel int) float64 {
	return cmplx.Phase(complex128(im.Data[pixel+im.Cols]) * cmplx.Conj(complex128(im.Data[pixel])))
}

// focus computes a capture with a loss in Np/m for each Hz, and returns its image.
func focus(frequency, loss float64) (*tfm.Image, error) {
	setup, err := wedge.NewPlate(nil, material.Isotropic{Density: 955, Longitudinal: 2430, Transverse: 950}, 40e-3)
	if err != nil {
		return nil, err
	}
	array, err := fmc.LinearArray(32, 0.36e-3, fmc.Array{Width: 0.3e-3, CentreFrequency: frequency, Bandwidth: bandwidth})
	if err != nil {
		return nil, err
	}
	scene := &synth.Scene{Setup: *setup, Array: array,
		Views:  []wedge.View{{Transmit: []material.Mode{material.L}, Receive: []material.Mode{material.L}}},
		Losses: synth.Losses{Longitudinal: material.Attenuation{{Alpha: loss * 1e6, Frequency: 1e6, Exponent: 1}}}}
	for _, at := range holes {
		scene.Reflectors = append(scene.Reflectors, synth.Hole{X: at.X, Z: at.Z, Diameter: diameter})
	}
	capture, err := synth.Synthesise(context.Background(), scene, synth.Recording{Pairs: fmc.HalfPairs(32), Samples: 1000, SampleRate: 30e6})
	if err != nil {
		return nil, err
	}
	grid, err := tfm.NewSection(-12e-3, 12e-3, 4e-3, 36e-3, 0.1e-3)
	if err != nil {
		return nil, err
	}
	// The band of the array would cut off the low echoes.
	wide := tfm.Band{Low: 0.2 * frequency, High: 1.8 * frequency}
	return tfm.ImageView(context.Background(), capture, setup, "L-L", grid, &tfm.Options{Band: wide})
}
