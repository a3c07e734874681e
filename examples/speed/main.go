// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Speed shows what a wrong wave speed does to an image, and how the image tells it.
//
//	go run ./examples/speed
//
// A speed that is 5 % too high makes the way of each echo 5 % too long. So each indication shows
// too deep. The echoes of the elements also no longer coincide, so the indication is weaker and
// wider. A speed can therefore be found: vary it, and take the highest level.
//
// The picture: a reflector imaged with three speeds, and the level of its indication over the
// speed.
//
// The numbers: the depth and the level of the peak, and the speed of the highest level. An echo
// along the axis shows at z·c'/c, for the true depth z and speed c and the assumed speed c'. A
// wrong wedge looks similar: see examples/calibration. The plate and the reflector are invented.
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
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "speed.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	ctx, depth := context.Background(), 25e-3                                        // m, of the reflector
	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230} // kg/m³, m/s
	setup, err := wedge.NewPlate(nil, steel, 50e-3)
	if err != nil {
		return err
	}
	array, err := fmc.LinearArray(32, 0.8e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		return err
	}
	capture, err := synth.Synthesise(ctx, &synth.Scene{
		Setup: *setup, Array: array, Reflectors: []synth.Reflector{synth.Point{Position: r3.Vec{Z: depth}, Strength: 1e-3}},
		Views: []wedge.View{{Transmit: []material.Mode{material.L}, Receive: []material.Mode{material.L}}},
	}, synth.Recording{Pairs: fmc.HalfPairs(32), Samples: 800, SampleRate: 50e6})
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(-6e-3, 6e-3, 20e-3, 30e-3, 0.1e-3)
	if err != nil {
		return err
	}
	see := func(speed float64) (*tfm.Envelope, error) {
		assumed := *setup
		assumed.Part.Longitudinal = speed
		image, err := tfm.ImageView(ctx, capture, &assumed, "L-L", grid, nil)
		if err != nil {
			return nil, err
		}
		return image.Envelope(nil), nil
	}
	var curve picture.Line // the level over the speed
	best, highest := 0.0, float32(0)
	for speed := 5500.0; speed <= 6300; speed += 20 {
		envelope, err := see(speed)
		if err != nil {
			return err
		}
		peak, _ := envelope.Peak()
		if peak > highest {
			best, highest = speed, peak
		}
		curve.Points = append(curve.Points, r2.Vec{X: speed, Y: 20 * math.Log10(float64(peak))})
	}
	for i := range curve.Points {
		curve.Points[i].Y -= 20 * math.Log10(float64(highest))
	}
	var panels []picture.Picture
	for _, speed := range []float64{5600, steel.Longitudinal, 6200} {
		envelope, err := see(speed)
		if err != nil {
			return err
		}
		levels, err := envelope.Decibels(nil, highest, -30)
		if err != nil {
			return err
		}
		peak, pixel := envelope.Peak()
		fmt.Fprintf(w, "%.0f m/s: peak at %.1f mm, by z·c'/c %.1f mm, level %.1f dB\n", speed, grid.Point(pixel).Z*1e3,
			depth*speed/steel.Longitudinal*1e3, 20*math.Log10(float64(peak/highest)))
		panels = append(panels, &picture.Section{
			Title: fmt.Sprintf("assumed speed %.0f m/s", speed), Levels: levels, Reflectors: [][]r2.Vec{picture.Circle(0, depth, 0.4e-3)},
		})
	}
	fmt.Fprintf(w, "highest level at %.0f m/s; true speed %.0f m/s\n", best, steel.Longitudinal)
	panels = append(panels, &picture.Chart{
		Title: "level of the indication", Lines: []picture.Line{curve},
		X: picture.Axis{Label: "assumed speed / (m/s)", From: 5500, To: 6300}, Y: picture.Axis{Label: "level / dB", From: -6, To: 1},
	})
	return picture.WriteFile(out, &picture.Panels{Title: "A wrong wave speed shifts and blurs", Columns: 2, Pictures: panels})
}
