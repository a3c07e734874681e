// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"encoding/json"

	"github.com/isochron-imaging/isochron/fmc/scan"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/flaw"
)

// Schema and Version name the format of a [Record]. SCHEMA.md, in the folder of this package,
// describes each field. A change of a field is a new version.
const (
	Schema  = "isochron flaw record"
	Version = 1
)

// Record is the flaw list of a capture, with everything that is needed to measure it again.
// [Measure] makes it, [Record.WriteJSON] writes it and [Read] reads it.
type Record struct {
	Schema      string      `json:"schema"`  // the constant Schema
	Version     int         `json:"version"` // the constant Version
	Environment Environment `json:"environment"`
	Capture     Capture     `json:"capture"`
	// Setup is the set-up as package fmc/npy writes it, with the name of the capture as its file.
	Setup       json.RawMessage `json:"setup"`
	Calibration []Calibration   `json:"calibration"`
	Settings    Settings        `json:"settings"`
	Views       []View          `json:"views"`
	Flaws       []flaw.Flaw     `json:"flaws"` // strongest first
	// Scan is the check of the scan that the capture is a frame of, nil without one.
	Scan *scan.Report `json:"scan,omitempty"`
	// ScanFlaws is the flaw list of the whole scan, which the caller adds. Its numbers are not the
	// numbers of Flaws.
	ScanFlaws []ScanFlaw `json:"scan_flaws,omitempty"`
	// Files are the pictures and the A-scans that belong to the record.
	Files []File `json:"files"`
}

// Environment is what determines the bits of a result besides capture and settings. Two runs in
// equal environments give equal bits.
type Environment struct {
	Module  string `json:"module"`
	Release string `json:"release"` // of the module; "devel" if the program does not know it
	Go      string `json:"go"`      // of the toolchain, such as go1.26.1
	GOARCH  string `json:"goarch"`
	// Vector names the instructions that condition samples: "AVX512", "AVX2", "NEON" or "plain".
	// View.Kernel names the instructions that sum an image.
	Vector string `json:"vector"`
}

// Capture identifies a capture.
type Capture struct {
	Name string `json:"name"`
	// Samples is the SHA-256 of all samples as little-endian float32, in the order of the pairs. It
	// does not depend on the type of the samples in a file.
	Samples string `json:"samples_sha256"`
	// Setup is the SHA-256 of Record.Setup without white space.
	Setup string `json:"setup_sha256"`
}

// Calibration is a quantity of the set-up that was measured, with the way in which it was measured.
// Its Value stands in the set-up too, where the set-up has a field for it.
type Calibration struct {
	Quantity    string  `json:"quantity"` // such as "T speed of the part"
	Unit        string  `json:"unit"`     // SI, such as m/s
	Value       float64 `json:"value"`
	Uncertainty float64 `json:"standard_uncertainty"` // in the unit, at least 0
	Method      string  `json:"method"`               // such as "back wall of the step wedge, 4 steps"
}

// View is what one view shows.
type View struct {
	Name   string     `json:"view"`
	Kernel string     `json:"kernel"`  // name of the kernel that summed the image
	Band   [2]float64 `json:"band_hz"` // pass band of the image
	// Blank says that no echo reaches the view. Then nothing follows.
	Blank bool `json:"blank"`
	// Image is the SHA-256 of the amplitudes of the envelope as little-endian float32.
	Image string `json:"image_sha256"`
	// Reference is the amplitude of 0 dB in the unit of the image, and What names it.
	Reference float64 `json:"reference_amplitude"`
	What      string  `json:"reference_is"`
	// Noise is the level of the noise of the image, in its unit, and 0 if it has no estimate.
	Noise       float64        `json:"noise_amplitude"`
	Indications []Indication   `json:"indications"` // in the order of their numbers
	States      map[string]int `json:"states"`      // number of pixels in each state
}

// Indication is an indication of a view. The numbers of a view run from 1: first the indications
// that are no echoes of walls, then the walls, each strongest first.
type Indication struct {
	sizing.Indication
	StateNames []string `json:"states"` // of the pixels of its area
	// Wall is the name of the wall of which it is the echo, and empty for other indications.
	Wall string `json:"wall"`
}

// ScanFlaw is an entry of the flaw list of a whole scan, such as from package sizing/volume.
type ScanFlaw struct {
	ID      int        `json:"id"`       // from 1, in the order of the list
	Frame   int        `json:"frame"`    // index of the frame that shows it best
	X       float64    `json:"x_m"`      // of the peak, m
	Z       float64    `json:"z_m"`      // of the peak, m
	LevelDB float64    `json:"level_db"` // relative to the reference of the scan
	Views   []string   `json:"views"`    // that show it
	Along   flaw.Along `json:"along"`
	// Explained is the echo that explains it, and empty without one.
	Explained string `json:"explained_by"`
}

// File is a picture or an A-scan beside the record.
type File struct {
	// Name ends in .png for a picture, and in .json for an A-scan ([ascan.Trace]). It has no
	// folder.
	Name    string `json:"name"`
	Caption string `json:"caption"`
	// Alternative says in words what a reader who does not see the picture misses.
	Alternative string `json:"alternative"`
	SHA256      string `json:"sha256"`
}
