// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"errors"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// TestCrash stops the replacing of a record after each number of steps. The old record or the new
// record is then whole, and can be replaced again.
func TestCrash(t *testing.T) {
	old, fresh := invented(t, fmc.HalfPairs(3)), invented(t, fmc.FullPairs(3))
	last := withEvents(t, fmc.EventPairs(2, 3))
	for _, test := range []struct {
		name  string
		write func(name string) error // of the old record
	}{
		{"new record", func(string) error { return nil }},
		{"array of the plain name", func(name string) error { return WriteFile(name, old, Int16) }},
		{"array that replaced one", func(name string) error {
			return errors.Join(WriteFile(name, last, Int16), WriteFile(name, old, Int16))
		}},
		{"gzip", func(name string) error { return WriteFileGzip(name, old, Int16) }},
		{"array without a set-up", func(name string) error {
			return os.WriteFile(strings.TrimSuffix(name, "json")+"npy",
				[]byte("of another program"), 0o644)
		}},
	} {
		t.Run(test.name, func(t *testing.T) {
			outcomes := ""
			for n := range len(new(pending).steps()) + 1 {
				name := filepath.Join(t.TempDir(), "a.json")
				if err := test.write(name); err != nil {
					t.Fatal(err)
				}
				_, err := os.Stat(name)
				isNew := err != nil
				p := advance(t, name, fresh, n)
				t.Cleanup(p.discard)
				switch got, err := ReadFile(name, allow); {
				case err == nil && cmp.Equal(got, fresh):
					outcomes += "1"
				case err == nil && cmp.Equal(got, old), isNew && errors.Is(err, os.ErrNotExist):
					outcomes += "0"
				default:
					t.Errorf("after %d steps: error %v, or a record that is neither", n, err)
				}
				if err := WriteFile(name, last, Float32); err != nil {
					t.Fatal(err)
				}
				if got, err := ReadFile(name, allow); err != nil || !cmp.Equal(got, last) {
					t.Errorf("replaced after %d steps: error %v, or another record", n, err)
				}
			}
			if !regexp.MustCompile("^0+1+$").MatchString(outcomes) {
				t.Errorf("old (0) and new (1) records %q by the number of steps, want the old and then the new", outcomes)
			}
		})
	}
}

// TestCommitFails discards the replacing of a record after each number of steps. The old files
// stay, or the new set-up and its array.
func TestCommitFails(t *testing.T) {
	for n := range len(new(pending).steps()) + 1 {
		name := filepath.Join(t.TempDir(), "a.json")
		if err := WriteFile(name, invented(t, fmc.HalfPairs(3)), Int16); err != nil {
			t.Fatal(err)
		}
		advance(t, name, invented(t, fmc.FullPairs(3)), n).discard()
		if array := arrayOf(t, name); array == "a.npy" {
			wantFiles(t, filepath.Dir(name), "a.json", "a.npy")
		} else {
			wantFiles(t, filepath.Dir(name), array, "a.json", "a.npy")
		}
	}
}

// TestNoRoomForTheArray: file systems commonly limit a name to 255 bytes. The temporary name of the
// set-up has 254 bytes here and the temporary name of the array 256: the set-up is removed again.
func TestNoRoomForTheArray(t *testing.T) {
	dir := t.TempDir()
	name := filepath.Join(dir, strings.Repeat("a", 228)+".json")
	var path *os.PathError
	if err := WriteFileGzip(name, invented(t, fmc.FullPairs(3)), Int16); !errors.As(err, &path) {
		t.Errorf("error %v, want an error of the file system", err)
	}
	wantFiles(t, dir)
}

// advance carries out n steps of writing a record.
func advance(t *testing.T, name string, r *Record, n int) *pending {
	t.Helper()
	p := check.Must(createPending(name, ".npy"))
	if err := write(p.setup, p.array, p.nameArray(), r, Int16); err != nil {
		t.Fatal(err)
	}
	for _, step := range p.steps()[:n] {
		if err := step(); err != nil {
			t.Fatal(err)
		}
	}
	return p
}

// TestReplacedArray: the array of the old set-up is removed if this package gave it its name. An
// array with another name may belong to several set-ups, and stays.
func TestReplacedArray(t *testing.T) {
	for _, test := range []struct {
		file string
		goes bool
	}{
		{"a.npy", true},
		{"a.npy.gz", true},
		{"a-0123456789abcdef.npy", true},
		{"a-0123456789abcdef.npy.gz", true},
		{"b.npy", false},
		{"a-1.npy", false},
		{"a-0123456789abcdef0.npy", false},
		{"a-0123456789ABCDEF.npy", false},
		{"aa.npy", false},
		{"a.npy.bak", false},
		{"a", false},
	} {
		dir := t.TempDir()
		name := filepath.Join(dir, "a.json")
		put(t, dir, "a.json", []byte(strings.Replace(plain, "a.npy", test.file, 1)))
		put(t, dir, test.file, plainFile())
		if err := WriteFile(name, invented(t, fmc.FullPairs(3)), Int16); err != nil {
			t.Fatal(err)
		}
		if test.goes {
			wantPair(t, name)
		} else {
			wantPair(t, name, test.file)
		}
	}
}
