// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"context"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestExamine compares the spot of a hole with a hole: as it is, with twice the samples, and with
// every second trace inverted, which no hole explains.
func TestExamine(t *testing.T) {
	ctx := context.Background()
	c := onPlate(1)
	scene := &synth.Scene{
		Setup: *c.setup, Array: c.array, Dimension: wedge.Section, Views: []wedge.View{check.Must(wedge.ParseView("L-L"))},
		Reflectors: []synth.Reflector{synth.Hole{X: 1e-3, Z: 12e-3, Diameter: 1e-3}},
	}
	capture := check.Must(synth.Synthesise(ctx, scene, synth.Recording{
		Pairs: fmc.HalfPairs(len(c.array.Elements)), Samples: 620, SampleRate: 50e6, FirstSample: c.first,
	}))
	grid := check.Must(tfm.NewSection(-2e-3, 4e-3, 9e-3, 14e-3, 0.15e-3))
	plan := check.Must(tfm.PlanView(ctx, capture, c.setup, "L-L", grid, nil))
	views := []View{{"L-L", check.Must(plan.Image(ctx, capture))}}
	options := &Options{Dimension: wedge.Section, Floor: -12}

	flaws, spots, err := Examine(ctx, capture, c.setup, views, options)
	if err != nil || len(spots) != 1 {
		t.Fatalf("%d spots, error %v, want 1 spot", len(spots), err)
	}
	if diff := cmp.Diff(check.Must(Find(ctx, capture, c.setup, views, options)), flaws); diff != "" {
		t.Errorf("other flaws than Find (-Find +Examine):\n%s", diff)
	}
	s := spots[0]
	if s.View != "L-L" || s.Indication != 1 {
		t.Errorf("spot %+v, want indication 1 of L-L", s)
	}
	check.Within(t, "fit of a hole", s.HoleFit, 1, 0.02)
	// From the middle of the array the direction is (1, 12). Elements above the hole count more.
	if !(s.Away.X > 0 && s.Away.X < 1.0/12 && s.Away.Z > 0) {
		t.Errorf("direction of the waves %v, want a direction between the vertical and (1, 12)", s.Away)
	}
	check.Within(t, "length of the direction", r3.Norm(s.Away), 1, 1e-12)

	// Twice the samples are 6.02 dB.
	loud := *capture
	loud.Data = make([]float32, len(capture.Data))
	for i, v := range capture.Data {
		loud.Data[i] = 2 * v
	}
	_, again, err := Examine(ctx, &loud, c.setup, views, options)
	if err != nil || len(again) != 1 {
		t.Fatalf("%d spots, error %v, want 1 spot", len(again), err)
	}
	check.Within(t, "strength of twice the samples, dB", again[0].StrengthDB-s.StrengthDB, 6.0206, 1e-3)

	// Every second trace inverted: neighbouring elements are not in phase.
	for p := range capture.Pairs {
		if p%2 == 1 {
			trace := loud.Data[p*loud.Samples : (p+1)*loud.Samples]
			for i := range trace {
				trace[i] = -trace[i]
			}
		}
	}
	_, again, err = Examine(ctx, &loud, c.setup, views, options)
	if err != nil || len(again) != 1 {
		t.Fatalf("%d spots, error %v, want 1 spot", len(again), err)
	}
	if !(again[0].HoleFit < 0.6) {
		t.Errorf("fit %v of a hole to signals of alternating signs, want below 0.6", again[0].HoleFit)
	}
	if _, _, err := Examine(ctx, capture, c.setup, []View{{"L-L", nil}}, nil); err == nil {
		t.Error("no error for a view without an image")
	}
	ended, cancel := context.WithCancel(ctx)
	cancel()
	_, _, err = Examine(ended, capture, c.setup, views, options)
	check.Error(t, err, "canceled")
}
