// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
)

// Truth holds the true flaws of a part, to be kept in a file beside the scan of the part. Lengths
// are in metres.
type Truth struct {
	Title   string    `json:"title"`
	Planar  []Planar  `json:"planar,omitempty"`
	Drilled []Drilled `json:"drilled,omitempty"`
	Pores   []Pores   `json:"pores,omitempty"`
	Pits    []Pit     `json:"pits,omitempty"`
	Patches []Patch   `json:"patches_of_poor_coupling"`
}

// NewTruth returns the flaws of a part, and the patches of poor coupling of a pass. A flaw of a
// type that does not belong to this package is an error.
func NewTruth(title string, part *Part, patches []Patch) (*Truth, error) {
	t := &Truth{Title: title, Patches: patches}
	for i, flaw := range part.Flaws {
		switch f := flaw.(type) {
		case Planar:
			t.Planar = append(t.Planar, f)
		case Drilled:
			t.Drilled = append(t.Drilled, f)
		case Pores:
			t.Pores = append(t.Pores, f)
		case Pit:
			t.Pits = append(t.Pits, f)
		default:
			return nil, fmt.Errorf("synth: Flaws[%d] of type %T: want a flaw of this package", i, flaw)
		}
	}
	return t, nil
}

// WriteFile writes t as JSON.
func (t *Truth) WriteFile(name string) error {
	text, err := json.MarshalIndent(t, "", "  ")
	if err != nil {
		return fmt.Errorf("synth: %s: %w", name, err)
	}
	return os.WriteFile(name, append(text, '\n'), 0o666)
}

// ReadTruth reads a file that [Truth.WriteFile] wrote. An unknown field is an error.
func ReadTruth(name string) (*Truth, error) {
	text, err := os.ReadFile(name)
	if err != nil {
		return nil, err
	}
	t := new(Truth)
	decoder := json.NewDecoder(bytes.NewReader(text))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(t); err != nil {
		return nil, fmt.Errorf("synth: %s: %w", name, err)
	}
	return t, nil
}
