// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity_test

import (
	"context"
	"fmt"
	"log"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/scan"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/sensitivity"
	"github.com/isochron-imaging/isochron/wedge"
)

// The coverage of a scan of 40 frames, of which frames 10 to 13 are lost, in the middle of a plate.
func ExampleSurvey() {
	ctx := context.Background()
	file, err := npy.OpenScan("../../testdata/scan/weld16.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	defer file.Close()
	setup, err := file.Record().Geometry()
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(28e-3, 40e-3, 4e-3, 12e-3, 5e-4)
	if err != nil {
		log.Fatal(err)
	}
	hole := sensitivity.Hole{Diameter: 1.5e-3}
	coarse := &sensitivity.Options{Spacing: 2e-3, Length: 10e-3} // of an example; nil is finer
	m, err := sensitivity.New(ctx, file.Record().Capture, setup, "T-T", grid, hole, coarse)
	if err != nil {
		log.Fatal(err)
	}
	const step = 2.25e-3
	along := scan.Axis{Step: step, Steps: 40}
	survey, err := sensitivity.NewSurvey(scan.Axis{From: 28e-3, Step: 1e-3, Steps: 13}, along, scan.Axis{From: 4e-3, Step: 1e-3, Steps: 9})
	if err != nil {
		log.Fatal(err)
	}
	path := scan.Line{}
	for i, f := range file.Frames() {
		if i >= 10 && i < 14 {
			continue
		}
		pose, err := path.Pose(f.Position, 0)
		if err != nil {
			log.Fatal(err)
		}
		if err := survey.Add(pose, step/2, 0, m); err != nil {
			log.Fatal(err)
		}
	}
	best, _ := m.Peak()
	area := []wedge.Outline{{{X: 30e-3, Y: 6e-3}, {X: 38e-3, Y: 6e-3}, {X: 38e-3, Y: 11e-3}, {X: 30e-3, Y: 11e-3}, {X: 30e-3, Y: 6e-3}}}
	share, err := survey.Coverage(area, float64(best), -18)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.0f %% of the area within 18 dB of the best place\n", 100*share)
	// Output:
	// 90 % of the area within 18 dB of the best place
}
