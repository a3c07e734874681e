// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// FuzzHeader: no header panics, and one that is read is written and read again
// alike.
func FuzzHeader(f *testing.F) {
	f.Add(plainFile())
	f.Add(file(dictionary("'>f8'", "False", "(3, 4, 5)"), nil))
	f.Add(file("'descr': 'fortran_order': 'shape': ", nil))
	f.Add([]byte("\x93NUMPY\x02\x00\xff\xff\x00\x00{}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		h, err := readHeader(bytes.NewReader(data))
		if err != nil {
			if !errors.Is(err, ErrArray) {
				t.Errorf("error %v, want one that wraps ErrArray", err)
			}
			return
		}
		if h.length > int64(len(data)) || h.count() < 1 {
			t.Errorf("header of %d bytes for %d samples, read from %d bytes", h.length, h.count(), len(data))
		}
		again, err := readHeader(bytes.NewReader(h.bytes(0)))
		if err != nil {
			t.Fatal(err)
		}
		if again.sampleType != h.sampleType || !cmp.Equal(again.shape, h.shape) {
			t.Errorf("header %+v became %+v", h, again)
		}
	})
}

// FuzzSetup: no set-up panics, and one that is read is valid.
func FuzzSetup(f *testing.F) {
	f.Add([]byte(plain))
	for _, r := range references {
		data, err := os.ReadFile(filepath.Join(testdata, r.name+".json"))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		d, err := readDescription(bytes.NewReader(data))
		if err != nil {
			if !errors.Is(err, ErrSetup) {
				t.Errorf("error %v, want one that wraps ErrSetup", err)
			}
			return
		}
		if err := errors.Join(d.setup.Validate(), d.frame.Array.Validate(), validateFile(d.file)); err != nil {
			t.Error(err)
		}
	})
}

// FuzzPair: no two files panic, and a record that is read is written and read
// again alike.
func FuzzPair(f *testing.F) {
	f.Add([]byte(plain), plainFile())
	for _, r := range variants(f) {
		setup, array := encode(f, r, Float64)
		f.Add(setup, array)
	}
	f.Fuzz(func(t *testing.T, setup, array []byte) {
		r, err := Read(bytes.NewReader(setup), bytes.NewReader(array))
		if err != nil {
			known := errors.Is(err, ErrSetup) || errors.Is(err, ErrArray) || errors.Is(err, ErrMismatch)
			if !known || errors.Is(err, io.EOF) {
				t.Errorf("error %v, want one that wraps an error of this package", err)
			}
			return
		}
		setup, array = encode(t, r, Float32)
		again, err := Read(bytes.NewReader(setup), bytes.NewReader(array))
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(r, again); diff != "" {
			t.Errorf("record (-first +again):\n%s", diff)
		}
	})
}
