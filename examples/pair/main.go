// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Pair shows where the echo of one transmitter and one receiver can come from.
//
//	go run ./examples/pair
//
// One element fires and another one records. An echo at the time t tells one thing: the way from
// the transmitter to the reflector and on to the receiver has the length c·t, with the wave speed
// c. All points with this length of the way lie on an ellipse. Its foci are the two elements. A
// second pair has another ellipse. The reflector lies where both ellipses cross.
//
// The picture: each pixel shows the amplitude of the trace at the time of the pixel. On the left
// one pair paints its echo along the ellipse. On the right two pairs add up where their ellipses
// cross.
//
// The numbers: the time of each echo in the trace, and the length of its way divided by c. Then
// the brightest pixel of both pairs, and the place of the reflector. Noise, beams and other waves
// are not shown. Elements are numbered from 0. The plate and the small reflector are invented.
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
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "pair.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	ctx := context.Background()
	// Three elements of 5 MHz touch a steel plate. The view L-L: longitudinal waves there and back.
	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230} // kg/m³, m/s
	setup, err := wedge.NewPlate(nil, steel, 40e-3)
	if err != nil {
		return err
	}
	elements := []r3.Vec{{X: -10e-3}, {X: 6e-3}, {X: 14e-3}} // m
	point := r3.Vec{X: 9e-3, Z: 16e-3}
	capture, err := synth.Synthesise(ctx, &synth.Scene{
		Setup:      *setup,
		Array:      fmc.Array{Elements: elements, Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6},
		Reflectors: []synth.Reflector{synth.Point{Position: point, Strength: 1e-3}},
		Views:      []wedge.View{{Transmit: []material.Mode{material.L}, Receive: []material.Mode{material.L}}},
	}, synth.Recording{Pairs: []fmc.Pair{{Tx: 0, Rx: 1}, {Tx: 1, Rx: 2}}, Samples: 1400, SampleRate: 100e6})
	if err != nil {
		return err
	}

	echoes, err := calibrate.Pick(capture, nil) // the peaks of the envelopes of the traces
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(-20e-3, 22e-3, 0, 24e-3, 0.1e-3)
	if err != nil {
		return err
	}
	ellipses, peak := []picture.Line{}, 0
	panels := &picture.Panels{Title: "The echo of one pair can come from anywhere on an ellipse"}
	for i, title := range []string{"elements 0 and 1", "elements 0 and 1, and elements 1 and 2"} {
		// The weights make both echoes equally strong, and leave the second pair out on the left.
		weights := []float32{1 / float32(echoes[0].Amplitude), float32(i) / float32(echoes[1].Amplitude)}
		image, err := tfm.ImageView(ctx, capture, setup, "L-L", grid, &tfm.Options{Weights: weights})
		if err != nil {
			return err
		}
		envelope := image.Envelope(nil)
		levels, err := envelope.Decibels(nil, 0, -20) // relative to the peak
		if err != nil {
			return err
		}
		pair := capture.Pairs[i]
		from, to := elements[pair.Tx], elements[pair.Rx]
		way := r3.Norm(r3.Sub(point, from)) + r3.Norm(r3.Sub(point, to))
		fmt.Fprintf(w, "elements %d and %d: the echo arrives at %.2f µs; the way divided by c is %.2f µs\n",
			pair.Tx, pair.Rx, echoes[i].Time*1e6, way/steel.Longitudinal*1e6)
		ellipses = append(ellipses, ellipse(from, to, way))
		panels.Pictures = append(panels.Pictures, &picture.Section{
			Title: title, Levels: levels, Lines: ellipses, Reflectors: [][]r2.Vec{picture.Circle(point.X, point.Z, 0.4e-3)},
		})
		_, peak = envelope.Peak()
	}
	fmt.Fprintf(w, "brightest pixel of both pairs: (%.1f, %.1f) mm; the reflector lies at (%.1f, %.1f) mm\n",
		grid.Point(peak).X*1e3, grid.Point(peak).Z*1e3, point.X*1e3, point.Z*1e3)
	return picture.WriteFile(out, panels)
}

// ellipse returns the points below the surface whose distances from two elements add up to way.
func ellipse(from, to r3.Vec, way float64) picture.Line {
	a, d := way/2, math.Abs(to.X-from.X)/2 // semi-axis along x, and half the distance of the foci
	line := picture.Line{Name: "ellipse", Dashed: true}
	for angle := 0.0; angle <= math.Pi; angle += math.Pi / 100 {
		sin, cos := math.Sincos(angle)
		line.Points = append(line.Points, r2.Vec{X: (from.X+to.X)/2 - a*cos, Y: math.Sqrt(a*a-d*d) * sin})
	}
	return line
}
