// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
)

// maxLength is the greatest length of a record in bytes.
const maxLength = 64 << 20

var (
	// ErrSchema: the text is no record, or a record of another version.
	ErrSchema = errors.New("no flaw record of this version")
	// ErrField: a field is missing, unknown, repeated or out of range.
	ErrField = errors.New("bad field of a flaw record")
)

// Read reads a record that [Record.WriteJSON] wrote: exactly the fields of SCHEMA.md, each once, in
// their ranges. Another version is an error that wraps [ErrSchema] and names the version. Any other
// fault is an error that wraps [ErrField] and names the field, or an error of the JSON form. A
// record has at most 64 MiB.
func Read(reader io.Reader) (*Record, error) {
	text, err := io.ReadAll(io.LimitReader(reader, maxLength+1))
	if err != nil {
		return nil, fmt.Errorf("report: %w", err)
	}
	if len(text) > maxLength {
		return nil, fmt.Errorf("report: record of more than %d bytes: %w", maxLength, ErrSchema)
	}
	var head struct {
		Schema  string
		Version int
	}
	if err := json.Unmarshal(text, &head); err != nil {
		return nil, fmt.Errorf("report: %w: %w", ErrSchema, err)
	}
	if head.Schema != Schema || head.Version != Version {
		return nil, fmt.Errorf("report: schema %q, version %d: %w: want %q, version %d",
			head.Schema, head.Version, ErrSchema, Schema, Version)
	}
	r := new(Record)
	d := json.NewDecoder(bytes.NewReader(text))
	d.DisallowUnknownFields()
	if err := d.Decode(r); err != nil {
		return nil, fmt.Errorf("report: %w: %w", ErrField, err)
	}
	var setup bytes.Buffer
	if err := json.Compact(&setup, r.Setup); err != nil {
		return nil, fmt.Errorf("report: set-up: %w: %w", ErrField, err)
	}
	r.Setup = setup.Bytes()
	if err := r.check(); err != nil {
		return nil, err
	}
	return r, checkFields(text, r)
}

// checkFields returns an error if the text does not hold exactly the values of r: if a field is
// missing, comes twice, or has a name in other letters.
func checkFields(text []byte, r *Record) error {
	again, err := json.Marshal(r)
	if err != nil {
		return fmt.Errorf("report: %w: %w", ErrField, err)
	}
	found, err := flatten(text)
	if err != nil {
		return fmt.Errorf("report: %w: %w", ErrField, err)
	}
	want, err := flatten(again)
	if err != nil {
		return fmt.Errorf("report: %w: %w", ErrField, err)
	}
	for _, d := range differences(want, found) {
		return fmt.Errorf("report: field %s is %s, read as %s: %w", d.Field, d.Now, d.Before, ErrField)
	}
	return nil
}
