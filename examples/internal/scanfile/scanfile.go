// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package scanfile stores computed scans, with the true flaws of the part beside them.
package scanfile

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"strings"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/synth"
)

// Record returns the record of a scan of a part on or without a wedge of polystyrene. In the section
// of a frame a pipe is a plate. Its thickness is the thickness at the start of the scan.
func Record(part *synth.Part, scan *synth.Scan, title string) (*npy.Record, error) {
	thickness, err := part.Wall(0, 0)
	if err != nil {
		return nil, err
	}
	setup := part.Scene.Setup
	record := &npy.Record{
		Title: title, Capture: scan.Capture(),
		Part: npy.Material{
			Name: "steel", Density: setup.Part.Density, Longitudinal: setup.Part.Longitudinal, Transverse: setup.Part.Transverse,
		},
		Thickness: thickness,
	}
	if c := setup.Coupling; c != nil {
		record.Coupling = &npy.Material{
			Name: "polystyrene", Density: c.Density, Longitudinal: c.Longitudinal, Transverse: c.Transverse,
		}
	}
	return record, nil
}

// Write writes the frames of a source as int16.
func Write(ctx context.Context, name string, record *npy.Record, source fmc.FrameSource) error {
	writer, err := npy.CreateScan(name, record, npy.Int16)
	if err != nil {
		return err
	}
	defer writer.Discard()
	for frame, err := range fmc.Frames(ctx, source) {
		if err != nil {
			return err
		}
		if err := writer.Append(frame); err != nil {
			return err
		}
	}
	return writer.Close()
}

// Truth is the true flaws of a part.
type Truth struct {
	Title   string         `json:"title"`
	Planar  []synth.Planar `json:"planar,omitempty"`
	Pores   []synth.Pores  `json:"pores,omitempty"`
	Pits    []synth.Pit    `json:"pits,omitempty"`
	Patches []synth.Patch  `json:"patches_of_poor_coupling"`
}

// NewTruth returns the true flaws of a part, and the faults of the coupling.
func NewTruth(title string, part *synth.Part, patches []synth.Patch) *Truth {
	t := &Truth{Title: title, Patches: patches}
	for _, flaw := range part.Flaws {
		switch f := flaw.(type) {
		case synth.Planar:
			t.Planar = append(t.Planar, f)
		case synth.Pores:
			t.Pores = append(t.Pores, f)
		case synth.Pit:
			t.Pits = append(t.Pits, f)
		}
	}
	return t
}

// beside returns the name of the truth of a scan.
func beside(scan string) string { return strings.TrimSuffix(scan, ".json") + ".truth.json" }

// Write writes the truth beside the scan of a name.
func (t *Truth) Write(scan string) error {
	text, err := json.MarshalIndent(t, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(beside(scan), append(text, '\n'), 0o666)
}

// ReadTruth reads the truth beside the scan of a name. Without such a file it returns no flaws.
func ReadTruth(scan string) (*Truth, error) {
	t := new(Truth)
	text, err := os.ReadFile(beside(scan))
	if errors.Is(err, fs.ErrNotExist) {
		return t, nil
	}
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(text, t); err != nil {
		return nil, fmt.Errorf("%s: %w", beside(scan), err)
	}
	return t, nil
}
