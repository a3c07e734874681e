// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Coherence asks of each pixel whether the samples that the image adds there agree. Where an echo
// comes from the pixel, they do. In noise and beside an echo they do not. Multiplied by this
// measure, noise and side lobes become dark.
//
//	go run ./examples/coherence
//
// The measure is the coherence factor |Σs|²/(M·Σ|s|²) of M samples s (Mallart and Fink, JASA 96,
// 1994): 1 if all are equal, on average 1/M in noise. The numbers compare it with 1/M, and say
// what the weight costs: it lowers weak echoes more than strong ones.
//
// A weight cleans a picture, but makes no flaw visible. It lowers what only some elements see: a
// smooth crack, a tip, or a flaw in a shadow. Look for flaws in both images; take levels and
// lengths from the amplitudes. The capture is a full-wave simulation of testdata; the noise is
// invented.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"math/rand/v2"
	"os"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "coherence.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

func run(w io.Writer, out string) error {
	record, err := npy.ReadFile("testdata/block16.json", nil)
	if err != nil {
		return err
	}
	noise := rand.New(rand.NewPCG(1, 2))
	for i := range record.Capture.Data {
		record.Capture.Data[i] += 6000 * float32(noise.NormFloat64())
	}
	setup, err := record.Geometry()
	if err != nil {
		return err
	}
	grid, err := tfm.NewSection(-14e-3, 14e-3, 6e-3, 36e-3, 0.1e-3)
	if err != nil {
		return err
	}
	image, err := tfm.ImageView(context.Background(), record.Capture, setup, "L-L", grid,
		&tfm.Options{Coherence: tfm.CoherenceFactor})
	if err != nil {
		return err
	}
	amplitudes := image.Envelope(nil)
	weighted, err := image.WeightedEnvelope(nil, 1) // amplitude times coherence
	if err != nil {
		return err
	}
	alone, err := image.CoherenceEnvelope(nil)
	if err != nil {
		return err
	}
	sum, pixels := 0.0, 0
	for i, c := range image.Coherence {
		if p := grid.Point(i); p.X > 5e-3 && p.Z < 20e-3 { // far from all holes
			sum, pixels = sum+float64(c), pixels+1
		}
	}
	fmt.Fprintf(w, "mean coherence in noise %.4f, expected 1/M = %.4f\n", sum/float64(pixels), 1/float64(len(record.Capture.Pairs)))
	plain, _ := amplitudes.Peak()
	clean, _ := weighted.Peak()
	for _, hole := range record.Truth.Holes {
		face := r3.Vec{X: hole.X, Z: hole.Z - hole.Diameter/2}
		a, at := amplitudes.PeakNear(face, 1.5e-3)
		b, _ := weighted.PeakNear(face, 1.5e-3)
		fmt.Fprintf(w, "hole at z = %2.0f mm: amplitude %5.1f dB, coherence %.2f, weighted %5.1f dB\n", hole.Z*1e3,
			sizing.LevelDB(float64(a), float64(plain)), image.Coherence[at], sizing.LevelDB(float64(b), float64(clean)))
	}
	sheet := &picture.Panels{Title: "Four holes in noise, view L-L", Caption: "Blue: true holes. 0 dB: the highest value of each panel."}
	for i, e := range []*tfm.Envelope{amplitudes, alone, weighted} {
		levels, err := e.Decibels(nil, 0, -40)
		if err != nil {
			return err
		}
		sheet.Pictures = append(sheet.Pictures, &picture.Section{
			Title: []string{"amplitude", "coherence factor", "amplitude × coherence factor"}[i], Levels: levels,
			Reflectors: picture.Reflectors(record.Truth),
		})
	}
	return picture.WriteFile(out, sheet)
}
