// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"context"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// level is the level of one hole of a full-wave capture in dB, as the image shows it and divided by
// the map.
type level struct{ image, corrected float64 }

// fullWave returns the levels of the holes of a capture of testdata in a view.
func fullWave(t *testing.T, name, view string, holes ...int) (levels []level) {
	t.Helper()
	ctx := context.Background()
	r, err := npy.ReadFile("../../testdata/"+name+".json", nil)
	if err != nil {
		t.Fatal(err)
	}
	setup, err := r.Geometry()
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range holes {
		h := r.Truth.Holes[k]
		centre := r3.Vec{X: h.X, Z: h.Z}
		const margin = 2e-3
		g, err := tfm.NewSection(h.X-margin, h.X+margin, h.Z-margin, h.Z+margin, 0.1e-3)
		if err != nil {
			t.Fatal(err)
		}
		plan, err := tfm.PlanView(ctx, r.Capture, setup, view, g, nil)
		if err != nil {
			t.Fatal(err)
		}
		image, err := plan.Image(ctx, r.Capture)
		if err != nil {
			t.Fatal(err)
		}
		envelope := image.Envelope(nil)
		m, err := New(ctx, r.Capture, setup, view, g, Hole{h.Diameter}, &Options{Dimension: wedge.Section, Spacing: 1e-3})
		if err != nil {
			t.Fatal(err)
		}
		peak := peakNear(envelope, centre, h.Diameter)
		l := level{decibels(float64(envelope.Data[peak])), decibels(float64(envelope.Data[peak] / m.Data[peak]))}
		t.Logf("%s %s, hole at (%.1f, %.1f) mm: %6.2f dB, corrected %6.2f dB", name, view, h.X*1e3, h.Z*1e3, l.image, l.corrected)
		levels = append(levels, l)
	}
	return levels
}

// TestFullWave corrects the levels of equal holes in the full-wave captures, which contain no ray
// model.
//
// Two kinds of holes are left out. The second and third hole of sdh32 are in the shadow of the
// first hole. In the T-T views through water, the middle hole lies below the array. There the map
// is 16 dB (pipe32) and 9 dB (wavy32) below the other holes, and other waves are as strong as its
// echo.
func TestFullWave(t *testing.T) {
	for _, test := range []struct {
		name, view string
		holes      []int
		before     float64 // smallest spread without correction, dB
		after      float64 // largest spread with correction, dB
	}{
		{"block16", "L-L", []int{0, 1, 2, 3}, 5, 1},
		{"pipe32", "L-L", []int{0, 1, 2}, 2.5, 1},
		{"pipe32", "T-T", []int{0, 2}, 0, 1},
		{"wavy32", "L-L", []int{0, 1, 2}, 2, 1},
		{"wavy32", "T-T", []int{0, 2}, 6.5, 1.5},
	} {
		if testing.Short() && test.name != "block16" {
			continue
		}
		var before, after []float64
		for _, l := range fullWave(t, test.name, test.view, test.holes...) {
			before, after = append(before, l.image), append(after, l.corrected)
		}
		if got := spread(before); !(got >= test.before) {
			t.Errorf("%s %s: levels spread over %.2f dB without correction: want %v at least, or the test shows nothing",
				test.name, test.view, got, test.before)
		}
		if got := spread(after); !(got <= test.after) {
			t.Errorf("%s %s: corrected levels spread over %.2f dB: want %v dB at most", test.name, test.view, got, test.after)
		}
		t.Logf("%s %s: spread %.2f dB, corrected %.2f dB", test.name, test.view, spread(before), spread(after))
	}
}

// TestViewsComparable shows one hole of a full-wave capture in two views. The levels of both views
// differ by up to 16 dB. Divided by the maps they agree.
func TestViewsComparable(t *testing.T) {
	for _, test := range []struct {
		name, one, other string
		hole             int
	}{
		{"sdh32", "T-T", "TT-T", 0},
		{"pipe32", "L-L", "T-T", 0},
		{"pipe32", "L-L", "T-T", 2},
		{"wavy32", "L-L", "T-T", 0},
	} {
		if testing.Short() && test.name != "sdh32" {
			continue
		}
		one, other := fullWave(t, test.name, test.one, test.hole)[0], fullWave(t, test.name, test.other, test.hole)[0]
		if apart := math.Abs(one.image - other.image); !(apart >= 6) {
			t.Errorf("%s: levels %.2f dB apart without correction: want 6 dB at least, or the test shows nothing", test.name, apart)
		}
		if apart := math.Abs(one.corrected - other.corrected); !(apart <= 2) {
			t.Errorf("%s, hole %d: %s and %s differ by %.2f dB after division by their maps: want 2 dB at most",
				test.name, test.hole, test.one, test.other, apart)
		}
	}
}

// TestPlanarFullWave compares planar flaws that mirror the beam with a hole, in full-wave captures
// of the same array and wedge. The flaws are the lack of fusion and the root notch of weld32. The
// hole is the first hole of sdh32. Divided by their maps, all have one level, the gain of the
// capture.
func TestPlanarFullWave(t *testing.T) {
	if testing.Short() {
		t.Skip("TestPlanar covers planar flaws")
	}
	hole := fullWave(t, "sdh32", "T-T", 0)[0].corrected
	ctx := context.Background()
	r, err := npy.ReadFile("../../testdata/weld32.json", nil)
	if err != nil {
		t.Fatal(err)
	}
	setup, err := r.Geometry()
	if err != nil {
		t.Fatal(err)
	}
	for k, view := range []string{"T-T", "TT-T"} {
		s := r.Truth.Slits[k]
		from, to := r3.Vec{X: s.X0, Z: s.Z0}, r3.Vec{X: s.X1, Z: s.Z1}
		if from.Z > to.Z {
			from, to = to, from
		}
		middle := r3.Scale(0.5, r3.Add(from, to))
		length := r3.Norm(r3.Sub(to, from))
		flaw := Planar{Length: length, Tilt: math.Atan2(from.X-to.X, to.Z-from.Z)}
		reach := length/2 + 0.5e-3
		g, err := tfm.NewSection(middle.X-reach, middle.X+reach, middle.Z-reach, middle.Z+reach, 0.1e-3)
		if err != nil {
			t.Fatal(err)
		}
		plan, err := tfm.PlanView(ctx, r.Capture, setup, view, g, nil)
		if err != nil {
			t.Fatal(err)
		}
		image, err := plan.Image(ctx, r.Capture)
		if err != nil {
			t.Fatal(err)
		}
		envelope := image.Envelope(nil)
		m, err := New(ctx, r.Capture, setup, view, g, flaw, &Options{Dimension: wedge.Section, Spacing: 1e-3})
		if err != nil {
			t.Fatal(err)
		}
		peak := peakNear(envelope, middle, length/2)
		off := decibels(float64(envelope.Data[peak]/m.Data[pixelAt(g, middle)])) - hole
		t.Logf("%v in %s: %.2f dB from the hole", flaw, view, off)
		if !(math.Abs(off) <= 2) {
			t.Errorf("%v in %s: level over map %.2f dB from the same of a hole: want 2 dB at most", flaw, view, off)
		}
	}
}
