// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/flaw"
)

// middle cuts a full capture down to the middle elements of its array.
func middle(record *npy.Record, elements int) {
	full := record.Capture
	c := *full
	first := (len(full.Array.Elements) - elements) / 2
	c.Array.Elements, c.Pairs, c.Data = full.Array.Elements[first:first+elements], fmc.FullPairs(elements), nil
	for _, p := range c.Pairs {
		trace, _ := full.Between(p.Tx+first, p.Rx+first)
		c.Data = append(c.Data, trace...)
	}
	record.Capture = &c
}

// TestGrains images holes in an austenitic weld, with the weld in a file of its own. The three
// strongest indications lie at the faces of the three holes, and no flaw is planar. The full-wave
// capture knows no rays.
func TestGrains(t *testing.T) {
	if testing.Short() {
		t.Skip("rays through a weld")
	}
	t.Chdir("../..")
	record := check.Must(npy.ReadFile("testdata/austenitic/grain32.json", nil))
	elements, tolerance := 32, 0.25 // mm
	if !long {
		elements, tolerance = 16, 0.6
	}
	middle(record, elements)
	folder, out := t.TempDir(), t.TempDir()
	weld, capture := filepath.Join(folder, "weld.json"), filepath.Join(folder, "plain.json")
	text := check.Must(json.Marshal(map[string]any{"weld": record.Weld}))
	if err := os.WriteFile(weld, text, 0o600); err != nil {
		t.Fatal(err)
	}
	record.Weld = nil
	if err := npy.WriteFile(capture, record, npy.Int16); err != nil {
		t.Fatal(err)
	}
	do(t, done, "-capture", capture, "-weld", weld, "-step", "0.2", "-x", "-6:14", "-z", "8:25", "-section", "-out", out)
	var r summary
	if err := json.Unmarshal(check.Must(os.ReadFile(filepath.Join(out, "indications.json"))), &r); err != nil {
		t.Fatal(err)
	}
	for _, in := range r.Views[0].Indications[:3] {
		off := math.Inf(1)
		for _, h := range record.Truth.Holes {
			off = min(off, math.Abs(math.Hypot(in.X-h.X, in.Z-h.Z)-h.Diameter/2))
		}
		check.Within(t, "distance of an indication from the nearest face in mm", off*1e3, 0, tolerance)
	}
	for _, f := range r.Flaws {
		if f.Kind == flaw.Planar {
			t.Errorf("planar flaw at x %.1f mm, z %.1f mm", f.X*1e3, f.Z*1e3)
		}
	}
	do(t, fail, "-capture", capture, "-weld", filepath.Join(folder, "none.json"))
}
