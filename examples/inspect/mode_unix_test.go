// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build unix

package main

import (
	"io/fs"
	"os"
	"path/filepath"
	"testing"

	"golang.org/x/sys/unix"
)

// TestMode has results for the eyes of those only whom the umask lets see them.
func TestMode(t *testing.T) {
	for _, test := range []struct {
		umask int
		want  fs.FileMode
	}{
		{0o077, 0o600},
		{0o027, 0o640},
		{0o002, 0o664},
	} {
		name := filepath.Join(t.TempDir(), "table")
		old := unix.Umask(test.umask)
		err := writeOutput(name, text("data"))
		unix.Umask(old)
		if err != nil {
			t.Fatal(err)
		}
		info, err := os.Stat(name)
		if err != nil {
			t.Fatal(err)
		}
		if info.Mode() != test.want {
			t.Errorf("umask %03o: mode %v, want %v", test.umask, info.Mode(), test.want)
		}
	}
}
