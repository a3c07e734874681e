// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"compress/gzip"
	"context"
	"errors"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// FuzzHeader: no header panics. A header that is read, written and read again stays the same.
func FuzzHeader(f *testing.F) {
	f.Add(plainFile())
	f.Add(plainEventsFile())
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
			t.Errorf("header of %d bytes for %d samples, read from %d bytes", h.length, h.count(),
				len(data))
		}
		again := check.Must(readHeader(bytes.NewReader(h.bytes(0))))
		if again.sampleType != h.sampleType || !cmp.Equal(again.shape, h.shape) {
			t.Errorf("header %+v became %+v", h, again)
		}
	})
}

// FuzzSetup: no set-up panics or takes more memory than documented. A set-up that is read is valid.
func FuzzSetup(f *testing.F) {
	f.Add([]byte(plain))
	f.Add([]byte(plainScan))
	f.Add([]byte(plainEvents))
	f.Add([]byte(withNotes(`{"date": "2026-03-14", "\\u0061": 1e-9}`)))
	for _, r := range references {
		data := check.Must(os.ReadFile(filepath.Join(testdata, r.name+".json")))
		f.Add(data)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var d *description
		var err error
		got := allocated(func() { d, err = readDescription(bytes.NewReader(data)) })
		if most := setupMultiple*len(data) + 1<<16; got > most {
			t.Errorf("%d bytes allocated for a set-up of %d, want %d at most", got, len(data), most)
		}
		if err != nil {
			if text := err.Error(); !errors.Is(err, ErrSetup) || !visible(text) ||
				len(text) > 2000 {
				t.Errorf("error %.2000q, want a visible one that wraps ErrSetup", text)
			}
			return
		}
		for _, text := range []string{d.record.Title, d.file, d.record.Part.Name} {
			if strings.ContainsFunc(text, hidden) {
				t.Errorf("text %q is not visible", text)
			}
		}
		err = errors.Join(d.record.validateSetup(), d.frame.Array.Validate(), validateFile(d.file))
		if err != nil {
			t.Error(err)
		}
		d.frame.Samples = 1000
		d.record.Capture = &d.frame
		for _, f := range d.record.findings() {
			if f.value >= f.want.min && f.value <= f.want.max || f.path == "" {
				t.Errorf("finding %v of a value that is in its range", f)
			}
		}
	})
}

// FuzzPair: no two files panic or take more memory than allowance. A record that is read, written
// and read again stays the same.
func FuzzPair(f *testing.F) {
	f.Add([]byte(plain), plainFile())
	f.Add([]byte(plainEvents), plainEventsFile())
	for _, r := range variants(f) {
		setup, array := encode(f, r, Float64)
		f.Add(setup, array)
	}
	f.Fuzz(func(t *testing.T, setup, array []byte) {
		var r *Record
		var err error
		got := allocated(func() { r, err = read(string(setup), array) })
		if got > allowance(setup, array) {
			t.Errorf("%d bytes allocated for %d + %d of input", got, len(setup), len(array))
		}
		if err != nil {
			known := errors.Is(err, ErrSetup) || errors.Is(err, ErrArray)
			if !known || errors.Is(err, io.EOF) {
				t.Errorf("error %v, want one that wraps an error of this package", err)
			}
			return
		}
		setup, array = encode(t, r, Float32)
		again := check.Must(read(string(setup), array))
		if diff := cmp.Diff(r, again); diff != "" {
			t.Errorf("record (-first +again):\n%s", diff)
		}
	})
}

// FuzzScan: no two files panic or take more memory than allowance. A file and a stream yield the
// same frames. A scan that is read, written and read again stays the same.
func FuzzScan(f *testing.F) {
	f.Add([]byte(plainScan), plainScanFile())
	f.Add([]byte(plain), plainFile())
	f.Add([]byte(plainEvents), plainEventsFile())
	for _, r := range variants(f) {
		setup, array := fileContent(f, writeScan(f, r, invent(r), Float32))
		f.Add(setup, array)
	}
	f.Fuzz(func(t *testing.T, setup, array []byte) {
		var frames, again []fmc.Frame
		var err, fileErr error
		open := func() (*ScanReader, error) {
			return openStream(bytes.NewReader(setup), bytes.NewReader(array), allow)
		}
		got := allocated(func() { frames, err = collect(open()) })
		if got > allowance(setup, array) {
			t.Errorf("%d bytes allocated for %d + %d of input", got, len(setup), len(array))
		}
		if err != nil && !errors.Is(err, ErrSetup) && !errors.Is(err, ErrArray) {
			t.Errorf("error %v, want one that wraps an error of this package", err)
		}
		if again, fileErr = collect(openFuzzed(t, setup, array)); (err == nil) != (fileErr == nil) {
			t.Errorf("error %v from a stream, %v from a file", err, fileErr)
		}
		if err != nil || fileErr != nil {
			return
		}
		if diff := cmp.Diff(frames, again); diff != "" {
			t.Errorf("frames (-stream +file):\n%s", diff)
		}
		s := check.Must(open())
		again, err = collect(OpenScan(writeScan(t, s.Record(), frames, Float64), allow))
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(frames, again); diff != "" {
			t.Errorf("frames (-first +again):\n%s", diff)
		}
	})
}

// openFuzzed opens two files as a scan, with any name of the array in the set-up.
func openFuzzed(t *testing.T, setup, array []byte) (*ScanReader, error) {
	t.Helper()
	d, err := readDescription(bytes.NewReader(setup))
	if err != nil {
		return nil, err
	}
	dir := t.TempDir()
	put(t, dir, "a.npy", array)
	f, size, err := open(filepath.Join(dir, "a.npy"))
	if err != nil {
		t.Fatal(err)
	}
	s, err := d.openScan(f, size, allow)
	if err != nil {
		f.Close()
	}
	return s, err
}

// collect returns copies of all frames of s, and closes s.
func collect(s *ScanReader, err error) ([]fmc.Frame, error) {
	if err != nil {
		return nil, err
	}
	defer s.Close()
	var frames []fmc.Frame
	for frame, err := range fmc.Frames(context.Background(), s.Next) {
		if err != nil {
			return nil, err
		}
		c := *frame.Capture
		c.Data = slices.Clone(c.Data)
		frame.Capture = &c
		frames = append(frames, frame)
	}
	return frames, nil
}

// FuzzGzip: no compressed array panics or takes more memory than allowance. An array that is read
// equals its decompressed content.
func FuzzGzip(f *testing.F) {
	f.Add(pack(f, plainFile()))
	f.Add(pack(f, file(dictionary("'<f4'", "False", "(3, 5000)"), make([]byte, 60000))))
	f.Add(append(pack(f, plainFile()[:64]), pack(f, plainFile()[64:])...))
	f.Fuzz(func(t *testing.T, data []byte) {
		array := append([]byte{0x1f, 0x8b}, bytes.TrimPrefix(data, []byte{0x1f, 0x8b})...)
		var r *Record
		var err error
		got := allocated(func() { r, err = read(plain, array) })
		if got > allowance([]byte(plain), array) {
			t.Errorf("%d bytes allocated for %d of input", got, len(array))
		}
		if err != nil {
			if !errors.Is(err, ErrArray) {
				t.Errorf("error %v, want one that wraps an error of this package", err)
			}
			return
		}
		z := check.Must(gzip.NewReader(bytes.NewReader(array)))
		want := check.Must(Read(strings.NewReader(plain), z, allow))
		if diff := cmp.Diff(want, r); diff != "" {
			t.Errorf("record (-want +got):\n%s", diff)
		}
	})
}
