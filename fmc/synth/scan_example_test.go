// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth_test

import (
	"context"
	"fmt"
	"log"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
)

// Scan an invented butt weld with an array of eight elements, and compare the true flaws with the
// position of each frame.
func ExampleNewScan() {
	ctx := context.Background()
	part, recording, err := synth.ButtWeld(8, 60e-3, 1)
	if err != nil {
		log.Fatal(err)
	}
	pass := synth.Pass{Positions: synth.Steps(5e-3, 10e-3, 5), Noise: 0.002, Bits: 14, Seed: 1}
	scan, err := synth.NewScan(ctx, part, pass, recording)
	if err != nil {
		log.Fatal(err)
	}
	for frame, err := range fmc.Frames(ctx, scan.Source(0, scan.Len())) {
		if err != nil {
			log.Fatal(err)
		}
		flaws := 0
		for _, flaw := range part.Flaws {
			if from, to := flaw.Span(); from <= frame.Position && frame.Position <= to {
				flaws++
			}
		}
		fmt.Printf("%2.0f mm: %d traces, %d flaws under the array\n", frame.Position*1e3, len(frame.Capture.Pairs), flaws)
	}
	// Output:
	//  5 mm: 36 traces, 0 flaws under the array
	// 15 mm: 36 traces, 1 flaws under the array
	// 25 mm: 36 traces, 0 flaws under the array
	// 35 mm: 36 traces, 0 flaws under the array
	// 45 mm: 36 traces, 0 flaws under the array
}
