// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
)

// An entry is a row of a file of the user.
type entry struct {
	Quantity    string            `json:"quantity"`    // a label
	Computation string            `json:"computation"` // a name in computations
	Inputs      map[string]string `json:"inputs"`
	Expected    string            `json:"expected"` // number and unit
	Limit       string            `json:"limit"`    // number above 0 and unit
	Source      string            `json:"source"`
}

// readRows returns the checks of a file of rows. Names of captures in it are relative to its
// folder. The error names the row, the field, the value and what is allowed.
func readRows(name string) (group, error) {
	g := group{title: "rows of " + filepath.Base(name)}
	file, err := os.Open(name)
	if err != nil {
		return g, err
	}
	defer file.Close()
	decoder := json.NewDecoder(file)
	decoder.DisallowUnknownFields()
	var entries []entry
	err = decoder.Decode(&entries)
	if wrong := (*json.UnmarshalTypeError)(nil); errors.As(err, &wrong) && wrong.Type == reflect.TypeFor[string]() {
		return g, fmt.Errorf("%s: %s: %s: want a text in quotes", name, wrong.Field, wrong.Value)
	}
	if err != nil {
		return g, fmt.Errorf("%s: want a JSON array of rows: %w", name, err)
	}
	if _, err := decoder.Token(); err != io.EOF {
		return g, fmt.Errorf("%s: want nothing behind the array of rows", name)
	}
	if len(entries) == 0 {
		return g, fmt.Errorf("%s: want at least one row", name)
	}
	for i, e := range entries {
		c, err := e.check(filepath.Dir(name))
		if err != nil {
			return g, fmt.Errorf("%s: row %d (%q): %w", name, i+1, e.Quantity, err)
		}
		g.checks = append(g.checks, c)
	}
	return g, nil
}

// check returns the check of e.
func (e *entry) check(folder string) (c check, err error) {
	for _, required := range [][2]string{{"quantity", e.Quantity}, {"source", e.Source}} {
		if strings.TrimSpace(required[1]) == "" {
			return c, fmt.Errorf("%s: want a text", required[0])
		}
	}
	k := slices.IndexFunc(computations, func(f computation) bool { return f.name == e.Computation })
	if k < 0 {
		return c, fmt.Errorf("computation: %q: want one of: %s", e.Computation, strings.Join(computationNames(), ", "))
	}
	f := &computations[k]
	_, of, err := f.result.parse(e.Expected)
	if err != nil {
		return c, fmt.Errorf("expected: %w", err)
	}
	limit, limitUnit, err := f.result.parse(e.Limit)
	if err == nil && !(limit > 0) {
		err = fmt.Errorf("%q: want a number above 0", e.Limit)
	}
	if err != nil {
		return c, fmt.Errorf("limit: %w", err)
	}
	values, err := f.values(e.Inputs)
	if err != nil {
		return c, err
	}
	values.folder = folder
	return check{
		quantity: e.Quantity, basis: stated, source: e.Source, unit: of.name,
		expected: strings.Fields(e.Expected)[0], limit: limit * limitUnit.si / of.si,
		got: func() (float64, error) {
			v, err := f.compute(values)
			return v / of.si, err
		},
	}, nil
}

// inputs holds the inputs of a computation.
type inputs struct {
	si     map[string]float64 // in SI units
	texts  map[string]string
	folder string // of the file of rows
}

// values checks the inputs of a row, and returns them with the defaults.
func (f *computation) values(given map[string]string) (v inputs, err error) {
	v = inputs{si: map[string]float64{}, texts: map[string]string{}}
	for _, name := range slices.Sorted(maps.Keys(given)) {
		if !slices.ContainsFunc(f.inputs, func(in input) bool { return in.name == name }) {
			return v, fmt.Errorf("inputs: %q: want only: %s", name, strings.Join(f.inputNames(), ", "))
		}
	}
	for _, in := range f.inputs {
		text, ok := given[in.name]
		if !ok {
			text = in.standard
		}
		if err := in.set(&v, text); err != nil {
			return v, fmt.Errorf("inputs: %s: %w", in.name, err)
		}
	}
	return v, nil
}

// set parses the text of an input into v.
func (in *input) set(v *inputs, text string) error {
	switch {
	case strings.TrimSpace(text) == "":
		return errors.New("missing: want " + in.wants())
	case in.of != nil:
		value, of, err := in.of.parse(text)
		v.si[in.name] = value * of.si
		return err
	case in.choices != nil && !slices.Contains(in.choices, text):
		return fmt.Errorf("%q: want %s", text, in.wants())
	}
	v.texts[in.name] = text
	return nil
}
