// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package quality_test

import (
	"errors"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestRefuses checks that each error names its field and the allowed range.
func TestRefuses(t *testing.T) {
	c, setup := contact(4, 0.6, nil)
	nan := math.NaN()
	events := *c
	events.Events = []fmc.Event{{Delays: make([]float64, 4), Weights: []float64{1, 1, 1, 1}}}
	events.Pairs = fmc.EventPairs(1, 4)
	events.Data = make([]float32, 4)
	one, _ := contact(1, 0.6, nil)
	bent, _ := contact(4, 0.6, nil)
	bent.Array.Elements[2].X += 1e-4
	frames := []*fmc.Capture{check.Must(fmc.New(*c)), check.Must(fmc.New(*one))}
	spread := func(c *fmc.Capture, s *wedge.Setup, view string, o *quality.Options) error {
		_, err := quality.NewSpread(c, s, view, o)
		return err
	}
	lobes := func(c *fmc.Capture, speed, steer float64) error {
		_, err := quality.GratingLobes(c, speed, steer, tfm.Band{})
		return err
	}
	contrast := func(a, b []float32) error {
		_, err := quality.NewContrast(a, b)
		return err
	}
	gain := func(frames ...*fmc.Capture) error {
		_, err := quality.AveragingGain(frames)
		return err
	}
	spot := spotAt(t, c, setup, 0, 30)
	_, drop := spot.Picture(0)
	for _, test := range []struct {
		err  error
		want string
	}{
		{spread(nil, setup, "L-L", nil), "quality: fmc: no capture"},
		{spread(c, nil, "L-L", nil), "quality: set-up nil"},
		{spread(c, setup, "L", nil), "view \"L\""},
		{spread(c, setup, "L-L", &quality.Options{Weights: []float32{1}}), "1 weights: want 16"},
		{spread(c, setup, "L-L", &quality.Options{Weights: append(make([]float32, 15), float32(nan))}), "weight 15 is NaN"},
		{spread(c, setup, "L-L", &quality.Options{Dimension: 7}), "dimension 7"},
		{spread(c, setup, "L-L", &quality.Options{Band: tfm.Band{Low: 2, High: 1}}), "pass band 2 to 1 Hz"},
		{drop, "drop 0 dB: want 0.01 to 40"},
		{lobes(c, 0, 0), "speed 0 m/s"},
		{lobes(c, 3000, 2), "direction 2 rad: want"},
		{lobes(&events, 3000, 0), "capture of 1 events"},
		{lobes(one, 3000, 0), "array of 1 element: want at least 2"},
		{lobes(bent, 3000, 0), "element 2 at"},
		{contrast([]float32{1}, []float32{1, 2}), "region 1 of 1 amplitudes: want at least 2"},
		{contrast([]float32{1, 2}, []float32{1, -2}), "amplitude 1 of region 2 is -2"},
		{gain(frames[0]), "1 frames: want at least 2"},
		{gain(frames[0], nil), "frame 1 is nil"},
		{gain(frames...), "frame 1 of 1 samples: want 16"},
	} {
		check.Error(t, test.err, test.want)
	}
}

// TestNoNumber checks that arguments out of range give NaN, and no number that looks like a width.
func TestNoNumber(t *testing.T) {
	c, setup := contact(4, 0.6, nil)
	spot := spotAt(t, c, setup, 0, 30)
	along := r3.Vec{X: 1}
	for _, test := range []struct {
		name  string
		value float64
	}{
		{"width without a drop", spot.Width(along, 0)},
		{"width at a drop below 0", spot.Width(along, -6)},
		{"width at an infinite drop", spot.Width(along, math.Inf(1))},
		{"width along nothing", spot.Width(r3.Vec{}, 6)},
		{"width along NaN", spot.Width(r3.Vec{X: math.NaN()}, 6)},
		{"loss of a step below 0", spot.GridLoss(-1e-4, 1e-4)},
		{"loss of an infinite step", spot.GridLoss(1e-4, math.Inf(1))},
	} {
		if !math.IsNaN(test.value) {
			t.Errorf("%s: %v, want NaN", test.name, test.value)
		}
	}
	if v := spot.Amplitude(r3.Vec{Z: math.Inf(1)}); v != 0 {
		t.Errorf("amplitude %v infinitely far from the reflector, want 0", v)
	}
}

// TestNoRay: a point outside the part has no spot, and a spot of one element has no closed contour.
func TestNoRay(t *testing.T) {
	c, setup := contact(4, 0.6, nil)
	s := check.Must(quality.NewSpread(c, setup, "L-L", nil))
	for _, at := range []r3.Vec{{Z: -1e-3}, {X: math.NaN()}} {
		if _, err := s.Picture(at, 6); !errors.Is(err, wedge.ErrNoRay) {
			t.Errorf("error %v at %v, want one without a ray", err, at)
		}
	}
	skips := check.Must(quality.NewSpread(c, setup, "LL-L", nil))
	wall := r3.Vec{X: 1e-3}
	wall.Z -= setup.Back.Depth(wall)
	if _, err := skips.At(wall); !errors.Is(err, wedge.ErrNoRay) {
		t.Errorf("error %v on the wall that the path skips off, want one without a ray", err)
	}
	one, setup := contact(1, 0.6, nil)
	spot := spotAt(t, one, setup, 0, 30)
	_, err := spot.Measure(6)
	check.Error(t, err, "no closed contour")
	if w := spot.Width(r3.Vec{X: 1}, 6); !math.IsInf(w, 1) {
		t.Errorf("width %v across the beam of one element, want none", w)
	}
}
