// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log"
	"os"
	"path/filepath"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
)

func ExampleReadFile() {
	record, err := npy.ReadFile("../../testdata/weld32.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	c := record.Capture
	fmt.Printf("%s: %d elements at %.0f MHz\n",
		record.Title, len(c.Array.Elements), 1e-6*c.Array.CentreFrequency)
	fmt.Printf("%v matrix, %d traces, %.2f to %.2f µs\n",
		c.Layout(), len(c.Pairs), 1e6*c.Time(0), 1e6*c.Time(c.Samples-1))
	fmt.Printf("%s, then %.0f mm of %s under a %v\n",
		record.Coupling.Name, 1e3*record.Thickness, record.Part.Name, record.Surface)
	// Output:
	// solid wedge, oblique incidence: 32 elements at 4 MHz
	// half matrix, 528 traces, -0.62 to 41.36 µs
	// cross-linked polystyrene, then 16 mm of steel under a plane
}

// twoElements returns the record of two elements in contact with a plate. The values are invented.
func twoElements() *npy.Record {
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
	return &npy.Record{
		Title:     "two elements in contact",
		Capture:   capture,
		Part:      npy.Material{Name: "steel", Density: 7850, Longitudinal: 5920, Transverse: 3240},
		Thickness: 0.02,
	}
}

// The .json file of a record. The values are invented.
func ExampleWrite() {
	var setup, array bytes.Buffer
	if err := npy.Write(&setup, &array, "two.npy", twoElements(), npy.Int16); err != nil {
		log.Fatal(err)
	}
	fmt.Println(setup.String())
	fmt.Println(array.Len(), "bytes of header and samples")
	// Output:
	// {
	//  "title": "two elements in contact",
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

// Notes keep what the set-up has no field for. A note is a string or a float64.
func ExampleRecord_notes() {
	record := twoElements()
	record.Notes = map[string]any{
		"date":          "2026-03-14",
		"gain_db":       32.5,
		"serial number": "0012345678901234567", // more digits than a float64 keeps
	}
	var setup, array bytes.Buffer
	if err := npy.Write(&setup, &array, "two.npy", record, npy.Int16); err != nil {
		log.Fatal(err)
	}
	stored, err := npy.Read(&setup, &array, nil)
	if err != nil {
		log.Fatal(err)
	}
	if gain, ok := stored.Notes["gain_db"].(float64); ok {
		fmt.Printf("%v: gain %.1f dB\n", stored.Notes["date"], gain)
	}

	record.Notes["shots"] = 12 // an int
	fmt.Println(record.Validate())
	// Output:
	// 2026-03-14: gain 32.5 dB
	// npy: bad set-up: notes["shots"] of type int: want a text (string) or a number (float64)
}

// A record whose thickness was given in millimetres. It is written, so that the capture is not
// lost, but it is read only if the program allows implausible values. The program can then correct
// the value.
func ExampleReadOptions_allowImplausible() {
	folder, err := os.MkdirTemp("", "implausible")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(folder)
	name := filepath.Join(folder, "two.json")
	record := twoElements()
	record.Thickness = 20
	if err := npy.WriteFile(name, record, npy.Int16); err != nil {
		log.Fatal(err)
	}

	_, err = npy.ReadFile(name, nil)
	fmt.Println("refused:", errors.Is(err, npy.ErrImplausible))

	record, err = npy.ReadFile(name, &npy.ReadOptions{AllowImplausible: true})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(record.Validate())
	record.Thickness = 20e-3
	fmt.Println("corrected:", record.Validate())
	// Output:
	// refused: true
	// npy: implausible set-up: part.thickness_m 20 m: want 0.0001 to 5 m (0.1 mm to 5 m); mm given for m?
	// corrected: <nil>
}

// A scan of three frames, 1 mm apart, is written frame by frame. Then it is read frame by frame,
// and one frame is read by its position. Here every frame is the same capture; an instrument would
// deliver others.
func ExampleCreateScan() {
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
	defer w.Discard() // does nothing after Close
	for i := range 3 {
		err := w.Append(fmc.Frame{
			Index: i, Time: 0.05 * float64(i), Position: 1e-3 * float64(i), Capture: record.Capture,
		})
		if err != nil {
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
		fmt.Printf("frame %d at %.0f mm: %d traces\n",
			frame.Index, 1e3*frame.Position, len(frame.Capture.Pairs))
	}

	// Frames lists the positions without reading samples.
	for i, frame := range scan.Frames() {
		if frame.Position < 0.9e-3 {
			continue
		}
		if frame, err = scan.Frame(i); err != nil {
			log.Fatal(err)
		}
		fmt.Printf("read by its position: frame %d, %d samples\n",
			frame.Index, len(frame.Capture.Data))
		break
	}
	// Output:
	// frame 0 at 0 mm: 528 traces
	// frame 1 at 1 mm: 528 traces
	// frame 2 at 2 mm: 528 traces
	// read by its position: frame 1, 396000 samples
}
