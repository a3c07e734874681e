// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Waves images a block by plane waves, for each of which all elements fire. A few of them take the
// place of one shot for each element: frames come faster, and each shot sends more energy.
//
//	go run ./examples/waves
//
// A plane wave has √(λr)/p times the amplitude of one element, with the wavelength λ, the distance
// r and the pitch p (stationary phase, in a section). So K waves that reach a point, received by N
// elements, have √(K/N)·√(λr)/p times the ratio of signal to noise of N·N single shots. The
// numbers compare this gain with images of a hole. No wave reaches the grey places.
//
// Beside the array and at wide angles, a full matrix sees more. The waves are made from the full
// matrix of a full-wave simulation of testdata. The noise of each trace is invented.
package main

import (
	"cmp"
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"os"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "waves.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	ctx := context.Background()
	record, err := npy.ReadFile("testdata/block16.json", nil)
	if err != nil {
		return err
	}
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(-14e-3, 14e-3, 6e-3, 36e-3, 0.1e-3)
	if err != nil {
		return err
	}
	array, speed := record.Capture.Array, record.Part.Longitudinal
	sheet := &picture.Panels{Title: "Four holes in noise, view L-L; 0 dB: the highest level of each panel"}
	once, hole := 0.0, r3.Vec{X: 2.75e-3, Z: 23.35e-3} // signal to noise of the full matrix; face of the third hole
	for _, angles := range [][]float64{nil, {0}, {-24, -18, -12, -6, 0, 6, 12, 18, 24}} {
		capture, gain, title := record.Capture, 1.0, "full matrix: 16 shots"
		if angles != nil {
			directions, reach := []r3.Vec{}, 0.0 // reach: number of waves that reach the hole
			for _, a := range angles {
				sin, cos := math.Sincos(a * math.Pi / 180)
				directions = append(directions, r3.Vec{X: sin, Z: cos})
				if math.Abs(hole.X-hole.Z*sin/cos) < 8e-3 { // the wave starts below the array
					reach++
				}
			}
			events, err := transmit.PlaneWaves(array, speed, directions)
			if err != nil {
				return err
			}
			if capture, err = transmit.Encode(ctx, capture, events, nil); err != nil {
				return err
			}
			title = fmt.Sprintf("shots of plane waves: %d", len(angles))
			gain = math.Sqrt(reach/16) * math.Sqrt(speed/array.CentreFrequency*r3.Norm(hole)) / 1e-3 // pitch 1 mm
		}
		clean, err := tfm.ImageView(ctx, capture, setup, "L-L", grid, nil)
		if err != nil {
			return err
		}
		noisy := *capture
		noisy.Data = nil
		random := rand.New(rand.NewPCG(1, 2))
		for _, v := range capture.Data {
			noisy.Data = append(noisy.Data, v+6000*float32(random.NormFloat64()))
		}
		image, err := tfm.ImageView(ctx, &noisy, setup, "L-L", grid, nil)
		if err != nil {
			return err
		}
		square, pixels := 0.0, 0.0
		for i, v := range image.Data {
			if r3.Norm(r3.Sub(grid.Point(i), hole)) < 3e-3 {
				square, pixels = square+math.Pow(cmplx.Abs(complex128(v-clean.Data[i])), 2), pixels+1
			}
		}
		echo, _ := clean.Envelope(nil).PeakNear(hole, 1e-3)
		ratio := float64(echo) / math.Sqrt(square/pixels)
		once = cmp.Or(once, ratio)
		fmt.Fprintf(w, "%-25s hole %.0f dB above the noise, gain %4.1f dB, expected %4.1f dB\n", title+",",
			sizing.LevelDB(ratio, 1), sizing.LevelDB(ratio, once), sizing.LevelDB(gain, 1))
		levels, err := image.Envelope(nil).Decibels(nil, 0, -30)
		if err != nil {
			return err
		}
		holes := picture.Reflectors(record.Truth)
		sheet.Pictures = append(sheet.Pictures, &picture.Section{Title: title, Levels: levels, Reflectors: holes})
	}
	return picture.WriteFile(out, sheet)
}
