// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stream_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/stream"
	"github.com/isochron-imaging/isochron/wedge"
)

// Frames of an instrument are imaged while they come, in two views. The instrument is a simulation:
// a point in a steel block, 12 mm deep, which the array passes in steps of 1 mm. Frame 1 arrives
// short. The scenario is invented.
func ExampleStream_Images() {
	ctx := context.Background()
	array, err := fmc.LinearArray(16, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		log.Fatal(err)
	}
	capture, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(16), Samples: 700, SampleRate: 50e6})
	if err != nil {
		log.Fatal(err)
	}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	block, err := wedge.NewPlate(nil, steel, 20e-3)
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(-6e-3, 6e-3, 8e-3, 16e-3, 0.2e-3)
	if err != nil {
		log.Fatal(err)
	}
	var plans []*tfm.Plan
	for _, view := range []string{"L-L", "LL-L"} {
		plan, err := tfm.PlanView(ctx, capture, block, view, grid, nil)
		if err != nil {
			log.Fatal(err)
		}
		plans = append(plans, plan)
	}
	s, err := stream.New(plans, nil)
	if err != nil {
		log.Fatal(err)
	}

	next := 0
	instrument := func(ctx context.Context, f *stream.Frame) error {
		if next == 4 {
			return io.EOF
		}
		f.Index, f.Position = next, float64(next)*1e-3
		point := r3.Vec{X: 2e-3 - f.Position, Z: 12e-3}
		for _, pair := range capture.Pairs {
			path := r3.Norm(r3.Sub(point, array.Elements[pair.Tx])) + r3.Norm(r3.Sub(point, array.Elements[pair.Rx]))
			for k := range capture.Samples {
				t := (capture.Time(k) - path/steel.Longitudinal) * array.CentreFrequency
				f.Int16 = append(f.Int16, int16(8000*math.Exp(-2*t*t)*math.Cos(2*math.Pi*t)))
			}
		}
		if next == 1 {
			f.Int16 = f.Int16[:len(f.Int16)-1]
		}
		next++
		return ctx.Err()
	}
	for r, err := range s.Images(ctx, instrument) {
		if bad := new(stream.FrameError); errors.As(err, &bad) {
			fmt.Println("skipped:", bad)
			continue
		} else if err != nil {
			log.Fatal(err)
		}
		_, index := r.Images[0].Envelope(nil).Peak()
		peak := grid.Point(index)
		fmt.Printf("frame %d at %.0f mm: peak at x = %.1f mm, z = %.1f mm\n", r.Index, r.Position*1e3, peak.X*1e3, peak.Z*1e3)
	}
	fmt.Println(s.Latency().Frames, "frames with images")
	// Output:
	// frame 0 at 0 mm: peak at x = 2.0 mm, z = 12.0 mm
	// skipped: stream: frame 1: tfm: frame of 179199 samples: want 179200 (256 pairs of 700)
	// frame 2 at 2 mm: peak at x = 0.0 mm, z = 12.0 mm
	// frame 3 at 3 mm: peak at x = -1.0 mm, z = 12.0 mm
	// 3 frames with images
}
