// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge_test

import (
	"maps"
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// holeRatios returns, for each hole of a reference capture, the amplitudes of its
// pulse-echoes divided by the product of the ray amplitudes there and back, from
// the elements at which an echo stands out at the time of the hole's near face.
func holeRatios(t *testing.T, name string, mode material.Mode) []map[int]float64 {
	t.Helper()
	r, err := npy.ReadFile("../testdata/" + name + ".json")
	if err != nil {
		t.Fatal(err)
	}
	c := r.Capture
	setup, err := r.Setup.Geometry()
	if err != nil {
		t.Fatal(err)
	}
	path, err := setup.Path([]material.Mode{mode})
	if err != nil {
		t.Fatal(err)
	}
	elements := c.Array.Elements
	axis := r3.Sub(elements[1], elements[0])
	acoustics := setup.Acoustics(path)
	acoustics.Dimension, acoustics.Frequency = wedge.Section, c.Array.CentreFrequency
	acoustics.Source = &wedge.Source{Width: c.Array.Width, Normal: r3.Cross(axis, r3.Vec{Y: 1}), Axis: axis}
	amplitudes, err := wedge.NewAmplitudes(path, acoustics)
	if err != nil {
		t.Fatal(err)
	}
	arrivals, err := tfm.Arrivals(c, &tfm.ArrivalsOptions{Most: 20, Least: 1e-3})
	if err != nil {
		t.Fatal(err)
	}
	ratios := make([]map[int]float64, len(r.Setup.Truth.Holes))
	for i, hole := range r.Setup.Truth.Holes {
		ratios[i] = make(map[int]float64)
		for e, element := range elements {
			ray := path.Solve(element, r3.Vec{X: hole.X, Z: hole.Z})
			a, err := amplitudes.Along(&ray)
			if err != nil {
				t.Fatal(err)
			}
			face := 2 * (ray.Time - hole.Diameter/2/path.Legs()[len(path.Legs())-1].Speed)
			for _, v := range arrivals {
				if v.Transmit == e && v.Receive == e && math.Abs(v.Time-face) <= 0.04e-6 {
					ratios[i][e] = v.Amplitude / math.Pow(cmplx.Abs(a.Value()), 2)
				}
			}
		}
	}
	return ratios
}

// TestAmplitudesOfHoles compares with the full-wave capture of four equal
// side-drilled holes, at distances from 8 to 31 mm: the echoes are the square of
// the ray amplitude, times what a hole scatters back, which is the same for all
// and all directions and is left out. What remains are the rays' spreading in
// two dimensions and the directivity of the elements.
func TestAmplitudesOfHoles(t *testing.T) {
	var levels []float64
	for i, ratios := range holeRatios(t, "block16", material.L) {
		if len(ratios) < 6 {
			t.Fatalf("hole %d: %d echoes, want at least 6", i, len(ratios))
		}
		levels = append(levels, 20*math.Log10(medianOf(ratios)))
		t.Logf("hole %d: %.2f dB, median of %d elements", i, levels[i]-levels[0], len(ratios))
	}
	if apart := slices.Max(levels) - slices.Min(levels); !(apart <= 1.5) {
		t.Errorf("amplitudes of the holes miss by up to %.2f dB of each other: want 1.5 dB at most", apart)
	}
}

func medianOf(ratios map[int]float64) float64 {
	values := slices.Sorted(maps.Values(ratios))
	return values[len(values)/2]
}

// TestAmplitudesThroughWedge compares with a full-wave capture through a contact
// wedge: the echo of one hole as transverse waves, over elements whose rays
// leave the contact face under angles from 48° to 72° and whose amplitudes differ
// by 13 dB. Beyond element 24 another echo overlaps.
func TestAmplitudesThroughWedge(t *testing.T) {
	ratios := holeRatios(t, "sdh32", material.T)[0]
	maps.DeleteFunc(ratios, func(e int, _ float64) bool { return e > 24 })
	if len(ratios) < 20 {
		t.Fatalf("%d echoes, want at least 20", len(ratios))
	}
	middle := medianOf(ratios)
	worst := 0.0
	for e, ratio := range ratios {
		off := 20 * math.Log10(ratio/middle)
		worst = max(worst, math.Abs(off))
		if !(math.Abs(off) <= 3) {
			t.Errorf("element %d: amplitude %.2f dB from that of its ray: want within 3 dB", e, off)
		}
	}
	t.Logf("%d elements within %.2f dB", len(ratios), worst)
}
