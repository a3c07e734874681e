// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Only Unix-like systems map files.

//go:build unix

package npy

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"
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

// TestGuard: a fault within the mapping is an error, even if the file has its full size, as when a
// disk fails. Another panic stays a panic. The goroutine keeps its own setting of SetPanicOnFault.
func TestGuard(t *testing.T) {
	dir := t.TempDir()
	array := file(dictionary("'<f4'", "False", "(2, 3, 10000)"), make([]byte, 2*3*10000*4))
	put(t, dir, "a.json", []byte(plainScan))
	put(t, dir, "a.npy", array)
	s := check.Must(OpenScan(filepath.Join(dir, "a.json"), allow))
	defer s.Close()
	m := s.store.(*mappedFrames)
	sum := byte(0)
	touch := func() { sum += m.mapping[len(m.mapping)-1] }
	if err := m.guard(touch); err != nil {
		t.Error(err)
	}
	// Watch another file, which is whole, in place of the mapped file.
	if err := os.WriteFile(filepath.Join(dir, "whole"), array, 0o644); err != nil {
		t.Fatal(err)
	}
	whole := check.Must(os.Open(filepath.Join(dir, "whole")))
	m.file, whole = whole, m.file
	defer whole.Close()
	if err := os.Truncate(filepath.Join(dir, "a.npy"), 0); err != nil {
		t.Fatal(err)
	}
	if err := m.guard(touch); !errors.Is(err, ErrArray) ||
		!strings.Contains(err.Error(), "cannot be read") {
		t.Errorf("error %v, want ErrArray and that the file cannot be read", err)
	}
	if debug.SetPanicOnFault(false) {
		t.Error("faults panic after the guard")
	}
	var nowhere *byte
	for name, read := range map[string]func(){
		"panic":               func() { panic("other") },
		"nil pointer":         func() { sum += *nowhere },
		"fault of another":    func() { panic(address(1)) },
		"index out of bounds": func() { sum += bytes.Repeat([]byte{0}, 3)[len(array)] },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			t.Errorf("%s: returned %v", name, m.guard(read))
		}()
	}
}

// address is an error that states the address of a fault.
type address uintptr

func (a address) Addr() uintptr { return uintptr(a) }
