// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stream

import (
	"io"
	"path/filepath"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
)

// stored writes a scan of frames with the indices 0, 1, 3 and 4, whose samples are their index.
func stored(t *testing.T, samples npy.SampleType) *npy.ScanReader {
	t.Helper()
	array := check.Must(fmc.LinearArray(2, 1e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	capture := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.HalfPairs(2), Samples: 400, SampleRate: 50e6, Data: make([]float32, 1200)}))
	record := &npy.Record{
		Title: "four frames", Capture: capture, Thickness: 10e-3,
		Part: npy.Material{Name: "steel", Density: 7850, Longitudinal: 5900, Transverse: 3230},
	}
	name := filepath.Join(t.TempDir(), "scan.json")
	w := check.Must(npy.CreateScan(name, record, samples))
	for _, index := range []int{0, 1, 3, 4} {
		for i := range capture.Data {
			capture.Data[i] = float32(index)
		}
		if err := w.Append(fmc.Frame{Index: index, Time: float64(index), Position: float64(index) * 1e-3, Capture: capture}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	file := check.Must(npy.OpenScan(name, nil))
	t.Cleanup(func() { file.Close() })
	return file
}

// TestScanSource checks which frames a range delivers, with their samples and positions.
func TestScanSource(t *testing.T) {
	for _, row := range []struct {
		name     string
		samples  npy.SampleType
		from, to int
		want     []int
	}{
		{"all", npy.Int16, 0, 0, []int{0, 1, 3, 4}},
		{"a range that ends at a lost frame", npy.Int16, 1, 3, []int{1}},
		{"a range that begins at a lost frame", npy.Int16, 2, 5, []int{3, 4}},
		{"none", npy.Int16, 2, 3, nil},
		{"beyond the end", npy.Int16, 9, 0, nil},
		{"float32", npy.Float32, 1, 4, []int{1, 3}},
	} {
		t.Run(row.name, func(t *testing.T) {
			source := ScanSource(stored(t, row.samples), row.from, row.to)
			for _, index := range row.want {
				var f Frame
				if err := source(t.Context(), &f); err != nil {
					t.Fatal(err)
				}
				if f.Index != index || f.Position != float64(index)*1e-3 || f.Time != float64(index) {
					t.Errorf("frame %+v, want the frame %d", f, index)
				}
				if n := len(f.Int16) + len(f.Float32); n != 1200 || (len(f.Int16) > 0) != (row.samples == npy.Int16) {
					t.Errorf("%d and %d samples, want 1200 of the stored type", len(f.Int16), len(f.Float32))
				}
				for _, v := range f.Int16 {
					check.Within(t, "sample", float64(v), float64(index), 0)
				}
				for _, v := range f.Float32 {
					check.Within(t, "sample", float64(v), float64(index), 0)
				}
			}
			if err := source(t.Context(), new(Frame)); err != io.EOF {
				t.Errorf("error %v at the end, want io.EOF", err)
			}
		})
	}
	if ScanSource(nil, 0, 0) != nil {
		t.Error("a source of no file")
	}
}
