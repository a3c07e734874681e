// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy_test

import (
	"context"
	"fmt"
	"log"
	"os"
	"path/filepath"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
)

// A scan of three frames, 1 mm apart, written as they come and read again. Every frame is the same
// capture here, where an instrument would deliver others.
func ExampleScanWriter() {
	folder, err := os.MkdirTemp("", "scan")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(folder)
	record, err := npy.ReadFile("../../testdata/notch32.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	name := filepath.Join(folder, "scan.json")
	w, err := npy.CreateScan(name, record, npy.Int16)
	if err != nil {
		log.Fatal(err)
	}
	defer w.Discard()
	for i := range 3 {
		frame := fmc.Frame{Index: i, Time: 0.05 * float64(i), Position: 1e-3 * float64(i), Capture: record.Capture}
		if err := w.Append(frame); err != nil {
			log.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		log.Fatal(err)
	}

	scan, err := npy.OpenScan(name, nil)
	if err != nil {
		log.Fatal(err)
	}
	defer scan.Close()
	for frame, err := range fmc.Frames(context.Background(), scan.Next) {
		if err != nil {
			log.Fatal(err)
		}
		fmt.Printf("frame %d at %.0f mm: %d traces\n", frame.Index, 1e3*frame.Position, len(frame.Capture.Pairs))
	}
	// Output:
	// frame 0 at 0 mm: 528 traces
	// frame 1 at 1 mm: 528 traces
	// frame 2 at 2 mm: 528 traces
}
