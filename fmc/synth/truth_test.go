// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/internal/check"
)

// otherFlaw is a flaw that this package does not know.
type otherFlaw struct{ Planar }

// TestTruth keeps one flaw of each type, and reads the same flaws again.
func TestTruth(t *testing.T) {
	part := &Part{Flaws: []Flaw{
		Planar{Stations: []Station{{S: 1e-3, X0: 2e-3, Z0: 3e-3, X1: 4e-3, Z1: 5e-3}, {S: 9e-3, X1: 1e-3, Z1: 2e-3}}, Rooted: true},
		Drilled{From: 1e-3, To: 2e-3, X: 3e-3, Z: 4e-3, Diameter: 1e-3},
		Pores{X: 1e-3, S: 2e-3, Z: 3e-3, Count: 4, Smallest: 1e-4, Largest: 2e-4, Seed: 1<<63 + 1},
		Pit{X: 1e-3, S: 2e-3, Diameter: 3e-3, Depth: 1e-3},
	}}
	want := check.Must(NewTruth("four flaws", part, []Patch{{From: 1e-3, To: 2e-3, Loss: 6}}))
	name := filepath.Join(t.TempDir(), "truth.json")
	if err := want.WriteFile(name); err != nil {
		t.Fatal(err)
	}
	got := check.Must(ReadTruth(name))
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if n := len(got.Planar) + len(got.Drilled) + len(got.Pores) + len(got.Pits); n != len(part.Flaws) {
		t.Errorf("%d flaws, want %d", n, len(part.Flaws))
	}
}

func TestTruthErrors(t *testing.T) {
	_, err := NewTruth("", &Part{Flaws: []Flaw{Pit{}, otherFlaw{}}}, nil)
	check.Error(t, err, "Flaws[1]", "otherFlaw")
	folder := t.TempDir()
	if _, err := ReadTruth(filepath.Join(folder, "none.json")); !strings.Contains(err.Error(), "none.json") {
		t.Errorf("error %v: want the name of the file", err)
	} else if _, ok := err.(*fs.PathError); !ok {
		t.Errorf("error of type %T: want *fs.PathError", err)
	}
	name := filepath.Join(folder, "odd.json")
	for _, text := range []string{`{"title": 7}`, `{"cracks": []}`, ``} {
		if err := os.WriteFile(name, []byte(text), 0o666); err != nil {
			t.Fatal(err)
		}
		_, err := ReadTruth(name)
		check.Error(t, err, "synth: ", "odd.json")
	}
}
