// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"bytes"
	"image/color"
	"os"
	"path/filepath"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestWriteFile checks that a file holds the picture in its format, that users may read it as any
// new file, and that no other file is left.
func TestWriteFile(t *testing.T) {
	p := square("", color.Black)
	for _, test := range []struct {
		name string
		old  bool
	}{{"a.png", false}, {"a.PNG", true}, {"a.svg", true}} {
		t.Run(test.name, func(t *testing.T) {
			folder := t.TempDir()
			name := filepath.Join(folder, test.name)
			if test.old {
				mustNot(t, os.WriteFile(name, []byte("old"), 0o666))
			}
			if err := WriteFile(name, p); err != nil {
				t.Fatal(err)
			}
			var want bytes.Buffer
			write := p.WritePNG
			if filepath.Ext(name) == ".svg" {
				write = p.WriteSVG
			}
			mustNot(t, write(&want))
			if got := check.Must(os.ReadFile(name)); !bytes.Equal(got, want.Bytes()) {
				t.Errorf("%d bytes, want %d", len(got), want.Len())
			}
			if left := check.Must(os.ReadDir(folder)); len(left) != 1 {
				t.Errorf("files %v, want one", left)
			}
			other := filepath.Join(folder, "other") // a new file with the umask of the user
			mustNot(t, os.WriteFile(other, nil, 0o666))
			if got, want := check.Must(os.Stat(name)).Mode(), check.Must(os.Stat(other)).Mode(); got != want {
				t.Errorf("mode %v, want %v", got, want)
			}
		})
	}
}

// TestWriteFileErrors checks that a failed write leaves the folder as it was.
func TestWriteFileErrors(t *testing.T) {
	good := square("", color.Black)
	for _, test := range []struct {
		name, file string
		p          Picture
		want       string
	}{
		{"ending", "a.gif", good, ".png or .svg"},
		{"no ending", "a", good, ".png or .svg"},
		{"a folder", "folder.png", good, "no regular file"},
		{"in a file", filepath.Join("old.png", "a.png"), good, "old.png"},
		{"missing folder", filepath.Join("missing", "a.png"), good, filepath.Join("missing", "a.png")},
		{"bad picture", "old.png", new(Chart), "X from 0 to 0"},
	} {
		t.Run(test.name, func(t *testing.T) {
			folder := t.TempDir()
			old := filepath.Join(folder, "old.png")
			mustNot(t, os.WriteFile(old, []byte("old"), 0o666))
			mustNot(t, os.Mkdir(filepath.Join(folder, "folder.png"), 0o777))
			check.Error(t, WriteFile(filepath.Join(folder, test.file), test.p), test.want)
			if got := check.Must(os.ReadFile(old)); string(got) != "old" {
				t.Errorf("old file now holds %d bytes", len(got))
			}
			if left := check.Must(os.ReadDir(folder)); len(left) != 2 {
				t.Errorf("files %v, want the two from before", left)
			}
		})
	}
}
