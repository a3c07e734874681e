// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy_test

import (
	"bytes"
	"fmt"
	"log"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
)

func ExampleReadFile() {
	record, err := npy.ReadFile("../../testdata/weld32.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	c, s := record.Capture, record.Setup
	fmt.Printf("%s: %d elements at %.0f MHz\n", record.Title, len(c.Array.Elements), 1e-6*c.Array.CentreFrequency)
	fmt.Printf("%v matrix, %d traces, %.2f to %.2f µs\n", c.Layout(), len(c.Pairs), 1e6*c.Time(0), 1e6*c.Time(c.Samples-1))
	fmt.Printf("%s, then %.0f mm of %s under a %v\n", s.Coupling.Name, 1e3*s.Part.Thickness, s.Part.Name, s.Surface)
	// Output:
	// solid wedge, oblique incidence: 32 elements at 4 MHz
	// half matrix, 528 traces, -0.62 to 41.36 µs
	// cross-linked polystyrene, then 16 mm of steel under a plane
}

// The set-up of a record, as it stands in the file. The values are invented.
func ExampleWrite() {
	capture, err := fmc.New(fmc.Capture{
		Array: fmc.Array{
			Elements:        []r3.Vec{{X: -0.5e-3}, {X: 0.5e-3}},
			Width:           0.8e-3,
			CentreFrequency: 5e6,
			Bandwidth:       0.6,
		},
		Pairs:       []fmc.Pair{{Tx: 0, Rx: 1}},
		Samples:     3,
		SampleRate:  50e6,
		FirstSample: 8.02e-6,
		Data:        []float32{1, -7, 2},
	})
	if err != nil {
		log.Fatal(err)
	}
	steel := npy.Medium{Name: "steel", Density: 7850, Longitudinal: 5920, Transverse: 3240}
	record := &npy.Record{
		Title:   "two elements in contact",
		Notes:   map[string]any{"date": "2026-03-14", "gain_db": 32.5},
		Capture: capture,
		Setup:   npy.Setup{Part: npy.Part{Medium: steel, Thickness: 0.02}},
	}
	var setup, array bytes.Buffer
	if err := npy.Write(&setup, &array, "two.npy", record, npy.Int16); err != nil {
		log.Fatal(err)
	}
	fmt.Println(setup.String())
	fmt.Println(array.Len(), "bytes of header and samples")
	// Output:
	// {
	//  "title": "two elements in contact",
	//  "notes": {
	//   "date": "2026-03-14",
	//   "gain_db": 32.5
	//  },
	//  "capture": {
	//   "file": "two.npy",
	//   "order": "pair, sample",
	//   "sample_rate_hz": 50000000,
	//   "first_sample_s": 0.00000802,
	//   "pairs": [
	//    [0, 1]
	//   ]
	//  },
	//  "array": {
	//   "centre_frequency_hz": 5000000,
	//   "bandwidth_6db": 0.6,
	//   "element_width_m": 0.0008,
	//   "element_centres_m": [
	//    [-0.0005, 0],
	//    [0.0005, 0]
	//   ]
	//  },
	//  "coupling": null,
	//  "surface": {
	//   "shape": "plane"
	//  },
	//  "part": {
	//   "name": "steel",
	//   "density_kg_m3": 7850,
	//   "longitudinal_m_s": 5920,
	//   "transverse_m_s": 3240,
	//   "thickness_m": 0.02
	//  },
	//  "truth": {
	//   "holes": [],
	//   "slits": []
	//  }
	// }
	//
	// 134 bytes of header and samples
}
