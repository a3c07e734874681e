// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/internal/check"
)

func TestGzipRoundTrip(t *testing.T) {
	for name, r := range variants(t) {
		file := filepath.Join(t.TempDir(), "a.json")
		if err := WriteFileGzip(file, r, Float32); err != nil {
			t.Fatal(err)
		}
		wantFiles(t, filepath.Dir(file), "a.json", "a.npy.gz")
		if diff := cmp.Diff(r, check.Must(ReadFile(file, allow))); diff != "" {
			t.Errorf("%s by file (-want +got):\n%s", name, diff)
		}
		setup, array := encode(t, r, Float32)
		got := check.Must(read(string(setup), pack(t, array)))
		if diff := cmp.Diff(r, got); diff != "" {
			t.Errorf("%s by stream (-want +got):\n%s", name, diff)
		}
	}
}

func TestGzipFaults(t *testing.T) {
	array := plainFile()
	packed := pack(t, array)
	for n := range packed {
		_, err := read(plain, packed[:n])
		wantFault(t, err, ErrArray, "")
		wantFault(t, err, io.ErrUnexpectedEOF, "")
	}
	checksum := bytes.Clone(packed)
	checksum[len(checksum)-8]++
	tests := []struct {
		name, want string
		array      []byte
	}{
		{"wrong checksum", "gzip: invalid checksum", checksum},
		{"what follows is no gzip", "gzip: invalid header", concat(packed, "what follows")},
		{"one byte too many", "more than the 12 bytes", pack(t, concat(array, "1"))},
		{"one byte too many in a second member", "more than the 12 bytes",
			concat(packed, pack(t, []byte("1")))},
		{"gzip within gzip", "header", pack(t, packed)},
		{"empty inside", "unexpected EOF", pack(t, nil)},
		{"promise above the bound", fmt.Sprintf("want %d samples in all at most", 1<<28),
			pack(t, file(dictionary("'<i2'", "False", "(3, 90000000)"), nil))},
	}
	for _, test := range tests {
		_, err := read(plain, test.array)
		wantFault(t, err, ErrArray, test.want)
		s, err := openStream(strings.NewReader(plain), bytes.NewReader(test.array), allow)
		if s != nil {
			t.Errorf("%s: a scan was opened", test.name)
		}
		wantFault(t, err, ErrArray, test.want)
	}
}
