// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"io"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// TestSmall makes the scan of testdata again. A rounding may move one sample in a thousand by one
// step of the digitiser.
func TestSmall(t *testing.T) {
	out := filepath.Join(t.TempDir(), "weld16.json")
	if err := run(t.Context(), io.Discard, job{out: out, small: true}); err != nil {
		t.Fatal(err)
	}
	const stored = "../../testdata/scan/"
	for _, name := range []string{"weld16.json", "weld16.truth.json"} {
		got, want := read(t, filepath.Join(filepath.Dir(out), name)), read(t, stored+name)
		if runtime.GOARCH == "amd64" && string(got) != string(want) {
			t.Errorf("%s differs from the file in testdata", name)
		}
	}
	got, want := open(t, out), open(t, stored+"weld16.json")
	if n := len(got.Frames()); n != 40 || len(want.Frames()) != n {
		t.Fatalf("%d and %d frames: want 40", n, len(want.Frames()))
	}
	moved, all := 0, 0
	for a, err := range fmc.Frames(t.Context(), got.Next) {
		if err != nil {
			t.Fatal(err)
		}
		b, err := want.Next(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		all += len(a.Capture.Data)
		for k, v := range a.Capture.Data {
			d := math.Abs(float64(v - b.Capture.Data[k]))
			if !(d <= 1) {
				t.Fatalf("sample %d of frame %d: %v, in testdata %v", k, a.Index, v, b.Capture.Data[k])
			}
			if d > 0 {
				moved++
			}
		}
	}
	if !(moved*1000 <= all) {
		t.Errorf("%d of %d samples moved by one step", moved, all)
	}
}

// TestImages images frames of the scan of testdata. The peak in a frame must lie within 0.3 mm of
// the true flaw in the section of the frame. Beyond the end of the notch the image must be dark.
// Beyond the end of the lack of fusion it shows the notch.
func TestImages(t *testing.T) {
	scan := open(t, "../../testdata/scan/weld16.json")
	setup, err := scan.Record().Geometry()
	if err != nil {
		t.Fatal(err)
	}
	all, err := synth.ReadTruth("../../testdata/scan/weld16.truth.json")
	if err != nil {
		t.Fatal(err)
	}
	grid, err := tfm.NewSection(24e-3, 38e-3, 2e-3, 16.2e-3, 2e-4)
	if err != nil {
		t.Fatal(err)
	}
	var frames []fmc.Frame
	var peaks [2]float64
	for i := range scan.Frames() {
		f, err := scan.Frame(i)
		if err != nil {
			t.Fatal(err)
		}
		c := *f.Capture
		c.Data = slices.Clone(c.Data)
		f.Capture = &c
		frames = append(frames, f)
	}
	for i, row := range []struct {
		name, view string
		flaw       synth.Planar
	}{{"lack of fusion", "TT-TT", all.Planar[0]}, {"notch", "TT-T", all.Planar[1]}} {
		plan, err := tfm.PlanView(t.Context(), frames[0].Capture, setup, row.view, grid, nil)
		if err != nil {
			t.Fatal(err)
		}
		from, to := row.flaw.Span()
		for _, f := range frames {
			inside := math.Abs(f.Position-(from+to)/2) < 1.2e-3
			outside := f.Position > to+12e-3 && f.Position < to+14.5e-3
			if !inside && !outside {
				continue
			}
			image, err := plan.Image(t.Context(), f.Capture)
			if err != nil {
				t.Fatal(err)
			}
			envelope := image.Envelope(nil)
			found, err := sizing.Find(envelope, &sizing.Options{Floor: -3})
			if err != nil || len(found) == 0 {
				t.Fatal(found, err)
			}
			best := found[0]
			peak, _ := envelope.Peak()
			if outside {
				if share := float64(peak) / peaks[i]; row.name == "notch" && !(share <= 0.01) {
					t.Errorf("%s: %.3g of the peak at %.1f mm: want at most 0.01", row.name, share, f.Position*1e3)
				}
				continue
			}
			peaks[i] = float64(peak)
			crack, _ := row.flaw.At(f.Position)
			along := r3.Sub(crack.To, crack.From)
			at := r3.Sub(r3.Vec{X: best.X, Z: best.Z}, crack.From)
			share := min(max(r3.Dot(at, along)/r3.Norm2(along), 0), 1)
			off := r3.Norm(r3.Sub(at, r3.Scale(share, along)))
			if !(off <= 0.3e-3) {
				t.Errorf("%s: peak at x = %.2f, z = %.2f mm: %.2f mm off the flaw", row.name, best.X*1e3, best.Z*1e3, off*1e3)
			}
		}
	}
}

// TestParts makes a few frames of each part.
func TestParts(t *testing.T) {
	for _, name := range []string{"weld", "girth", "plate"} {
		out := filepath.Join(t.TempDir(), name+".json")
		if err := run(t.Context(), io.Discard, job{out: out, part: name, elements: 3, length: 60e-3, step: 30e-3, seed: 1}); err != nil {
			t.Fatal(err)
		}
		if n := len(open(t, out).Frames()); n < 2 {
			t.Errorf("%s: %d frames", name, n)
		}
	}
	if err := run(t.Context(), io.Discard, job{out: "x.json", part: "bridge"}); err == nil {
		t.Error("an unknown part is no error")
	}
}

func read(t *testing.T, name string) []byte {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func open(t *testing.T, name string) *npy.ScanReader {
	t.Helper()
	scan, err := npy.OpenScan(name, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { scan.Close() })
	return scan
}
