// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestLocated checks that an error about a relative path names the working folder, once.
func TestLocated(t *testing.T) {
	t.Chdir(t.TempDir())
	here := check.Must(os.Getwd()) // with links resolved
	open := func(name string) error {
		_, err := os.Open(name)
		return fmt.Errorf("wrapped: %w", err)
	}
	for _, test := range []struct {
		name   string
		err    error
		suffix string
	}{
		{"relative path", open("missing"), " (from the folder " + here + ")"},
		{"absolute path", open(filepath.Join(here, "missing")), ""},
		{"rename", os.Rename("missing", "new"), " (from the folder " + here + ")"},
		{"no path", errors.New("broken"), ""},
	} {
		if got, want := located(test.err).Error(), test.err.Error()+test.suffix; got != want {
			t.Errorf("%s: error %q, want %q", test.name, got, want)
		}
	}
}

// TestOneLine checks that lines, control characters and bad bytes do not reach a terminal.
func TestOneLine(t *testing.T) {
	for text, want := range map[string]string{
		"one\ntwo\x1b[2J\a": "one two [2J",
		" a \t b\r\n":       "a b",
		"bad \xff byte":     "bad \uFFFD byte",
		"4 µm – ok":         "4 µm – ok",
	} {
		if got := oneLine(text); got != want {
			t.Errorf("%q gives %q, want %q", text, got, want)
		}
	}
}
