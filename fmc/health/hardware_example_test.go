// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"log"
	"os"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/adapt"
	"github.com/isochron-imaging/isochron/wedge"
)

// From the int16 buffers of an instrument to a list of flaws: the lines of HARDWARE.md, with each
// error checked. The instrument is a simulation of 16 elements in contact with a block of aluminium
// that has four side-drilled holes of 1.5 mm. Their centres lie at x = -9, -3, 3 and 9 mm and at
// z = 10, 17, 24 and 31 mm; their near faces are 0.75 mm closer to the array.
func Example_hardware() {
	ctx := context.Background()
	buffers, err := fire() // one buffer a firing
	if err != nil {
		log.Fatal(err)
	}

	// The array and the timing.
	probe := fmc.Array{Width: 0.8e-3, CentreFrequency: 3e6, Bandwidth: 0.6}
	array, err := fmc.LinearArray(16, 1e-3, probe)
	if err != nil {
		log.Fatal(err)
	}
	capture, err := fmc.New(fmc.Capture{
		Array: array, Pairs: fmc.FullPairs(16), Samples: 1000,
		SampleRate: 50e6, FirstSample: -0.832847e-6,
	})
	if err != nil {
		log.Fatal(err)
	}

	// The samples: sample k of receiver r in the buffer of transmitter t.
	samples := make([]int16, 0, 16*16*1000)
	for _, buffer := range buffers {
		samples = append(samples, buffer...)
	}
	if err := capture.SetInt16(samples); err != nil {
		log.Fatal(err)
	}

	// Is the capture fit to be imaged, and is time zero right? The block is 40 mm thick.
	report, err := health.Assess(capture, &health.Options{FullScale: 32767})
	if err != nil {
		log.Fatal(err)
	}
	for _, finding := range report.Findings {
		fmt.Println(finding)
	}
	wall, err := adapt.FindWall(capture, 11e-6, 14e-6, &adapt.WallOptions{FromPulse: true})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("time zero is off by %.1f µs\n", (wall.Interval.Value-2*40e-3/6320)*1e6)

	// The part, the picture and the list.
	aluminium := material.Isotropic{Density: 2700, Longitudinal: 6320, Transverse: 3130}
	setup, err := wedge.NewPlate(nil, aluminium, 40e-3)
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(-14e-3, 14e-3, 6e-3, 42e-3, 0.2e-3)
	if err != nil {
		log.Fatal(err)
	}
	plan, err := tfm.PlanView(ctx, capture, setup, "L-L", grid, nil)
	if err != nil {
		log.Fatal(err)
	}
	image, err := plan.Image(ctx, capture)
	if err != nil {
		log.Fatal(err)
	}
	views := []flaw.View{{Name: "L-L", Image: image}}
	flaws, err := flaw.List(ctx, capture, setup, views, &flaw.Options{Floor: -20})
	if err != nil {
		log.Fatal(err)
	}
	for _, f := range flaws {
		if f.Kind != flaw.Geometry { // the back wall
			fmt.Printf("%d: %s, x = %.1f mm, z = %.1f mm, %.1f dB\n", f.ID, f.Kind, f.X*1e3, f.Z*1e3, f.LevelDB)
		}
	}
	// Output:
	// time zero is off by 0.0 µs
	// 2: point, x = -2.9 mm, z = 16.3 mm, -3.2 dB
	// 3: point, x = 2.8 mm, z = 23.3 mm, -5.0 dB
	// 4: point, x = -8.6 mm, z = 9.4 mm, -5.5 dB
	// 5: point, x = 8.5 mm, z = 30.4 mm, -8.5 dB
}

// fire stands for the instrument. It returns a buffer for each of 16 transmitters, with the 1000
// samples of receiver 0, then of receiver 1, and so on.
func fire() ([][]int16, error) {
	file, err := os.ReadFile("../../testdata/block16.npy")
	if err != nil {
		return nil, err
	}
	data := file[bytes.IndexByte(file, '\n')+1:] // behind the header
	buffers := make([][]int16, 16)
	for t := range buffers {
		buffers[t] = make([]int16, 16*1000)
		for i := range buffers[t] {
			buffers[t][i] = int16(binary.LittleEndian.Uint16(data[2*(t*16*1000+i):]))
		}
	}
	return buffers, nil
}
