// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Only Unix-like systems map files.

//go:build unix

package npy

import (
	"io"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestMappedCut cuts a mapped file short while it is open. Reading returns errors, and neither
// kills the program nor yields zeros. A frame before the cut can still be read.
func TestMappedCut(t *testing.T) {
	const k = 20000 // samples of a trace: a frame is many pages
	setup := []byte(plainScan)
	for st, sampleType := range sampleTypes {
		for _, order := range []string{"<", ">"} {
			array := file(dictionary("'"+order+sampleType.code+"'", "False",
				"(2, 3, "+strconv.Itoa(k)+")"), make([]byte, 2*3*k*sampleType.size))
			frame := 3 * k * sampleType.size
			for name, left := range map[string]int{"one byte": len(array) - 1,
				"half of a frame": len(array) - frame/2, "a frame": len(array) - frame,
				"header": 64, "all": 0} {
				dir := t.TempDir()
				put(t, dir, "a.json", setup)
				put(t, dir, "a.npy", array)
				s := check.Must(OpenScan(filepath.Join(dir, "a.json"), allow))
				if _, mapped := s.store.(*mappedFrames); !mapped {
					t.Fatal("the file is not mapped")
				}
				name = SampleType(st).String() + ", " + order + ", " + name
				for i := range 2 {
					if _, err := s.Frame(i); err != nil {
						t.Errorf("%s: frame %d before the cut: %v", name, i, err)
					}
				}
				if err := os.Truncate(filepath.Join(dir, "a.npy"), int64(left)); err != nil {
					t.Fatal(err)
				}
				for i := range 2 {
					_, err := s.Frame(i)
					wantFault(t, err, ErrArray, "cut short")
					wantFault(t, err, io.ErrUnexpectedEOF, "")
					if SampleType(st) == Int16 {
						_, err = s.Int16(i)
						wantFault(t, err, io.ErrUnexpectedEOF, "cut short")
					}
				}
				if err := s.Close(); err != nil {
					t.Error(err)
				}
			}
		}
	}
}
