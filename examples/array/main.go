// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Array compares four arrays: how sharp is the image, and where are the grating lobes?
//
//	go run ./examples/array
//
// Three numbers decide: the length D of the array (the aperture), the pitch p from element to
// element, and the wavelength λ in the part. At the depth z a small reflector is 0.886·λ·z/D wide,
// 6 dB below its peak. So a long array and a high frequency are sharp. If p is well above λ/2, the
// echoes of neighbours agree in other directions too. Grating lobes appear there: at sin θ = ±λ/p,
// for a reflector straight ahead.
//
// The picture: one small reflector by four arrays, and the directions of the grating lobes.
//
// The numbers: the width in the image and by the formula. Then the angle and the level of the lobe
// as package tfm/quality predicts them for a pulse, and the level near this place in the image.
// The prediction holds far from the array: at ten times the depth both agree. Here the delay
// between neighbours changes along the array, which spreads the lobe. Plate and reflector are
// invented.
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
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/material/beam"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "array.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	ctx := context.Background()
	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230} // kg/m³, m/s
	setup, err := wedge.NewPlate(nil, steel, 80e-3)
	if err != nil {
		return err
	}
	const depth = 40e-3 // m, of the reflector
	grid, err := tfm.NewSection(-34e-3, 34e-3, 12e-3, 46e-3, 0.2e-3)
	if err != nil {
		return err
	}
	var panels []picture.Picture
	longitudinal := []material.Mode{material.L}
	for _, a := range []struct {
		elements         int
		pitch, frequency float64 // m, Hz
	}{{32, 0.6e-3, 5e6}, {16, 0.6e-3, 5e6}, {32, 0.6e-3, 2.5e6}, {12, 1.6e-3, 5e6}} {
		array, err := fmc.LinearArray(a.elements, a.pitch, fmc.Array{Width: 0.3e-3, CentreFrequency: a.frequency, Bandwidth: 0.6})
		if err != nil {
			return err
		}
		capture, err := synth.Synthesise(ctx, &synth.Scene{
			Setup: *setup, Array: array, Views: []wedge.View{{Transmit: longitudinal, Receive: longitudinal}},
			Reflectors: []synth.Reflector{synth.Point{Position: r3.Vec{Z: depth}, Strength: 1e-3}},
		}, synth.Recording{Pairs: fmc.HalfPairs(a.elements), Samples: 1200, SampleRate: 50e6})
		if err != nil {
			return err
		}
		image, err := tfm.ImageView(ctx, capture, setup, "L-L", grid, nil)
		if err != nil {
			return err
		}
		envelope := image.Envelope(nil)
		levels, err := envelope.Decibels(nil, 0, -40)
		if err != nil {
			return err
		}
		found, err := sizing.Find(envelope, nil)
		if err != nil {
			return err
		}
		lambda := steel.Longitudinal / a.frequency
		aperture := beam.Strip{Width: float64(a.elements) * a.pitch, Wavelength: lambda}
		title := fmt.Sprintf("%d elements, pitch %.1f mm (%.2f λ), %.1f MHz", a.elements, a.pitch*1e3, a.pitch/lambda, a.frequency/1e6)
		fmt.Fprintf(w, "%s\n  width %.1f mm, by 0.886·λ·z/D %.1f mm\n", title, 1e3*(found[0].ExtentX[1]-found[0].ExtentX[0]),
			1e3*aperture.FocalWidth(depth, beam.HalfPulseEcho))
		section := &picture.Section{Title: title, Levels: levels, Reflectors: [][]r2.Vec{picture.Circle(0, depth, 0.5e-3)}}
		lobes, err := quality.GratingLobes(capture, steel.Longitudinal, 0, tfm.Band{})
		if err != nil {
			return err
		}
		for _, lobe := range lobes {
			sin, cos := math.Sincos(lobe.Peak)
			section.Lines = append(section.Lines, picture.Line{Points: []r2.Vec{{}, {X: 60e-3 * sin, Y: 60e-3 * cos}}, Dashed: true, Name: "grating lobe"})
			if lobe.Peak > 0 {
				_, pixel := envelope.PeakNear(r3.Vec{X: depth * sin, Z: depth * cos}, 3e-3)
				fmt.Fprintf(w, "  lobe of a tone at %.0f°, of the pulse at %.0f° with %.0f dB; %.0f dB in the image\n",
					lobe.Angle*180/math.Pi, lobe.Peak*180/math.Pi, lobe.LevelDB, levels.Data[pixel])
			}
		}
		panels = append(panels, section)
	}
	return picture.WriteFile(out, &picture.Panels{Title: "Aperture, pitch and wavelength", Columns: 2, Pictures: panels})
}
