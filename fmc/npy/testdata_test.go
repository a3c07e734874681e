// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

const testdata = "../../testdata"

// references are the captures of testdata. The values are from testdata/README.md.
var references = []struct {
	name    string
	layout  fmc.Layout
	pairs   int
	samples int
	first   float64 // µs
	sum     int64
	holes   int
	slits   int
}{
	{"block16", fmc.Full, 256, 1000, -0.832847, 12827, 4, 0},
	{"weld32", fmc.Half, 528, 2100, -0.624635, 251868, 0, 2},
	{"sdh32", fmc.Half, 528, 2300, -0.624635, 227965, 3, 0},
	{"pipe32", fmc.Half, 528, 868, 8.015365, -399, 3, 0},
	{"wavy32", fmc.Half, 528, 918, 8.015365, -2122, 3, 0},
	{"notch32", fmc.Half, 528, 750, -0.499708, -250937, 0, 2},
	{"tips_plate1", fmc.Half, 528, 625, 2.000292, 29182, 0, 2},
	{"tips_plate2", fmc.Half, 528, 625, 2.000292, 135876, 1, 1},
	{"tips_weld1", fmc.Half, 528, 850, 19.015365, -32176, 0, 2},
	{"tips_weld2", fmc.Half, 528, 850, 19.015365, -28902, 0, 2},
}

func reference(t testing.TB, name string) *Record {
	t.Helper()
	r := check.Must(ReadFile(filepath.Join(testdata, name+".json"), nil))
	return r
}

// TestReferences reads every capture of testdata and writes it again. Both files are the same, byte
// for byte.
func TestReferences(t *testing.T) {
	for _, want := range references {
		t.Run(want.name, func(t *testing.T) {
			r := reference(t, want.name)
			c := r.Capture
			if c.Layout() != want.layout || len(c.Pairs) != want.pairs ||
				c.Samples != want.samples {
				t.Errorf("%v matrix of %d × %d samples, want %v, %d × %d", c.Layout(), len(c.Pairs),
					c.Samples, want.layout, want.pairs, want.samples)
			}
			if c.SampleRate != 50e6 {
				t.Errorf("sample rate %v Hz, want 50e6", c.SampleRate)
			}
			if diff := c.FirstSample*1e6 - want.first; !(diff*diff <= 1e-24) {
				t.Errorf("first sample at %v s, want %v µs", c.FirstSample, want.first)
			}
			sum := int64(0)
			for _, v := range c.Data {
				sum += int64(v)
			}
			if sum != want.sum {
				t.Errorf("sum of samples %d, want %d", sum, want.sum)
			}
			if got := r.Truth; len(got.Holes) != want.holes || len(got.Slits) != want.slits {
				t.Errorf("%d holes and %d slits, want %d and %d", len(got.Holes), len(got.Slits),
					want.holes, want.slits)
			}

			again := filepath.Join(t.TempDir(), want.name+".json")
			if err := WriteFile(again, r, Int16); err != nil {
				t.Fatal(err)
			}
			for _, extension := range []string{".json", ".npy"} {
				compareFiles(t, filepath.Join(testdata, want.name+extension),
					filepath.Join(filepath.Dir(again), want.name+extension))
			}
		})
	}
	files, err := filepath.Glob(filepath.Join(testdata, "*.json"))
	if err != nil || len(files) != len(references) {
		t.Errorf("%d records in testdata, %v, want the %d of the table", len(files), err,
			len(references))
	}
}

func compareFiles(t *testing.T, want, got string) {
	t.Helper()
	a := check.Must(os.ReadFile(want))
	b := check.Must(os.ReadFile(got))
	if !bytes.Equal(a, b) {
		t.Errorf("%s differs from %s", got, want)
	}
}

// TestReferenceSetup checks one set-up of each shape against values that were read from its file by
// eye.
func TestReferenceSetup(t *testing.T) {
	steel := Material{Name: "steel", Density: 7850, Longitudinal: 5920, Transverse: 3240}
	water := &Material{Name: "water", Density: 998, Longitudinal: 1482}
	setup := cmpopts.IgnoreFields(Record{}, "Title", "Capture")
	pipe := &Record{
		Coupling: water,
		Surface:  EntrySurface{Radius: 57.15e-3},
		Part:     steel, Thickness: 14e-3,
		Truth: Truth{Holes: []Hole{
			{X: -7e-3, Z: 6.5e-3, Diameter: 1.2e-3},
			{X: 0.5e-3, Z: 9e-3, Diameter: 1.2e-3},
			{X: 7.5e-3, Z: 7.5e-3, Diameter: 1.2e-3},
		}},
	}
	if diff := cmp.Diff(pipe, reference(t, "pipe32"), setup); diff != "" {
		t.Errorf("pipe32 (-want +got):\n%s", diff)
	}
	notch := &Record{
		Part: steel, Thickness: 25e-3,
		Truth: Truth{Slits: []Slit{
			{X0: -6e-3, Z0: 9e-3, X1: -6e-3, Z1: 14e-3, Width: 0.12e-3},
			{X0: 5e-3, Z0: 19.5e-3, X1: 5e-3, Z1: 25e-3, Width: 0.12e-3},
		}},
	}
	if diff := cmp.Diff(notch, reference(t, "notch32"), setup); diff != "" {
		t.Errorf("notch32 (-want +got):\n%s", diff)
	}
	wavy := reference(t, "wavy32").Surface
	if wavy.String() != "profile" || len(wavy.Points) != 109 {
		t.Fatalf("wavy32: %v of %d points, want a profile of 109", wavy, len(wavy.Points))
	}
	if want := (r3.Vec{X: -27e-3, Z: 5.5572518e-05}); wavy.Points[0] != want {
		t.Errorf("wavy32: first point %v, want %v", wavy.Points[0], want)
	}
}

// TestReferenceReciprocity: only block16 has both traces of a pair. testdata/README.md states that
// they agree to 1e-3 of the largest sample.
func TestReferenceReciprocity(t *testing.T) {
	c := reference(t, "block16").Capture
	largest, worst := float32(0), float32(0)
	for pair, trace := range c.Traces() {
		twin, _ := c.Between(pair.Rx, pair.Tx)
		for k, v := range trace {
			largest = max(largest, v, -v)
			worst = max(worst, v-twin[k], twin[k]-v)
		}
	}
	if !(worst <= 1e-3*largest) || largest == 0 {
		t.Errorf("reciprocal traces differ by %v of %v at most, want 1e-3", worst, largest)
	}
}
