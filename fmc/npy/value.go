// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"iter"
	"strconv"
	"unicode/utf8"
)

// value is one JSON value without space around it. It is a part of a text that is valid JSON, and
// is decoded in place. The standard decoder is not used, because it allocates up to a hundred bytes
// for each byte of some texts. It also accepts names in another case, repeated names and null.
// Other readers of the same file may interpret such texts differently.
type value []byte

// UnmarshalJSON keeps the text, which encoding/json has checked.
func (v *value) UnmarshalJSON(text []byte) error {
	*v = text
	return nil
}

// parse returns the value of a text that holds one value.
func parse(text []byte) (v value, err error) {
	if !utf8.Valid(text) {
		return nil, errors.New("text is not UTF-8")
	}
	err = json.Unmarshal(text, &v)
	if syntax := (*json.SyntaxError)(nil); errors.As(err, &syntax) {
		return nil, fmt.Errorf("%w at byte %d", err, syntax.Offset)
	}
	return v, err
}

// kind describes v for an error message.
func (v value) kind() string {
	switch v[0] {
	case '"':
		return "a text"
	case '{':
		return "an object"
	case '[':
		return "a list"
	case 't', 'f', 'n':
		return string(v)
	}
	return "the number " + string(v[:min(len(v), 30)])
}

// wants returns the error that v is of another kind than wanted.
func (v value) wants(want string) error { return fmt.Errorf("%s: want %s", v.kind(), want) }

// number returns v as a number.
func (v value) number() (float64, error) {
	if v[0] != '-' && (v[0] < '0' || v[0] > '9') {
		return 0, v.wants("a number")
	}
	n, err := strconv.ParseFloat(string(v), 64)
	if err != nil {
		return 0, v.wants("a number that fits a float64")
	}
	return n, nil
}

// integer returns v as a whole number.
func (v value) integer() (int, error) {
	n, err := strconv.Atoi(string(v))
	if err != nil {
		return 0, v.wants("a whole number")
	}
	return n, nil
}

// integer64 returns v as a whole number of 64 bits.
func (v value) integer64() (int64, error) {
	n, err := strconv.ParseInt(string(v), 10, 64)
	if err != nil {
		return 0, v.wants("a whole number of 64 bits")
	}
	return n, nil
}

// text returns v as a text. Half of a surrogate pair becomes U+FFFD.
func (v value) text() (string, error) {
	if v[0] != '"' {
		return "", v.wants("a text")
	}
	if bytes.IndexByte(v, '\\') < 0 {
		return string(v[1 : len(v)-1]), nil
	}
	var s string
	err := json.Unmarshal(v, &s)
	return s, err
}

// elements yields the elements of v, which is a list.
func (v value) elements() iter.Seq2[int, value] {
	return func(yield func(int, value) bool) {
		rest := trimmed(v[1:])
		for i := 0; rest[0] != ']'; i++ {
			n := length(rest)
			if !yield(i, rest[:n]) {
				return
			}
			rest = afterComma(rest[n:])
		}
	}
}

// members yields the names and values of v, which is an object.
func (v value) members() iter.Seq2[value, value] {
	return func(yield func(name, member value) bool) {
		rest := trimmed(v[1:])
		for rest[0] != '}' {
			n := length(rest)
			name := rest[:n]
			rest = trimmed(trimmed(rest[n:])[1:]) // past the colon
			n = length(rest)
			if !yield(name, rest[:n]) {
				return
			}
			rest = afterComma(rest[n:])
		}
	}
}

// afterComma returns text without the space and the comma at its beginning.
func afterComma(text value) value {
	text = trimmed(text)
	if text[0] == ',' {
		text = trimmed(text[1:])
	}
	return text
}

// trimmed returns text without the space at its beginning.
func trimmed(text value) value { return bytes.TrimLeft(text, " \t\r\n") }

// length returns the length of the value that text begins with.
func length(text value) int {
	depth := 0
	for i := 0; i < len(text); i++ {
		switch text[i] {
		case '"':
			for i++; text[i] != '"'; i++ {
				if text[i] == '\\' {
					i++
				}
			}
		case '[', '{':
			depth++
		case ']', '}':
			if depth--; depth < 0 {
				return i // of a number in a list or an object
			}
		case ',', ':', ' ', '\t', '\r', '\n':
			if depth == 0 {
				return i
			}
			continue
		default:
			continue
		}
		if depth == 0 {
			return i + 1
		}
	}
	return len(text)
}

// count returns the number of elements of the list v, 0 if it is no list.
func (v value) count() int {
	n := 0
	if v[0] == '[' {
		for range v.elements() {
			n++
		}
	}
	return n
}

// each calls decode with every element of the list v.
func (v value) each(decode func(i int, element value) error) error {
	if v[0] != '[' {
		return v.wants("a list")
	}
	for i, element := range v.elements() {
		if err := decode(i, element); err != nil {
			return within(fmt.Sprintf("[%d]", i), err)
		}
	}
	return nil
}

// numbers returns v as a list of numbers.
func (v value) numbers() ([]float64, error) {
	list := make([]float64, v.count())
	return list, v.each(func(i int, element value) (err error) {
		list[i], err = element.number()
		return err
	})
}

// tuple decodes v, a short list of numbers, into dst. It returns the number of elements of v, which
// can be greater than the length of dst.
func (v value) tuple(dst []float64) (n int, err error) {
	return v.count(), v.each(func(i int, element value) (err error) {
		if i < len(dst) {
			dst[i], err = element.number()
		}
		return err
	})
}

// field is one field of an object. Its value is decoded into to, which is a *float64, a *string, a
// *[]float64 or a func(value) error.
type field struct {
	name string
	to   any
}

func (f field) decode(v value) (err error) {
	switch to := f.to.(type) {
	case *float64:
		*to, err = v.number()
	case *string:
		*to, err = v.text()
	case *[]float64:
		*to, err = v.numbers()
	case func(value) error:
		err = to(v)
	}
	return err
}

// wantNotes is the end of the error message of an unknown field.
const wantNotes = "want the fields of the format; " +
	"texts and numbers of your own go into the object notes"

// object decodes the object v. It refuses unknown and repeated fields and names the first that is
// missing.
func (v value) object(required []field, optional ...field) error {
	if v[0] != '{' {
		return v.wants("an object")
	}
	seen := uint(0)
	for quotedName, member := range v.members() {
		name, err := quotedName.text()
		if err != nil {
			return err
		}
		i, f := find(name, required, optional)
		if i < 0 {
			return fmt.Errorf("unknown field %s: %s", quoted(name), wantNotes)
		}
		if seen&(1<<i) != 0 {
			return fmt.Errorf("field %s is repeated", quoted(name))
		}
		seen |= 1 << i
		if err := f.decode(member); err != nil {
			return within(name, err)
		}
	}
	for i, f := range required {
		if seen&(1<<i) == 0 {
			return within(f.name, errors.New("missing"))
		}
	}
	return nil
}

// find returns the field called name and its number, -1 if there is none.
func find(name string, required, optional []field) (int, field) {
	for i, f := range required {
		if f.name == name {
			return i, f
		}
	}
	for i, f := range optional {
		if f.name == name {
			return len(required) + i, f
		}
	}
	return -1, field{}
}

// fieldError is an error and the path of the field that it is about.
type fieldError struct {
	path string
	err  error
}

func (e *fieldError) Error() string { return e.path + ": " + e.err.Error() }
func (e *fieldError) Unwrap() error { return e.err }

// within returns err, which is about the field or the element called step or about a part of it.
func within(step string, err error) error {
	inner, ok := err.(*fieldError)
	switch {
	case !ok:
		return &fieldError{step, err}
	case inner.path[0] != '[':
		step += "."
	}
	return &fieldError{step + inner.path, inner.err}
}

// eofUnexpected returns err, or io.ErrUnexpectedEOF if err is io.EOF.
func eofUnexpected(err error) error {
	if err == io.EOF {
		return io.ErrUnexpectedEOF
	}
	return err
}
