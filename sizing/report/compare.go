// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
)

// Difference is a field that differs between two records.
type Difference struct {
	Field       string // such as flaws[0].length_m
	Before, Now string // its values as JSON; "missing" if one record does not have it
}

// missing stands for the value of a field that a record does not have.
const missing = "missing"

// String returns the field and both values.
func (d Difference) String() string { return fmt.Sprintf("%s was %s, is %s", d.Field, d.Before, d.Now) }

// leaf is a value of a JSON text that holds no others: a text, a number, a word, an empty list or
// an empty object.
type leaf struct{ field, value string }

// flatten returns the leaves of a JSON text in their order. Equal numbers have equal values,
// however they are written. A field that comes twice is an error.
func flatten(text []byte) ([]leaf, error) {
	f := &flattener{decoder: json.NewDecoder(bytes.NewReader(text)), seen: map[string]bool{}}
	f.decoder.UseNumber()
	if err := f.value(""); err != nil {
		return nil, err
	}
	return f.leaves, nil
}

type flattener struct {
	decoder *json.Decoder
	leaves  []leaf
	seen    map[string]bool
}

// value reads one value.
func (f *flattener) value(field string) error {
	token, err := f.decoder.Token()
	if err != nil {
		return err
	}
	switch token {
	case json.Delim('{'):
		return f.object(field)
	case json.Delim('['):
		return f.list(field)
	}
	text, err := json.Marshal(token)
	if err != nil {
		return err
	}
	if number, ok := token.(json.Number); ok {
		v, err := number.Float64()
		if err != nil {
			return fmt.Errorf("field %s: %w", field, err)
		}
		text = []byte(digits(v))
	}
	f.leaves = append(f.leaves, leaf{field, string(text)})
	return nil
}

// object reads the rest of an object.
func (f *flattener) object(field string) error {
	count := 0
	for ; f.decoder.More(); count++ {
		token, err := f.decoder.Token()
		if err != nil {
			return err
		}
		name := token.(string) // a key is always a string
		if field != "" {
			name = field + "." + name
		}
		if f.seen[name] {
			return fmt.Errorf("field %s comes twice", name)
		}
		f.seen[name] = true
		if err := f.value(name); err != nil {
			return err
		}
	}
	return f.end(field, count, "{}")
}

// list reads the rest of a list.
func (f *flattener) list(field string) error {
	count := 0
	for ; f.decoder.More(); count++ {
		if err := f.value(field + "[" + strconv.Itoa(count) + "]"); err != nil {
			return err
		}
	}
	return f.end(field, count, "[]")
}

// end reads the end of a list or an object. One without entries is a leaf.
func (f *flattener) end(field string, count int, empty string) error {
	if count == 0 {
		f.leaves = append(f.leaves, leaf{field, empty})
	}
	_, err := f.decoder.Token()
	return err
}

// differences returns what differs, in the order of before, followed by what only now has.
func differences(before, now []leaf) (out []Difference) {
	values := make(map[string]string, len(now))
	for _, l := range now {
		values[l.field] = l.value
	}
	for _, l := range before {
		value, ok := values[l.field]
		if !ok {
			value = missing
		}
		if value != l.value {
			out = append(out, Difference{l.field, l.value, value})
		}
		delete(values, l.field)
	}
	for _, l := range now {
		if value, left := values[l.field]; left {
			out = append(out, Difference{l.field, missing, value})
		}
	}
	return out
}

// Compare returns the fields in which two records differ, in the order of the first record.
func Compare(before, now *Record) ([]Difference, error) {
	var leaves [2][]leaf
	for i, r := range []*Record{before, now} {
		text, err := json.Marshal(r)
		if err != nil {
			return nil, fmt.Errorf("report: %w", err)
		}
		if leaves[i], err = flatten(text); err != nil {
			return nil, fmt.Errorf("report: %w", err)
		}
	}
	return differences(leaves[0], leaves[1]), nil
}
