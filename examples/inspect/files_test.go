// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// text returns a function that writes s.
func text(s string) func(io.Writer) error {
	return func(w io.Writer) error {
		_, err := io.WriteString(w, s)
		return err
	}
}

// contents returns the files below a folder, "/" for folders.
func contents(t *testing.T, folder string) map[string]string {
	t.Helper()
	found := map[string]string{}
	err := filepath.WalkDir(folder, func(path string, d os.DirEntry, err error) error {
		if err != nil || path == folder {
			return err
		}
		name, _ := filepath.Rel(folder, path)
		if d.IsDir() {
			found[name] = "/"
			return nil
		}
		data, err := os.ReadFile(path)
		found[name] = string(data)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// put writes a file.
func put(t *testing.T, folder, name, data string) {
	t.Helper()
	if err := os.WriteFile(filepath.Join(folder, name), []byte(data), 0o666); err != nil {
		t.Fatal(err)
	}
}

// TestCommit checks that a commit writes all files, and that a failed commit writes none. A folder
// with the name of the last file makes its rename fail.
func TestCommit(t *testing.T) {
	for _, test := range []struct {
		name    string
		blocked bool
		want    map[string]string
	}{
		{"all", false, map[string]string{"a": "new", "b": "new", "c": "new", "other": "kept"}},
		{"none", true, map[string]string{"a": "old", "c": "/", "other": "kept"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			folder := t.TempDir()
			put(t, folder, "a", "old")
			put(t, folder, "other", "kept")
			if test.blocked {
				if err := os.Mkdir(filepath.Join(folder, "c"), 0o777); err != nil {
					t.Fatal(err)
				}
			}
			f := outputs{folder: folder}
			for _, name := range []string{"a", "b", "c"} {
				if err := f.add(name, text("new")); err != nil {
					t.Fatal(err)
				}
			}
			if err := f.commit(); (err != nil) != test.blocked {
				t.Fatal(err)
			}
			if diff := cmp.Diff(test.want, contents(t, folder)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// TestFolders checks that a commit makes missing folders, and that a failed commit removes them.
func TestFolders(t *testing.T) {
	top := t.TempDir()
	if err := writeOutput(filepath.Join(top, "x", "y", "a.png"), text("picture")); err != nil {
		t.Fatal(err)
	}
	broken := errors.New("broken")
	if err := writeOutput(filepath.Join(top, "p", "q", "a.png"), func(io.Writer) error { return broken }); !errors.Is(err, broken) {
		t.Errorf("error %v, want %v", err, broken)
	}
	f := outputs{folder: filepath.Join(top, "r", "s")}
	if err := f.add(filepath.Join("no", "such"), text("")); err != nil {
		t.Fatal(err)
	}
	if err := f.commit(); err == nil {
		t.Error("no error for a file in a folder that is missing")
	}
	want := map[string]string{"x": "/", filepath.Join("x", "y"): "/", filepath.Join("x", "y", "a.png"): "picture"}
	if diff := cmp.Diff(want, contents(t, top)); diff != "" {
		t.Error(diff)
	}
}

// TestSpare checks that spare rejects each folder that contains the input.
func TestSpare(t *testing.T) {
	top := t.TempDir()
	home, out := filepath.Join(top, "home"), filepath.Join(top, "out")
	for _, folder := range []string{home, out, filepath.Join(top, "linked")} {
		if err := os.Mkdir(folder, 0o777); err != nil {
			t.Fatal(err)
		}
	}
	put(t, home, "indications.json", "input")
	input := filepath.Join(home, "indications.json")
	if err := os.Link(input, filepath.Join(top, "linked", "indications.json")); err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct{ folder, word string }{
		{out, ""},
		{filepath.Join(top, "new"), ""},
		{home, "is the folder of the input"},
		{filepath.Join(out, "..", "home"), "is the folder of the input"},
		{filepath.Join(top, "linked"), "by another name"},
		{input, "is a file"},
	} {
		f := outputs{folder: test.folder}
		err := f.spare(input)
		if (err == nil) != (test.word == "") || err != nil && !strings.Contains(err.Error(), test.word) {
			t.Errorf("%s: error %v, want %q", test.folder, err, test.word)
		}
	}
}
