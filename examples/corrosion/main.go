// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Corrosion maps the thickness of a corroded wall, from the echo of the back wall in a scan.
//
//	go run ./examples/corrosion
//
// The numbers are the readings in the middle of pits, with uncertainties of 95 %, beside the
// truth, and how many cells beside the pits are right. In the picture, circles are the true pits.
// Three frames were lost: a place that was not read is no sound place.
//
// At the rims of pits readings are worse. Pits narrower than the beam may not be seen. The
// reader's speed is wrong by 10 m/s, within its uncertainty. The plate is invented, and computed
// from the ray model. Qualified personnel and the applicable code decide on fitness for service.
package main

import (
	"cmp"
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"math"
	"os"
	"slices"

	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing/thickness"
	"github.com/isochron-imaging/isochron/tfm/ascan"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

func main() {
	log.SetFlags(0)
	out := flag.String("out", "corrosion.png", "the picture `FILE`")
	flag.Parse()
	if err := run(os.Stdout, *out); err != nil {
		log.Fatal(err)
	}
}

const step, pitch = 1.5e-3, 0.6e-3 // m, along the scan and along the array
var pits = []synth.Pit{            // with flat bottoms
	{X: -1e-3, S: 12e-3, Diameter: 7e-3, Depth: 2e-3}, {X: 1.5e-3, S: 30e-3, Diameter: 5e-3, Depth: 4.5e-3},
	{X: 0, S: 46e-3, Diameter: 3e-3, Depth: 3e-3}}

func run(w io.Writer, out string) error {
	ctx := context.Background()
	plate, recording, err := synth.CorrodedPlate(24, 60e-3, 1) // 12 mm at s = 0, 11 mm at s = 60 mm
	if err != nil {
		return err
	}
	plate.Flaws = []synth.Flaw{pits[0], pits[1], pits[2]}
	pass := synth.Pass{Positions: synth.Steps(0, step, 38), FullScale: 100, Noise: 0.002, Bits: 14}
	scan, err := synth.NewScan(ctx, plate, pass, recording)
	if err != nil {
		return err
	}
	capture, told := scan.Capture(), plate.Scene.Setup
	told.Part.Longitudinal += 10
	like := ascan.Beam{Mode: material.L, Transmit: ascan.Focus{Dynamic: true}, Receive: ascan.Focus{Dynamic: true}}
	beams, err := ascan.Linear(like, 24, 8, 1)
	if err != nil {
		return err
	}
	plan, err := ascan.NewPlan(ctx, capture, &told, beams, nil)
	if err != nil {
		return err
	}
	wall, err := thickness.NewMap(pass.Positions, synth.Steps(-8*pitch, pitch, len(beams)))
	if err != nil {
		return err
	}
	reader := &thickness.Reader{Least: 3e-3, Most: 14e-3, Threshold: -18,
		Errors: thickness.Errors{Speed: 15, Delay: 3e-9, Method: 0.005e-3}} // standard uncertainties
	for row := range wall.S {
		if row >= 12 && row < 15 {
			continue // lost
		}
		if _, err := scan.Frame(ctx, row, capture); err != nil {
			return err
		}
		traces, err := plan.Traces(ctx, capture)
		if err != nil {
			return err
		}
		reader.Reference = cmp.Or(reader.Reference, slices.Max(traces[0].Envelope(nil))) // a sound part of the wall
		if err := wall.Read(reader, row, 0, traces); err != nil {
			return err
		}
	}
	m, err := picture.ThicknessMap(wall)
	if err != nil {
		return err
	}
	m.Title, m.Stretch = "Corroded plate of 12 to 11 mm: what is left of the wall", true
	for _, pit := range pits {
		m.Reflectors = append(m.Reflectors, picture.Circle(pit.S, pit.X, pit.Diameter/2))
		row, column := int(math.Round(pit.S/step)), int(math.Round((pit.X-wall.X[0])/pitch))
		r, left := wall.Readings[row*len(wall.X)+column], 12e-3-pit.S/60-pit.Depth
		fmt.Fprintf(w, "middle of a pit of %.0f mm: %5.2f ± %.2f mm left, true %5.2f mm\n", pit.Diameter*1e3,
			r.Thickness*1e3, 1.96e3*r.Uncertainty, left*1e3)
	}
	held, cells := 0, 0
	for i, r := range wall.Readings {
		s, x := wall.S[i/len(wall.X)], wall.X[i%len(wall.X)]
		rim := func(p synth.Pit) bool { return math.Hypot(s-p.S, x-p.X) < p.Diameter/2+4e-3 }
		if left, err := plate.Remaining(x, s); err == nil && r.State.Counts() && !slices.ContainsFunc(pits, rim) {
			cells++
			if math.Abs(r.Thickness-left) <= 1.96*r.Uncertainty {
				held++
			}
		}
	}
	fmt.Fprintf(w, "%d cells beside the pits, %d of them right within the uncertainty\n", cells, held)
	return picture.WriteFile(out, m)
}
