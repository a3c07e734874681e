// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// allowance returns the greatest number of bytes that a reader may allocate for two files. It is a
// fixed part for buffers and multiples of the lengths. A set-up is decoded, and package fmc then
// takes as much again to validate its lists. Two bytes of an array become a float32 in a slice that
// grows fourfold. If the traces have one sample, they also become a pair of 16 bytes. That is 19
// times their length. One byte of a gzip file yields at most 1032 bytes (RFC 1951: a match of 258
// bytes in two bits).
func allowance(setup, array []byte) int {
	multiple := 32
	if bytes.HasPrefix(array, []byte{0x1f, 0x8b}) {
		multiple *= 1032
	}
	return 1<<20 + 2*setupMultiple*len(setup) + multiple*len(array)
}

// TestHostileHeaders: no reader allocates the memory that a header or a set-up promises before the
// bytes have arrived.
func TestHostileHeaders(t *testing.T) {
	frames := func(n int) string {
		return strings.NewReplacer("[4, 7]", list(n), "[0, 0.5]", list(n), "[0.25, 0]",
			list(n)).Replace(plainScan)
	}
	const n = 3000 // elements: their pairs take 144 MB
	matrix := strings.NewReplacer(`[[-0.0005, 0], [0.0005, 0]]`, distinct(n, "[%d,0]"),
		`"pair, sample"`, `"transmitter, receiver, sample"`).Replace(plain)
	tests := []struct {
		name, setup, shape string
	}{
		{"pairs of many elements", matrix, "(3000, 3000, 1)"},
		{"long traces", plain, "(3, 80000000)"},
		{"traces of 6 EB", plain, "(3, 1000000000000000000)"},
		{"long traces in a scan", plainScan, "(2, 3, 40000000)"},
		{"many frames", frames(1000), "(1000, 3, 80000)"},
		{"frames that the set-up lacks", plainScan, "(80000000, 3, 1)"},
		{"traces that the set-up lacks", plainScan, "(2, 80000000, 1)"},
	}
	for _, test := range tests {
		for _, sampleType := range []string{"'<i2'", "'>f4'", "'<f8'"} {
			plainArray := file(dictionary(sampleType, "False", test.shape), make([]byte, 1000))
			for packing, array := range map[string][]byte{"plain": plainArray,
				"gzip": pack(t, plainArray)} {
				for name, err := range refusals(t, []byte(test.setup), array) {
					if err == nil {
						t.Errorf("%s, %s, %s, %s: no error", test.name, sampleType, packing, name)
					}
				}
			}
		}
	}
}

// refusals calls every reader for two files, checks the memory that it allocates, and returns the
// errors.
func refusals(t *testing.T, setup, array []byte) map[string]error {
	t.Helper()
	dir := t.TempDir()
	put(t, dir, "a.json", setup)
	put(t, dir, "a.npy", array)
	name := filepath.Join(dir, "a.json")
	readers := map[string]func() error{
		"Read": func() error {
			_, err := Read(bytes.NewReader(setup), bytes.NewReader(array), allow)
			return err
		},
		"ReadFile": func() error { _, err := ReadFile(name, allow); return err },
		"OpenScan": func() error { return closed(OpenScan(name, allow)) },
		"stream": func() error {
			return closed(openStream(bytes.NewReader(setup), bytes.NewReader(array), allow))
		},
	}
	errs := make(map[string]error)
	for reader, read := range readers {
		got, most := allocated(func() { errs[reader] = read() }), allowance(setup, array)
		if got > most {
			t.Errorf("%s: %d bytes allocated for %d + %d of input, want %d at most", reader, got,
				len(setup), len(array), most)
		}
	}
	return errs
}

// list returns the JSON list of the numbers from 0 to n−1.
func list(n int) string { return distinct(n, "%d") }

// TestLimits: every reader allocates less than 8 bytes for each sample of MaxSamples, to read a
// capture or all frames of a scan. A capture of one sample more is refused before memory is
// allocated.
func TestLimits(t *testing.T) {
	const n = 100
	centres := distinct(n, "[%d,0]")
	matrix := strings.NewReplacer(`[[-0.0005, 0], [0.0005, 0]]`, centres, `"pair, sample"`,
		`"transmitter, receiver, sample"`).Replace(plain)
	var pairs []string
	for p := n*n - 1; p >= 0; p-- {
		pairs = append(pairs, fmt.Sprintf("[%d,%d]", p/n, p%n))
	}
	listed := strings.NewReplacer(`[[-0.0005, 0], [0.0005, 0]]`, centres, `"first_sample_s"`,
		`"pairs": [`+strings.Join(pairs, ",")+`], "first_sample_s"`).Replace(plain)
	scan := strings.NewReplacer("[4, 7]", list(5), "[0, 0.5]", list(5), "[0.25, 0]",
		list(5)).Replace(plainScan)
	tests := []struct {
		name, setup, shape string
		frames, samples    int // in all; of a frame, as they are counted
		single             bool
	}{
		{"long traces", plain, "(3, 100000)", 1, 300000, true},
		{"length that is no power of 4", plain, "(3, 87382)", 1, 3 * 87382, true},
		{"traces of one sample", matrix, "(100, 100, 1)", 1, n * n * 16, true},
		{"traces of 16 samples", matrix, "(100, 100, 16)", 1, n * n * 16, true},
		{"listed pairs", listed, "(10000, 16)", 1, n * n * 16, true},
		{"scan", scan, "(5, 3, 100000)", 5, 300000, false},
	}
	for _, test := range tests {
		for st, sampleType := range sampleTypes {
			if testing.Short() && SampleType(st) != Int16 {
				continue
			}
			size := test.frames * sampleType.size
			for _, dim := range strings.Split(strings.Trim(test.shape, "()"),
				", ")[test.frames/5:] {
				number := check.Must(strconv.Atoi(dim))
				size *= number
			}
			plainArray := file(dictionary("'<"+sampleType.code+"'", "False", test.shape),
				make([]byte, size))
			for packing, array := range map[string][]byte{"plain": plainArray,
				"gzip": pack(t, plainArray)} {
				for name, read := range limited(t, []byte(test.setup), array, test.single) {
					name = strings.Join([]string{test.name, SampleType(st).String(), packing, name},
						", ")
					var err error
					got := allocated(func() { err = read(&ReadOptions{AllowImplausible: true, MaxSamples: test.samples}) })
					if err != nil {
						t.Errorf("%s: %v", name, err)
					}
					if most := 8*test.samples + 1<<20 + 2*setupMultiple*len(test.setup); got >= most {
						t.Errorf("%s: %d bytes allocated for %d samples, want less than %d", name,
							got, test.samples, most)
					}
					got = allocated(func() { err = read(&ReadOptions{AllowImplausible: true, MaxSamples: test.samples - 1}) })
					if !errors.Is(err, ErrArray) ||
						!strings.Contains(err.Error(), "samples in all at most") {
						t.Errorf("%s: error %v, want ErrArray and the limit", name, err)
					}
					if most := 1<<18 + 2*setupMultiple*len(test.setup); got >= most {
						t.Errorf("%s: %d bytes allocated for samples that are refused, want less than %d", name, got, most)
					}
				}
			}
		}
	}
	_, err := Read(strings.NewReader(plain), bytes.NewReader(plainFile()), &ReadOptions{MaxSamples: -1})
	wantFault(t, err, nil, "MaxSamples -1: want at least 1, or 0 for the default")
}

// limited returns the readers, which read two files to their end within a limit of samples.
func limited(t *testing.T, setup, array []byte, single bool) map[string]func(*ReadOptions) error {
	dir := t.TempDir()
	put(t, dir, "a.json", setup)
	put(t, dir, "a.npy", array)
	name := filepath.Join(dir, "a.json")
	all := func(s *ScanReader, err error) error {
		if err != nil {
			return err
		}
		defer s.Close()
		for i := range s.frames {
			if s.SampleType() == Int16 {
				if _, err := s.Int16(i); err != nil {
					return err
				}
			}
			if _, err := s.Frame(i); err != nil {
				return err
			}
		}
		return nil
	}
	ways := map[string]func(*ReadOptions) error{
		"OpenScan": func(o *ReadOptions) error { return all(OpenScan(name, o)) },
		"stream": func(o *ReadOptions) error {
			return all(openStream(bytes.NewReader(setup), bytes.NewReader(array), o))
		},
	}
	if !bytes.HasPrefix(array, []byte{0x1f, 0x8b}) {
		ways["OpenScan without mapping"] = func(o *ReadOptions) error { return all(openUnmapped(name, o)) }
	}
	if single {
		ways["ReadFile"] = func(o *ReadOptions) error { _, err := ReadFile(name, o); return err }
		ways["Read"] = func(o *ReadOptions) error {
			_, err := Read(bytes.NewReader(setup), bytes.NewReader(array), o)
			return err
		}
	}
	return ways
}

// TestGzipBomb: a gzip file that is 500 times shorter than its content is read no further than its
// header states, and allocates no more than it yields.
func TestGzipBomb(t *testing.T) {
	const zeros = 4 << 20
	array := pack(t, file(dictionary("'<i2'", "False", "(3, 1000)"), make([]byte, zeros)))
	if len(array) > zeros/500 {
		t.Fatalf("%d bytes: that is no bomb", len(array))
	}
	for name, err := range refusals(t, []byte(plain), array) {
		if err == nil {
			t.Errorf("%s: no error", name)
		}
	}
	// If the header promises even more than the content, memory grows as the content arrives.
	array = pack(t, file(dictionary("'<i2'", "False", "(3, 60000000)"), make([]byte, 1<<20)))
	got := allocated(func() {
		_, err := Read(strings.NewReader(plain), bytes.NewReader(array), allow)
		wantFault(t, err, io.ErrUnexpectedEOF, "")
	})
	if most := 16 << 20; got > most {
		t.Errorf("%d bytes allocated for 1 MiB of samples, want %d at most", got, most)
	}
}
