// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"context"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// readAll opens a scan and reads all its frames.
func readAll(t *testing.T, open func(*testing.T, []byte, []byte) (*ScanReader, error), setup,
	array []byte) error {
	t.Helper()
	s, err := open(t, setup, array)
	if err != nil {
		return err
	}
	defer s.Close()
	for _, err := range fmc.Frames(context.Background(), s.Next) {
		if err != nil {
			return err
		}
	}
	return nil
}

func TestScanSetupFaults(t *testing.T) {
	tests := []struct {
		name, old, new string
		want           string
	}{
		{"no frames", `"indices": [4, 7], "times_s": [0, 0.5], "positions_m": [0.25, 0]`,
			`"indices": [], "times_s": [], "positions_m": []`,
			"scan: lists of 0 frames: want at least 1"},
		{"lists of different lengths", "[0, 0.5]", "[0]", "scan.times_s: list of 1 frames: want 2"},
		{"index twice", "[4, 7]", "[4, 4]", "scan.indices 4: want more than 4"},
		{"index below 0", "[4, 7]", "[-1, 7]", "scan.indices -1: want more than -1"},
		{"index is no integer", "[4, 7]", "[4, 7.5]", "7.5"},
		{"time beyond float64", "[0, 0.5]", "[0, 1e999]", "1e999"},
		{"null position", "[0.25, 0]", "[0.25, null]", "scan.positions_m[1]: null"},
		{"positions across of another length", `"positions_m"`, `"across_m": [1], "positions_m"`,
			"scan.across_m: list of 1 frames: want 2"},
		{"count is no integer", `"positions_m"`, `"counts": [1, 2.5], "positions_m"`,
			"scan.counts[1]: the number 2.5: want a whole number of 64 bits"},
		{"count beyond 64 bits", `"positions_m"`, `"counts": [1, 9223372036854775808], "positions_m"`,
			"scan.counts[1]: the number 9223372036854775808"},
		{"null scan", `"scan": {`, `"scan": null, "x": {`, "scan: null"},
		{"list missing", `"times_s": [0, 0.5], `, "", "scan.times_s: missing"},
		{"unknown field", `"times_s"`, `"gate": 1, "times_s"`, "gate"},
		{"order of a record", `"frame, pair, sample"`, `"pair, sample"`,
			`want "frame, transmitter, receiver, sample" or "frame, pair, sample"`},
	}
	for _, test := range tests {
		if !strings.Contains(plainScan, test.old) {
			t.Fatalf("%s: nothing to replace", test.name)
		}
		setup := strings.Replace(plainScan, test.old, test.new, 1)
		for _, reader := range readers {
			err := readAll(t, reader.open, []byte(setup), plainScanFile())
			if !errors.Is(err, ErrSetup) || !strings.Contains(err.Error(), test.want) {
				t.Errorf("%s, %s: error %v, want ErrSetup and %q", test.name, reader.name, err,
					test.want)
			}
		}
	}
	setup := strings.Replace(plain, `"pair, sample"`, `"frame, pair, sample"`, 1)
	_, err := openStream(strings.NewReader(setup), bytes.NewReader(plainScanFile()), allow)
	wantFault(t, err, ErrSetup, `want "transmitter, receiver, sample" or "pair, sample"`)
	_, err = read(plainScan, plainScanFile())
	wantFault(t, err, ErrSetup, "scan: want a single capture; OpenScan")
}

func TestScanArrayFaults(t *testing.T) {
	array := plainScanFile()
	float := file(dictionary("'<f4'", "False", "(2, 3, 1)"),
		concat(make([]byte, 12), "\x00\x00\xc0\x7f", make([]byte, 8)))
	tests := []struct {
		name  string
		array []byte
		kind  error
		want  string
	}{
		{"empty", nil, io.ErrUnexpectedEOF, ""},
		{"one byte", array[:1], io.ErrUnexpectedEOF, ""},
		{"cut in the header", array[:40], io.ErrUnexpectedEOF, ""},
		{"no samples", array[:len(array)-12], io.ErrUnexpectedEOF, ""},
		{"cut in frame 0", array[:len(array)-7], io.ErrUnexpectedEOF, ""},
		{"cut in frame 1", array[:len(array)-1], io.ErrUnexpectedEOF, ""},
		{"a byte too many", concat(array, "1"), ErrArray, "bytes"},
		{"other number of frames",
			file(dictionary("'<i2'", "False", "(3, 2, 1)"), array[len(array)-12:]), ErrArray,
			"want [2 3] and the samples for 2 frames and the half matrix"},
		{"no axis of frames", file(dictionary("'<i2'", "False", "(3, 2)"), array[len(array)-12:]),
			ErrArray, "shape [3 2]"},
		{"NaN in frame 1", float, ErrArray, "frame 7"},
	}
	for _, test := range tests {
		for _, reader := range readers {
			err := readAll(t, reader.open, []byte(plainScan), test.array)
			if !errors.Is(err, test.kind) || !strings.Contains(err.Error(), test.want) {
				t.Errorf("%s, %s: error %v, want %v and %q", test.name, reader.name, err, test.kind,
					test.want)
			}
		}
	}
	if err := readAll(t, readers[0].open, []byte(plainScan), array); err != nil {
		t.Error(err)
	}
	var bad *fmc.SampleError
	if err := readAll(t, readers[0].open, []byte(plainScan), float); !errors.As(err, &bad) {
		t.Errorf("error %v, want a *fmc.SampleError", err)
	}
}

// TestScanReaderMisuse: frames that do not exist, another type of samples, and calls after Close.
func TestScanReaderMisuse(t *testing.T) {
	for _, reader := range readers {
		s := check.Must(reader.open(t, []byte(plainScan), plainScanFile()))
		for _, i := range []int{-1, 2, math.MaxInt, math.MinInt} {
			_, err := s.Frame(i)
			wantFault(t, err, nil, "want 0 to 1")
			_, err = s.Int16(i)
			wantFault(t, err, nil, "want 0 to 1")
		}
		if err := s.Close(); err != nil {
			t.Error(err)
		}
		_, err := s.Frame(0)
		wantFault(t, err, os.ErrClosed, "")
		_, err = s.Int16(0)
		wantFault(t, err, os.ErrClosed, "")
		_, err = s.Next(context.Background())
		wantFault(t, err, os.ErrClosed, "")
		wantFault(t, s.Close(), os.ErrClosed, "")
	}
	r := invented(t, fmc.FullPairs(3))
	s := check.Must(OpenScan(writeScan(t, r, invent(r), Float32), allow))
	defer s.Close()
	_, err := s.Int16(0)
	wantFault(t, err, nil, "int16 samples of a scan of float32")
}

// TestScanCutWhileOpen: a frame that was cut off a file is an error, if the file is not mapped.
func TestScanCutWhileOpen(t *testing.T) {
	s := check.Must(readers[1].open(t, []byte(plainScan), plainScanFile()))
	defer s.Close()
	if err := os.Truncate(s.store.(*fileFrames).file.Name(),
		int64(len(plainScanFile())-1)); err != nil {
		t.Fatal(err)
	}
	if _, err := s.Frame(0); err != nil {
		t.Error(err)
	}
	_, err := s.Frame(1)
	wantFault(t, err, ErrArray, "cut short")
}

func TestAppendRefuses(t *testing.T) {
	r := invented(t, fmc.FullPairs(3))
	frames := invent(r)
	other := func(change func(*fmc.Capture)) *fmc.Capture {
		c := *r.Capture
		c.Data = append([]float32(nil), c.Data...)
		change(&c)
		return &c
	}
	tests := []struct {
		name string
		bad  fmc.Frame
		kind error
		want string
	}{
		{"same index", fmc.Frame{Index: 1, Capture: r.Capture}, ErrSetup, "want more than 1"},
		{"time NaN", fmc.Frame{Index: 2, Time: math.NaN(), Capture: r.Capture}, ErrSetup,
			"scan.times_s NaN of frame 2"},
		{"position Inf", fmc.Frame{Index: 2, Position: math.Inf(-1), Capture: r.Capture}, ErrSetup,
			"scan.positions_m -Inf of frame 2"},
		{"position across NaN", fmc.Frame{Index: 2, Across: math.NaN(), Capture: r.Capture}, ErrSetup,
			"scan.across_m NaN of frame 2"},
		{"no capture", fmc.Frame{Index: 2}, ErrSetup, "capture nil"},
		{"other rate", fmc.Frame{Index: 2, Capture: other(func(c *fmc.Capture) { c.SampleRate++ })},
			ErrSetup, "frame 2"},
		{"other pairs",
			fmc.Frame{Index: 2, Capture: other(func(c *fmc.Capture) { c.Pairs = c.Pairs[1:] })},
			ErrSetup, "frame 2"},
		{"events", fmc.Frame{Index: 2, Capture: other(func(c *fmc.Capture) {
			e := fmc.Event{Delays: make([]float64, 3), Weights: []float64{1, 1, 1}}
			c.Events = []fmc.Event{e, e, e}
		})}, ErrSetup, "frame 2"},
		{"other array",
			fmc.Frame{Index: 2, Capture: other(func(c *fmc.Capture) { c.Array.Width *= 2 })},
			ErrSetup, "frame 2"},
		{"samples missing",
			fmc.Frame{Index: 2, Capture: other(func(c *fmc.Capture) { c.Data = c.Data[1:] })}, nil,
			"17 samples in Data"},
		{"sample NaN",
			fmc.Frame{Index: 2,
				Capture: other(func(c *fmc.Capture) { c.Data[3] = float32(math.NaN()) })}, nil,
			"sample 1 of pair 1"},
		{"not int16", fmc.Frame{Index: 2, Capture: other(func(c *fmc.Capture) { c.Data[3] = 0.5 })},
			ErrNotInt16, "sample 1 of pair 1"},
	}
	name := filepath.Join(t.TempDir(), "a.json")
	w := check.Must(CreateScan(name, r, Int16))
	defer w.Discard()
	for _, f := range frames[:2] {
		if err := w.Append(f); err != nil {
			t.Fatal(err)
		}
	}
	for _, test := range tests {
		wantFault(t, w.Append(test.bad), test.kind, test.want)
	}
	if err := errors.Join(w.Append(frames[2]), w.Close()); err != nil {
		t.Fatal(err)
	}
	s := check.Must(OpenScan(name, allow))
	defer s.Close()
	checkFrames(t, s, frames)
}

// TestCreateScanFaults: a scan that cannot begin or end leaves no files.
func TestCreateScanFaults(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, "a.json")
	r := invented(t, fmc.FullPairs(3))
	_, err := CreateScan(name, new(Record), Int16)
	wantFault(t, err, ErrSetup, "part.density_kg_m3 0")
	_, err = CreateScan(name, r, 3)
	wantFault(t, err, nil, "sample type SampleType(3)")
	_, err = CreateScan(filepath.Join(dir, "a.npy"), r, Int16)
	wantFault(t, err, nil, "want one that ends in .json")
	w := check.Must(CreateScan(name, r, Int16))
	wantFault(t, w.Close(), nil, "scan of 0 frames: want at least 1")
	wantFiles(t, dir)

	// A file that is closed simulates a disk that fails.
	w = check.Must(CreateScan(name, r, Int16))
	if err := w.files.array.Close(); err != nil {
		t.Fatal(err)
	}
	frames := invent(r)
	wantFault(t, w.Append(frames[0]), os.ErrClosed, "")
	wantFault(t, w.Append(frames[1]), os.ErrClosed, "")
	wantFault(t, w.Close(), os.ErrClosed, "")
	wantFiles(t, dir)
}

// TestScanRoom: a frame that would make the .json file too long is refused, and the scan can still
// be closed. The room that was counted is the room that the file takes.
func TestScanRoom(t *testing.T) {
	r := invented(t, fmc.FullPairs(3))
	name := filepath.Join(t.TempDir(), "a.json")
	w := check.Must(CreateScan(name, r, Int16))
	defer w.Discard()
	// Numbers of every length, among them the longest.
	frames := []fmc.Frame{
		{Index: 0, Time: -math.MaxFloat64, Position: -math.SmallestNonzeroFloat64,
			Across: -math.MaxFloat64 / 3, Count: math.MinInt64},
		{Index: 1, Time: -1.2345678901234567e-6, Position: 123456789012345680000},
		{Index: 22, Time: 1e21, Position: -1e-7 / 3},
		{Index: math.MaxInt - 1, Time: 1e20, Position: math.Copysign(0, -1)},
	}
	for _, f := range frames {
		f.Capture = r.Capture
		if err := w.Append(f); err != nil {
			t.Fatal(err)
		}
	}
	left := w.room
	w.room = frameLength(fmc.Frame{Index: math.MaxInt}, w.buf) - 1
	wantFault(t, w.Append(fmc.Frame{Index: math.MaxInt, Capture: r.Capture}), ErrSetup,
		"scan of 5 frames: want a .json file of 33554432 bytes at most")
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	info := check.Must(os.Stat(name))
	// The name of the array is shorter than the longest name, and an exponent is shorter by a zero.
	if spare := maxSetup - left - int(info.Size()); spare < 0 || spare > maxName+100 {
		t.Errorf("%d bytes counted and not written, want 0 to %d", spare, maxName+100)
	}
	if s, err := OpenScan(name, allow); err != nil || len(s.Frames()) != len(frames) {
		t.Errorf("error %v, or a scan of another length", err)
	} else if err := s.Close(); err != nil {
		t.Error(err)
	}
}
