// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"context"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestFramesOfOtherCaptures gives plans and bands frames of the right number of samples that
// the times of flight do not belong to.
func TestFramesOfOtherCaptures(t *testing.T) {
	c := randomCapture(61, 3, 300, fmc.FullPairs(3))
	c.Events = []fmc.Event{planeEvent(0), planeEvent(1e-8), planeEvent(2e-8)}
	g := check.Must(NewSection(-1e-3, 1e-3, 1e-3, 3e-3, 0.2e-3))
	plan := check.Must(PlanView(background, c, plate(), "L-L", g, nil))
	bands := check.Must(NewBands(c, g, check.Must(NewTimer(c, plate(), "L-L", nil)), 1e9, nil))
	for _, test := range []struct {
		name   string
		change func(c *fmc.Capture)
		want   string // "" for a frame that is imaged
	}{
		{"the same", func(*fmc.Capture) {}, ""},
		{"times of another rounding", func(c *fmc.Capture) { c.SampleRate = math.Nextafter(c.SampleRate, 0) }, ""},
		{"another pulse", func(c *fmc.Capture) { c.Array.Bandwidth /= 2 }, ""},
		{"later", func(c *fmc.Capture) { c.FirstSample += 1e-6 }, "frame with sample 0"},
		{"slower", func(c *fmc.Capture) { c.SampleRate /= 2 }, "frame with sample 299"},
		{"without times", func(c *fmc.Capture) { c.SampleRate = math.NaN() }, "frame with sample 0"},
		{"pairs in another order", func(c *fmc.Capture) { slices.Reverse(c.Pairs) }, "frame with pair 0"},
		{"fewer pairs of more samples", func(c *fmc.Capture) { c.Pairs, c.Samples = c.Pairs[:3], 900 }, "frame of 3 pairs"},
		{"other number of samples", func(c *fmc.Capture) { c.Samples = 30 }, "frame of 30 samples"},
		{"an array that is moved", func(c *fmc.Capture) { c.Array.Elements[2].X += 1e-4 }, "frame of other elements"},
		{"another delay", func(c *fmc.Capture) { c.Events[1].Delays[0] += 1e-8 }, "frame of other events"},
		{"no events", func(c *fmc.Capture) { c.Events = nil }, "frame of other events"},
	} {
		t.Run(test.name, func(t *testing.T) {
			frame := templateOf(c)
			frame.Data = c.Data
			test.change(frame)
			_, err := plan.Image(background, frame)
			_, other := bands.Images(background, c, frame)
			if test.want == "" {
				if err != nil || other != nil {
					t.Errorf("errors %v and %v, want none", err, other)
				}
				return
			}
			check.Error(t, err, test.want)
			check.Error(t, other, test.want, "frame 1")
		})
	}
}

// TestPlansWithoutSamples makes everything that a template is enough for from a capture without
// Data, and wants the same images as from a capture with Data.
func TestPlansWithoutSamples(t *testing.T) {
	c := randomCapture(64, 3, 300, fmc.FullPairs(3))
	template := templateOf(c)
	g := check.Must(NewSection(-1e-3, 1e-3, 1e-3, 3e-3, 0.2e-3))
	transmit, receive := tables(plate(), "L-L", c, g)
	want := check.Must(check.Must(NewPlan(c, g, transmit, receive, nil)).Image(background, c))
	plan := check.Must(NewPlan(template, g, transmit, receive, nil))
	for name, got := range map[string]*Image{
		"NewPlan":  check.Must(plan.Image(background, c)),
		"PlanView": check.Must(check.Must(PlanView(background, template, plate(), "L-L", g, nil)).Image(background, c)),
		"NewBands": check.Must(check.Must(NewBands(template, g, check.Must(NewTimer(template, plate(), "L-L", nil)), 1e9, nil)).
			Images(background, c))[0],
		"PlanViews": check.Must(check.Must(PlanViews(background, template, plate(), []string{"L-L"}, g, nil)).Images(background, c))[0],
	} {
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s without samples (-with +without):\n%s", name, diff)
		}
	}
	_, err := plan.Image(background, template)
	check.Error(t, err, "frame of 0 samples: want 2700")
	_, err = ImageView(background, template, plate(), "L-L", g, nil)
	check.Error(t, err, "0 samples in Data: want 2700")
	branched, there, tx, rx := branchCase(fmc.FullPairs(5))
	branches := check.Must(NewBranchPlan(templateOf(branched), there, tx, rx, nil))
	_, err = branches.Image(background, templateOf(branched))
	check.Error(t, err, "frame of 0 samples: want")

	template.Events = []fmc.Event{planeEvent(0), planeEvent(1e-8), planeEvent(2e-8)}
	check.Must(EventTimes(background, template, receive, nil))
	check.Must(NewEventTimes(template, nil, g.Points(), make([]float32, 3*g.Len())))
}

// planeEvent is a transmission of three elements, each by so many seconds after the one before.
func planeEvent(step float64) fmc.Event {
	return fmc.Event{Delays: []float64{0, step, 2 * step}, Weights: []float64{1, 1, 1}}
}

// TestCaptureChangedAfterwards overwrites all fields of a capture that bands were made for.
func TestCaptureChangedAfterwards(t *testing.T) {
	c := randomCapture(62, 3, 300, fmc.FullPairs(3))
	c.Events = []fmc.Event{planeEvent(0), planeEvent(1e-8), planeEvent(2e-8)}
	g := check.Must(NewSection(-1e-3, 1e-3, 1e-3, 3e-3, 0.2e-3))
	frame := templateOf(c)
	frame.Data = slices.Clone(c.Data)
	plan := check.Must(PlanView(background, c, plate(), "L-L", g, nil))
	bands := check.Must(NewBands(c, g, check.Must(NewTimer(c, plate(), "L-L", nil)), 1e9, nil))
	want := check.Must(bands.Images(background, frame))[0]
	c.Array.Elements[1].X, c.Pairs[4], c.Events[1].Delays[2] = 1, fmc.Pair{}, 1
	c.Samples, c.SampleRate, c.FirstSample = 600, 1, 1
	if diff := cmp.Diff(want, check.Must(bands.Images(background, frame))[0]); diff != "" {
		t.Errorf("bands of a capture that was changed afterwards (-before +after):\n%s", diff)
	}
	if diff := cmp.Diff(want, check.Must(plan.Image(background, frame))); diff != "" {
		t.Errorf("plan of a capture that was changed afterwards (-bands +plan):\n%s", diff)
	}
}

// TestBandsOfWrongTables has a Timer whose tables hold no time at all, and are not the tables of
// the points that were asked for.
func TestBandsOfWrongTables(t *testing.T) {
	c := randomCapture(63, 1, 300, fmc.FullPairs(1))
	g := check.Must(NewSection(-1e-3, 1e-3, 1e-3, 3e-3, 0.2e-3))
	elsewhere := make([]r3.Vec, g.Len())
	times := make([]float32, g.Len())
	for i := range times {
		times[i] = float32(math.NaN())
	}
	for _, test := range []struct {
		name  string
		table *wedge.Times
		want  string
	}{
		{"none", nil, "without a table"},
		{"zero value", new(wedge.Times), "table of 0 elements"},
		{"other points", check.Must(wedge.NewTimes(nil, c.Array.Elements, elsewhere, times)), "table of other points"},
	} {
		t.Run(test.name, func(t *testing.T) {
			timer := func(context.Context, []r3.Vec) (transmit, receive *wedge.Times, err error) {
				return test.table, test.table, nil
			}
			_, err := check.Must(NewBands(c, g, timer, 1e9, nil)).Images(background, c)
			check.Error(t, err, test.want)
		})
	}
}
