// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"io"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"testing"
)

// allocated returns the bytes that f allocates in all, also those that are
// free again.
func allocated(f func()) int {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	f()
	runtime.ReadMemStats(&after)
	return int(after.TotalAlloc - before.TotalAlloc)
}

// allowance bounds what the readers allocate in all for two files: a fixed part
// for buffers, and a small multiple of the input. The multiple is that of text:
// every number of a list leaves its path and its slice behind. What deflate
// delivers is 1032 bytes at most for each of its own (RFC 1951: a match of 258
// bytes in two bits), which becomes float32 in a slice that doubles.
func allowance(setup, array []byte) int {
	multiple := 256
	if bytes.HasPrefix(array, []byte{0x1f, 0x8b}) {
		multiple = 16 * 1032
	}
	return 1<<20 + 256*len(setup) + multiple*len(array)
}

// TestHostileHeaders: no promise of a header or of a set-up costs memory before
// the bytes are there, whichever reader meets it.
func TestHostileHeaders(t *testing.T) {
	frames := func(n int) string {
		return strings.NewReplacer("[4, 7]", list(n), "[0, 0.5]", list(n), "[0.25, 0]", list(n)).Replace(plainScan)
	}
	tests := []struct {
		name, setup, shape string
	}{
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
			for packing, array := range map[string][]byte{"plain": plainArray, "gzip": pack(t, plainArray)} {
				for name, err := range refusals(t, []byte(test.setup), array) {
					if err == nil {
						t.Errorf("%s, %s, %s, %s: no error", test.name, sampleType, packing, name)
					}
				}
			}
		}
	}
}

// refusals has every reader read two files, checks what it allocates and
// returns its error.
func refusals(t *testing.T, setup, array []byte) map[string]error {
	t.Helper()
	dir := t.TempDir()
	put(t, dir, "a.json", setup)
	put(t, dir, "a.npy", array)
	name := filepath.Join(dir, "a.json")
	readers := map[string]func() error{
		"Read": func() error {
			_, err := Read(bytes.NewReader(setup), bytes.NewReader(array), AllowImplausible)
			return err
		},
		"ReadFile": func() error { _, err := ReadFile(name, AllowImplausible); return err },
		"OpenScan": func() error { return closed(OpenScan(name, AllowImplausible)) },
		"NewScanReader": func() error {
			return closed(NewScanReader(bytes.NewReader(setup), bytes.NewReader(array), AllowImplausible))
		},
	}
	errs := make(map[string]error)
	for reader, read := range readers {
		if got, most := allocated(func() { errs[reader] = read() }), allowance(setup, array); got > most {
			t.Errorf("%s: %d bytes allocated for %d + %d of input, want %d at most", reader, got, len(setup), len(array), most)
		}
	}
	return errs
}

func closed(s *ScanReader, err error) error {
	if err != nil {
		return err
	}
	return s.Close()
}

// list returns the JSON list of the numbers from 0 to n−1.
func list(n int) string {
	numbers := make([]string, n)
	for i := range numbers {
		numbers[i] = strconv.Itoa(i)
	}
	return "[" + strings.Join(numbers, ",") + "]"
}

// TestGzipBomb: a gzip file a thousandth of its content stops at the bound of
// the header, long before its own end, and costs what it delivered.
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
	// With a header that promises all of it, and more, memory follows what comes.
	array = pack(t, file(dictionary("'<i2'", "False", "(3, 60000000)"), make([]byte, 1<<20)))
	got := allocated(func() {
		_, err := Read(strings.NewReader(plain), bytes.NewReader(array), AllowImplausible)
		wantFault(t, err, io.ErrUnexpectedEOF, "")
	})
	if most := 16 << 20; got > most {
		t.Errorf("%d bytes allocated for 1 MiB of samples, want %d at most", got, most)
	}
}
