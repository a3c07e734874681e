// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build unix

package disk

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime/debug"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

const size = 240_000 // many pages

// mapped returns a mapping of a new file, and the path of the file.
func mapped(t *testing.T) (m *Mapping, name string) {
	t.Helper()
	name = filepath.Join(t.TempDir(), "a")
	if err := os.WriteFile(name, make([]byte, size), 0o644); err != nil {
		t.Fatal(err)
	}
	f := check.Must(os.Open(name))
	t.Cleanup(func() { f.Close() })
	m = check.Must(Map(f, size))
	t.Cleanup(func() { m.Close() })
	return m, name
}

// TestCut: reading beyond the end of a file that was cut short is an error, and so is Check.
func TestCut(t *testing.T) {
	m, name := mapped(t)
	if err := m.Check(); err != nil {
		t.Error(err)
	}
	if err := os.Truncate(name, 100); err != nil {
		t.Fatal(err)
	}
	sum := byte(0)
	if err := m.Guard(func() { sum += m.bytes[size-1] }); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("error %v, want io.ErrUnexpectedEOF", err)
	}
	if err := m.Check(); !errors.Is(err, io.ErrUnexpectedEOF) {
		t.Errorf("error %v, want io.ErrUnexpectedEOF", err)
	}
}

// TestGuard: a fault within the mapping is an error, even if the file has its full size, as when a
// disk fails. Another panic stays a panic. The goroutine keeps its own setting of SetPanicOnFault.
func TestGuard(t *testing.T) {
	m, name := mapped(t)
	sum := byte(0)
	touch := func() { sum += m.bytes[size-1] }
	if err := m.Guard(touch); err != nil {
		t.Error(err)
	}
	// Watch another file, which is whole, in place of the mapped file.
	if err := os.WriteFile(name+".whole", make([]byte, size), 0o644); err != nil {
		t.Fatal(err)
	}
	m.file = check.Must(os.Open(name + ".whole"))
	defer m.file.Close()
	if err := os.Truncate(name, 0); err != nil {
		t.Fatal(err)
	}
	if err := m.Guard(touch); !errors.Is(err, ErrRead) {
		t.Errorf("error %v, want ErrRead", err)
	}
	if debug.SetPanicOnFault(false) {
		t.Error("faults panic after the guard")
	}
	var nowhere *byte
	for name, read := range map[string]func(){
		"panic":               func() { panic("other") },
		"nil pointer":         func() { sum += *nowhere },
		"fault of another":    func() { panic(address(1)) },
		"index out of bounds": func() { sum += bytes.Repeat([]byte{0}, 3)[len(m.bytes)] },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			t.Errorf("%s: returned %v", name, m.Guard(read))
		}()
	}
}

// address is an error that states the address of a fault.
type address uintptr

func (a address) Addr() uintptr { return uintptr(a) }

// TestLock: a file has one lock, which ends with its file.
func TestLock(t *testing.T) {
	name := filepath.Join(t.TempDir(), "a")
	first := check.Must(os.Create(name))
	if err := Lock(first); err != nil {
		t.Fatal(err)
	}
	second := check.Must(os.Open(name))
	defer second.Close()
	if err := Lock(second); !errors.Is(err, ErrLocked) {
		t.Errorf("second lock: %v, want ErrLocked", err)
	}
	first.Close()
	if err := Lock(second); err != nil {
		t.Errorf("lock after the first has ended: %v", err)
	}
}
