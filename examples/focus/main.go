// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Focus shows why a sum of traces focuses.
//
//	go run ./examples/focus
//
// The echo of a reflector arrives at each element at another time. Take a place in the part, and
// shift each trace by the time of an echo from this place. If a reflector lies there, the echoes
// of all traces now coincide and add up. If it lies elsewhere, they do not. Total focusing does
// this at each pixel, with the traces of all pairs.
//
// The picture: the traces of elements that hear themselves, as recorded, shifted by the times of
// the reflector, and shifted by the times of a place 3 mm beside it. Above them, in red, their
// mean. Last, the image of all pairs.
//
// The numbers: the height of the mean. It is 100 % of one trace only if all echoes coincide. An
// image of a real part holds further waves and noise. The plate and the reflector are invented.
package main

import (
	"context"
	"flag"
	"fmt"
	"image/color"
	"io"
	"log"
	"math"
	"os"
	"slices"

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
	out := flag.String("out", "focus.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	ctx := context.Background()
	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230} // kg/m³, m/s
	setup, err := wedge.NewPlate(nil, steel, 40e-3)
	if err != nil {
		return err
	}
	array, err := fmc.LinearArray(32, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		return err
	}
	reflector, beside := r3.Vec{X: 3e-3, Z: 20e-3}, r3.Vec{X: 6e-3, Z: 20e-3} // m
	capture, err := synth.Synthesise(ctx, &synth.Scene{
		Setup: *setup, Array: array, Reflectors: []synth.Reflector{synth.Point{Position: reflector, Strength: 1e-3}},
		Views: []wedge.View{{Transmit: []material.Mode{material.L}, Receive: []material.Mode{material.L}}},
	}, synth.Recording{Samples: 1600, SampleRate: 100e6})
	if err != nil {
		return err
	}
	var panels []picture.Picture
	for _, shift := range []struct {
		title string
		place *r3.Vec // nil: the same time for all elements
	}{{"as recorded, from 6.1 to 8.5 µs", nil}, {"shifted by the times of the reflector", &reflector}, {"shifted by the times of the place beside it", &beside}} {
		const half = 120 // samples before and after the time of the echo
		var traces [][]float32
		mean, one := make([]float32, 2*half), float32(0)
		for i, element := range array.Elements {
			time := 7.3e-6 // all echoes lie within 1.2 µs of it
			if shift.place != nil {
				time = 2 * r3.Norm(r3.Sub(*shift.place, element)) / steel.Longitudinal // there and back
			}
			trace, _ := capture.Between(i, i)
			middle := int(math.Round(time * capture.SampleRate))
			trace = trace[middle-half : middle+half]
			for k, v := range trace {
				mean[k] += v / float32(len(array.Elements))
			}
			traces, one = append(traces, trace), one+slices.Max(trace)/float32(len(array.Elements))
		}
		fmt.Fprintf(w, "%-44s the mean of %d traces is %3.0f %% as high as one trace\n",
			shift.title+":", len(traces), 100*slices.Max(mean)/one)
		lines := picture.Waterfall(append(traces, mean), -half/100., 0.01, 1.5)
		lines[0].Name, lines[len(traces)].Name = "trace of an element", "mean of all traces"
		lines[len(traces)].Colour, lines[len(traces)].Width = color.RGBA{R: 200, A: 255}, 2
		panels = append(panels, &picture.Chart{
			Title: shift.title, Lines: lines,
			X: picture.Axis{Label: "time / µs", From: -1.2, To: 1.2}, Y: picture.Axis{Label: "element", From: -2, To: 34},
		})
	}
	grid, err := tfm.NewSection(-5e-3, 12e-3, 13e-3, 25e-3, 0.1e-3)
	if err != nil {
		return err
	}
	image, err := tfm.ImageView(ctx, capture, setup, "L-L", grid, nil)
	if err != nil {
		return err
	}
	levels, err := image.Envelope(nil).Decibels(nil, 0, -30)
	if err != nil {
		return err
	}
	panels = append(panels, &picture.Section{
		Title: "image of all pairs", Levels: levels, Reflectors: [][]r2.Vec{picture.Circle(reflector.X, reflector.Z, 0.4e-3)},
		Lines: []picture.Line{{Points: picture.Circle(beside.X, beside.Z, 0.4e-3), Name: "place beside it"}},
	})
	return picture.WriteFile(out, &picture.Panels{Title: "In phase at the reflector, and nowhere else", Columns: 2, Pictures: panels})
}
