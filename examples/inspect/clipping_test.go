// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"
	"path/filepath"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
)

// TestFullScale clips bursts of known height, invented for this test.
func TestFullScale(t *testing.T) {
	for _, test := range []struct {
		name         string
		height, clip float64 // of the burst, and of the receiver
		whole        bool    // whether samples are rounded to whole numbers
		rate         float64 // samples a period
		want         bool
	}{
		{"clipped at 14 bits", 20000, 8191, true, 10, true},
		{"the same without rounding", 2, 1, false, 10, true},
		{"not clipped", 8000, 8191, true, 10, false},
		{"at full scale, by one sample", 8191, 8191, true, 10, false},
		{"weak, not clipped: rounding makes tops flat", 6, 8191, true, 20, false},
		{"weak, many samples a period", 40, 8191, true, 100, false},
		{"smooth, many samples a period", 1, 2, false, 400, false},
		{"weak, clipped at 6 bits", 100, 31, true, 20, true},
		{"nothing", 0, 1, false, 10, false},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := &fmc.Capture{
				Array: fmc.Array{CentreFrequency: 1}, SampleRate: test.rate,
				Pairs: fmc.FullPairs(1), Samples: int(20 * test.rate),
			}
			for k := range c.Samples {
				phase := 2 * math.Pi * (float64(k)/test.rate - 10)
				v := test.height * math.Exp(-phase*phase/400) * math.Cos(phase)
				v = max(-test.clip-1, min(test.clip, v))
				if test.whole {
					v = math.Round(v)
				} else {
					v = max(-test.clip, v)
				}
				c.Data = append(c.Data, float32(v))
			}
			full := fullScaleOf(c)
			if (full > 0) != test.want {
				t.Fatalf("full scale %v, want one: %v", full, test.want)
			}
			// The positive extreme of whole numbers is one unit below the negative one.
			if test.want && !(float64(full) <= test.clip && float64(full) >= 0.9999*test.clip) {
				t.Errorf("full scale %v, want %v", full, test.clip)
			}
		})
	}
}

// TestClipped clips the block of testdata at a fiftieth of its largest sample. Then the strongest
// echo must not be shown as complete.
func TestClipped(t *testing.T) {
	record, err := npy.ReadFile(filepath.Join("..", "..", "testdata", "block16.json"), nil)
	if err != nil {
		t.Fatal(err)
	}
	clip := slices.Max(record.Capture.Data) / 50
	for i, v := range record.Capture.Data {
		record.Capture.Data[i] = max(-clip, min(clip, v))
	}
	capture := filepath.Join(t.TempDir(), "clipped.json")
	if err := npy.WriteFile(capture, record, npy.Float32); err != nil {
		t.Fatal(err)
	}
	_, r := inspected(t, "-capture", capture, "-step", "0.3", "-x", "-6:0", "-z", "14:20")
	if strongest := r.Views[0].Indications[0]; !slices.Contains(strongest.States, "clipped") {
		t.Errorf("states %v of the strongest indication of a clipped capture, want clipped", strongest.States)
	}
}
