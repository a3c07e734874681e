// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"reflect"
	"strings"
	"unicode/utf8"
)

// decodeStrict decodes the one JSON object of data into dst, a pointer to a
// struct whose fields are pointers and slices. Unlike encoding/json alone it
// refuses what another reader of the same file could take otherwise: names in
// other case, repeated names, null (but for the coupling), unknown fields and
// text after the object; and it names a field that is missing.
func decodeStrict(data []byte, dst any) error {
	if !utf8.Valid(data) {
		return errors.New("text is not UTF-8")
	}
	walk := json.NewDecoder(bytes.NewReader(data))
	walk.UseNumber()
	if err := checkValue(walk, "", 0); err != nil {
		return err
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	if err := dec.Decode(dst); err != nil {
		if strings.HasPrefix(err.Error(), "json: unknown field") {
			return fmt.Errorf("%w: %s", err, wantNotes)
		}
		return err
	}
	if _, err := dec.Token(); err != io.EOF {
		return fmt.Errorf("text after the JSON object at byte %d", dec.InputOffset())
	}
	if path := missingField(reflect.ValueOf(dst).Elem(), ""); path != "" {
		return fmt.Errorf("%s: missing", path)
	}
	return nil
}

// maxDepth is above the depth of any record, and keeps the recursion short.
const maxDepth = 8

// checkValue reads the next value and checks the names and the nulls in it.
func checkValue(dec *json.Decoder, path string, depth int) error {
	if depth > maxDepth {
		return fmt.Errorf("%s: nested deeper than %d", path, maxDepth)
	}
	token, err := dec.Token()
	if err != nil {
		return eofUnexpected(err)
	}
	switch token {
	case nil:
		if path != "coupling" {
			return fmt.Errorf("%s: null", path)
		}
	case json.Delim('{'):
		return checkObject(dec, path, depth)
	case json.Delim('['):
		for i := 0; dec.More(); i++ {
			if err := checkValue(dec, fmt.Sprintf("%s[%d]", path, i), depth+1); err != nil {
				return err
			}
		}
		_, err = dec.Token()
		return eofUnexpected(err)
	}
	return nil
}

// wantNotes ends the error of an unknown field.
const wantNotes = "want the fields of the format; texts and numbers of your own go into the object notes"

// checkObject reads the rest of an object after its opening brace.
func checkObject(dec *json.Decoder, path string, depth int) error {
	seen := make(map[string]bool)
	for dec.More() {
		token, err := dec.Token()
		if err != nil {
			return eofUnexpected(err)
		}
		name, _ := token.(string)
		if path != "notes" && strings.Trim(name, "abcdefghijklmnopqrstuvwxyz0123456789_") != "" {
			return fmt.Errorf("%s: unknown field %s: %s", path, quoted(name), wantNotes)
		}
		if seen[name] {
			return fmt.Errorf("%s: field %s is repeated", path, quoted(name))
		}
		seen[name] = true
		if err := checkValue(dec, joined(path, name), depth+1); err != nil {
			return err
		}
	}
	_, err := dec.Token()
	return eofUnexpected(err)
}

// missingField returns the path of the first field that is nil in the struct v
// or in one that v points to or holds a slice of. A field whose tag says
// omitempty may be nil.
func missingField(v reflect.Value, path string) string {
	switch v.Kind() {
	case reflect.Pointer:
		return missingField(v.Elem(), path)
	case reflect.Slice:
		if v.Type().Elem().Kind() != reflect.Struct {
			return ""
		}
		for i := range v.Len() {
			if found := missingField(v.Index(i), fmt.Sprintf("%s[%d]", path, i)); found != "" {
				return found
			}
		}
	case reflect.Struct:
		for i := range v.NumField() {
			field := v.Type().Field(i)
			name, options, _ := strings.Cut(field.Tag.Get("json"), ",")
			inner := path
			if !field.Anonymous {
				inner = joined(path, name)
			}
			if nilable := v.Field(i).Kind() != reflect.Struct; nilable && v.Field(i).IsNil() {
				if options == "omitempty" {
					continue
				}
				return inner
			}
			if found := missingField(v.Field(i), inner); found != "" {
				return found
			}
		}
	}
	return ""
}

// joined returns the path of the field called name in the object at path.
func joined(path, name string) string {
	if path == "notes" {
		return fmt.Sprintf("notes[%s]", quoted(name))
	}
	if path == "" {
		return name
	}
	return path + "." + name
}

// eofUnexpected returns err, an end of file as an unexpected one.
func eofUnexpected(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}
