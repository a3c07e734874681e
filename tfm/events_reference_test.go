// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm_test

import (
	"context"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestHolesByEvents images block16, a full-wave simulation, as plane waves, diverging and focused
// beams and single elements would have recorded it. Their traces are superpositions of the traces
// of block16. Every hole must peak where an independent image of the full matrix has the hole
// (testdata/README.md), within 0.25 mm. With plane waves the bound is 0.4 mm, because they hardly
// reach the deepest hole, whose peak is wide across the beam.
func TestHolesByEvents(t *testing.T) {
	if testing.Short() {
		t.Skip("seconds, most of them for the traces of the events")
	}
	ctx := context.Background()
	r, s := reference(t, "block16")
	c := r.Capture
	speed := r.Part.Longitudinal
	g := check.Must(tfm.NewSection(-12e-3, 12e-3, 6e-3, 36e-3, 0.1e-3))
	path, _, err := s.Paths(check.Must(wedge.ParseView("L-L")))
	if err != nil {
		t.Fatal(err)
	}
	times := check.Must(path.Times(ctx, c.Array.Elements, g.Points(), nil))
	var directions, sources, foci []r3.Vec
	for i := -6; i <= 6; i++ {
		sin, cos := math.Sincos(float64(i) * 7 * math.Pi / 180)
		directions = append(directions, r3.Vec{X: sin, Z: cos})
		sources = append(sources, r3.Vec{X: 1.2e-3 * float64(i), Z: -4e-3})
		foci = append(foci, r3.Vec{X: 1.2e-3 * float64(i), Z: 5e-3})
	}
	var four []fmc.Event
	for _, e := range []int{1, 5, 10, 14} {
		event := fmc.Event{Delays: make([]float64, 16), Weights: make([]float64, 16)}
		event.Weights[e] = 1
		four = append(four, event)
	}
	peaks := []r3.Vec{{X: -8.65e-3, Z: 9.40e-3}, {X: -2.95e-3, Z: 16.30e-3}, {X: 2.75e-3, Z: 23.35e-3}, {X: 8.45e-3, Z: 30.40e-3}}
	for _, test := range []struct {
		name   string
		events []fmc.Event
		limit  float64 // m
	}{
		{"plane waves", check.Must(transmit.PlaneWaves(c.Array, speed, directions)), 0.4e-3},
		{"diverging", check.Must(transmit.Diverging(c.Array, speed, sources)), 0.25e-3},
		{"focused", check.Must(transmit.Focused(c.Array, speed, foci)), 0.25e-3},
		{"four elements", four, 0.25e-3},
	} {
		t.Run(test.name, func(t *testing.T) {
			events := check.Must(transmit.Encode(ctx, c, test.events, nil))
			tx := check.Must(tfm.EventTimes(ctx, events, times, nil))
			image := check.Must(check.Must(tfm.NewPlan(events, g, tx, times, nil)).Image(ctx, events))
			e := image.Envelope(nil)
			for i, h := range r.Truth.Holes {
				peak, _ := peakNear(e, r3.Vec{X: h.X, Z: h.Z}, 2e-3)
				if d := r3.Norm(r3.Sub(peak, peaks[i])); !(d <= test.limit) {
					t.Errorf("hole %d: peak at (%.2f, %.2f) mm, %.2f mm from (%.2f, %.2f)", i, peak.X*1e3, peak.Z*1e3, d*1e3, peaks[i].X*1e3, peaks[i].Z*1e3)
				}
			}
		})
	}
}

// TestHolesByDecoding images the full matrix that is decoded from events of block16. Codes return
// the matrix bit for bit, because its samples are whole numbers. From as many diverging beams as
// elements, the holes must be where they were.
func TestHolesByDecoding(t *testing.T) {
	ctx := context.Background()
	r, s := reference(t, "block16")
	c := r.Capture
	codes := check.Must(transmit.Encode(ctx, c, check.Must(transmit.Hadamard(16)), nil))
	back, report, err := transmit.Decode(ctx, codes, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(back.Data, c.Data) || !report.Exact {
		t.Errorf("codes of 16 elements do not give the full matrix back; report %+v", report)
	}
	var sources []r3.Vec
	for _, e := range c.Array.Elements {
		sources = append(sources, r3.Add(e, r3.Vec{Z: -1e-3}))
	}
	beams := check.Must(transmit.Encode(ctx, c, check.Must(transmit.Diverging(c.Array, r.Part.Longitudinal, sources)), nil))
	if back, report, err = transmit.Decode(ctx, beams, nil); err != nil {
		t.Fatal(err)
	}
	if !(report.Resolved > 0.95) {
		t.Errorf("%v of the full matrix resolved, want nearly all", report.Resolved)
	}
	e := imageOf(t, back, s, "L-L", -12, 12, 6, 36, 0.1).Envelope(nil)
	full := imageOf(t, c, s, "L-L", -12, 12, 6, 36, 0.1).Envelope(nil)
	for i, h := range r.Truth.Holes {
		want, high := peakNear(full, r3.Vec{X: h.X, Z: h.Z}, 2e-3)
		got, height := peakNear(e, r3.Vec{X: h.X, Z: h.Z}, 2e-3)
		if d := r3.Norm(r3.Sub(got, want)); !(d <= 0.1e-3) {
			t.Errorf("hole %d: peak at (%.2f, %.2f) mm, %.2f mm from the peak of the full matrix", i, got.X*1e3, got.Z*1e3, d*1e3)
		}
		if ratio := height / high; !(math.Abs(ratio-1) <= 0.01) {
			t.Errorf("hole %d: %.3f of the peak of the full matrix", i, ratio)
		}
	}
}
