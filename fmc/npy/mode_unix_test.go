// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Only Unix-like systems have these modes.

//go:build unix

package npy

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"golang.org/x/sys/unix"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// writers are the functions that write a record by its name.
var writers = map[string]func(name string, r *Record) error{
	"WriteFile":     func(name string, r *Record) error { return WriteFile(name, r, Int16) },
	"WriteFileGzip": func(name string, r *Record) error { return WriteFileGzip(name, r, Int16) },
	"CreateScan": func(name string, r *Record) error {
		w, err := CreateScan(name, r, Int16)
		if err != nil {
			return err
		}
		return errors.Join(w.Append(fmc.Frame{Capture: r.Capture}), w.Close())
	},
}

// withUmask calls f under a umask. The whole process has one umask.
func withUmask(umask int, f func()) {
	defer unix.Umask(unix.Umask(umask))
	f()
}

func mode(t *testing.T, name string) fs.FileMode {
	t.Helper()
	info := check.Must(os.Stat(name))
	return info.Mode()
}

// TestModeOfNewFiles: new files have the mode that os.Create gives, during and after the writing.
func TestModeOfNewFiles(t *testing.T) {
	for _, umask := range []int{0, 0o027} {
		withUmask(umask, func() {
			dir := t.TempDir()
			f := check.Must(os.Create(filepath.Join(dir, "by os.Create")))
			want := mode(t, f.Name())
			if err := f.Close(); err != nil {
				t.Fatal(err)
			}
			name := filepath.Join(dir, "a.json")
			p := check.Must(createPending(name, ".npy"))
			for _, file := range []*os.File{p.setup, p.array} {
				if got := mode(t, file.Name()); got != want {
					t.Errorf("umask %03o: %s has mode %v, want %v", umask,
						filepath.Base(file.Name()), got, want)
				}
			}
			p.discard()
			for writer, write := range writers {
				name := filepath.Join(dir, writer+".json")
				if err := write(name, invented(t, fmc.FullPairs(3))); err != nil {
					t.Fatal(err)
				}
				for _, file := range []string{name, filepath.Join(dir, arrayOf(t, name))} {
					if got := mode(t, file); got != want {
						t.Errorf("umask %03o: %s has mode %v, want %v", umask, filepath.Base(file),
							got, want)
					}
				}
			}
		})
	}
}

// TestModeOfReplacedFiles: each file has the mode of the file that it replaces, during and after
// the writing, with any umask.
func TestModeOfReplacedFiles(t *testing.T) {
	for _, test := range []struct{ setup, array fs.FileMode }{
		{0o666, 0o600},
		{0o444, 0o400},
	} {
		for writer, write := range writers {
			withUmask(0o027, func() {
				dir := t.TempDir()
				name := filepath.Join(dir, "a.json")
				r := invented(t, fmc.FullPairs(3))
				for range 2 {
					if err := write(name, r); err != nil {
						t.Fatal(err)
					}
					if err := errors.Join(os.Chmod(name, test.setup),
						os.Chmod(filepath.Join(dir, arrayOf(t, name)), test.array)); err != nil {
						t.Fatal(err)
					}
				}
				if err := write(name, r); err != nil {
					t.Fatal(err)
				}
				p := check.Must(createPending(name, ".npy"))
				for file, want := range map[string]fs.FileMode{
					name: test.setup, filepath.Join(dir, arrayOf(t, name)): test.array,
					p.setup.Name(): test.setup, p.array.Name(): test.array,
				} {
					if got := mode(t, file); got != want {
						t.Errorf("%s: %s has mode %v, want %v", writer, filepath.Base(file), got,
							want)
					}
				}
				p.discard()
			})
		}
	}
}

// TestReadOnlyFolder: to write into a read-only folder is an error, and the old record stays.
func TestReadOnlyFolder(t *testing.T) {
	if os.Geteuid() == 0 {
		t.Skip("the superuser may write to any folder")
	}
	dir := t.TempDir()
	name := filepath.Join(dir, "a.json")
	for writer, write := range writers {
		if err := write(name, invented(t, fmc.FullPairs(3))); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(dir, 0o555); err != nil {
			t.Fatal(err)
		}
		if err := write(name, invented(t, fmc.HalfPairs(3))); !errors.Is(err, fs.ErrPermission) {
			t.Errorf("%s: error %v, want fs.ErrPermission", writer, err)
		}
		if err := os.Chmod(dir, 0o755); err != nil {
			t.Fatal(err)
		}
		wantPair(t, name)
	}
}

// TestReplacedLink: a file replaces a symbolic link. It has the mode of the file that the link led
// to, and that file stays.
func TestReplacedLink(t *testing.T) {
	dir := t.TempDir()
	r := invented(t, fmc.FullPairs(3))
	if err := WriteFile(filepath.Join(dir, "b.json"), r, Int16); err != nil {
		t.Fatal(err)
	}
	if err := errors.Join(os.Chmod(filepath.Join(dir, "b.json"), 0o600),
		os.Symlink("b.json", filepath.Join(dir, "a.json"))); err != nil {
		t.Fatal(err)
	}
	if err := WriteFile(filepath.Join(dir, "a.json"), invented(t, fmc.HalfPairs(3)),
		Int16); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Lstat(filepath.Join(dir, "a.json")); err != nil || info.Mode() != 0o600 {
		t.Errorf("mode %v, %v, want a file of mode 0600", info.Mode(), err)
	}
	if got, err := ReadFile(filepath.Join(dir, "b.json"), allow); err != nil ||
		len(got.Capture.Pairs) != 9 {
		t.Errorf("the record that the link led to: %v", err)
	}
}
