// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"fmt"
	"maps"
	"slices"
)

// Notes hold what the set-up has no field for: the date, the operator, the gain of
// the instrument, serial numbers. This package stores the notes and does not use
// them. The value of a note is a string or a finite float64, and no other type:
//
//	record.Notes = npy.Notes{"date": "2026-03-14", "gain_db": 32.5}
//
// [Record.Validate] tells which names and texts are allowed. A name has 1 to 255
// bytes. Store a number of more than 15 digits, such as a serial number, as a text.
type Notes map[string]any

// MaxNotes is the greatest number of notes of a record.
const MaxNotes = 100

// validate checks the notes in the order of their names.
func (n Notes) validate() error {
	if len(n) > MaxNotes {
		return setupError("notes", fmt.Sprintf("of %d notes", len(n)), fmt.Sprintf("%d at most", MaxNotes))
	}
	for _, name := range slices.Sorted(maps.Keys(n)) {
		if name == "" {
			return setupError("notes", "with an empty name", "a name for every note")
		}
		if err := validateText("name of a note", name, maxName); err != nil {
			return err
		}
		path := fmt.Sprintf("notes[%s]", quoted(name))
		switch value := n[name].(type) {
		case string:
			if err := validateText(path, value, MaxText); err != nil {
				return err
			}
		case float64:
			if !finite(value) {
				return setupError(path, value, "a finite number")
			}
		default:
			return setupError(path, fmt.Sprintf("of type %T", value), "a text (string) or a number (float64)")
		}
	}
	return nil
}
