// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity_test

import (
	"context"
	"fmt"
	"log"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/sensitivity"
	"github.com/isochron-imaging/isochron/wedge"
)

// Four equal holes of a block, with the levels that an image shows, and with corrected levels. The
// capture is a full-wave simulation in two dimensions.
func Example() {
	ctx := context.Background()
	record, err := npy.ReadFile("../../testdata/block16.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	setup, err := record.Geometry()
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(-11e-3, 11e-3, 8e-3, 33e-3, 2e-4)
	if err != nil {
		log.Fatal(err)
	}
	plan, err := tfm.PlanView(ctx, record.Capture, setup, "L-L", grid, nil)
	if err != nil {
		log.Fatal(err)
	}
	hole := sensitivity.Hole{Diameter: 1.5e-3}
	m, err := sensitivity.New(ctx, record.Capture, setup, "L-L", grid, hole, &sensitivity.Options{Dimension: wedge.Section})
	if err != nil {
		log.Fatal(err)
	}
	best, _ := m.Peak()
	gain, err := m.Gain(float64(best), 20)
	if err != nil {
		log.Fatal(err)
	}
	image, err := plan.Image(ctx, record.Capture)
	if err != nil {
		log.Fatal(err)
	}
	shown := image.Envelope(nil)
	if err := gain.Correct(image); err != nil {
		log.Fatal(err)
	}
	corrected := image.Envelope(nil)
	for i, h := range record.Truth.Holes {
		fmt.Printf("hole %d: %5.1f dB, corrected %4.1f dB\n", i+1, level(shown, h), level(corrected, h))
	}
	// Output:
	// hole 1:  -2.2 dB, corrected -0.5 dB
	// hole 2:   0.0 dB, corrected -0.5 dB
	// hole 3:  -1.7 dB, corrected  0.0 dB
	// hole 4:  -5.2 dB, corrected -0.6 dB
}

// level returns the level of a hole in dB relative to the strongest hole.
func level(e *tfm.Envelope, h npy.Hole) float64 {
	strongest, _ := e.Peak()
	highest := float32(0)
	for i, v := range e.Data {
		if r3.Norm(r3.Sub(e.Point(i), r3.Vec{X: h.X, Z: h.Z})) < h.Diameter {
			highest = max(highest, v)
		}
	}
	return 20 * math.Log10(float64(highest/strongest))
}
