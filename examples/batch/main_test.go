// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestParts images a stored scan in three parts, one of them twice, as after a worker whose end
// nobody saw. The merged stack must have the bytes of one run.
func TestParts(t *testing.T) {
	folder := t.TempDir()
	do := func(part, merge, name string) error {
		return run(t.Context(), io.Discard, job{
			scan: "../../testdata/scan/weld16.json", views: "TT-T", part: part, merge: merge, stack: name,
			from: 24e-3, to: 44e-3, top: 0.2e-3, bottom: 16.2e-3, step: 0.2e-3,
		})
	}
	whole, merged := filepath.Join(folder, "whole", "stack.json"), filepath.Join(folder, "merged", "stack.json")
	if err := do("1/1", "", whole); err != nil {
		t.Fatal(err)
	}
	for _, k := range []string{"1", "2", "3", "2"} {
		if err := do(k+"/3", "", filepath.Join(folder, "parts", k+".json")); err != nil {
			t.Fatal(err)
		}
	}
	pattern := filepath.Join(folder, "parts", "*.json")
	if err := do("", pattern, merged); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"stack.json", "stack.npy"} {
		a := check.Must(os.ReadFile(filepath.Join(filepath.Dir(whole), name)))
		if b := check.Must(os.ReadFile(filepath.Join(filepath.Dir(merged), name))); !bytes.Equal(a, b) {
			t.Errorf("%s differs from the file of one run", name)
		}
	}
	if err := os.Remove(filepath.Join(folder, "parts", "2.json")); err != nil {
		t.Fatal(err)
	}
	check.Error(t, do("", pattern, filepath.Join(folder, "holes.json")), "13 frames are in no part", "frame 13")
	check.Error(t, do("", filepath.Join(folder, "none", "*"), merged), "no such file")
	check.Error(t, do("4/3", "", merged), "-part 4/3")
	check.Error(t, do("1/100", "", merged), "no more parts than frames")
	check.Error(t, do("1/2/3", "", merged), "-part 1/2/3")
	check.Error(t, do("1/2", "", ""), "want -stack")
	check.Error(t, do("1/2", pattern, merged), "either -part or -merge")
}
