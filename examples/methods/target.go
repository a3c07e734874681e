// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/sensitivity"
	"github.com/isochron-imaging/isochron/wedge"
)

// target is a known reflector in a window, with what each method shows of it.
type target struct {
	segment
	reach    float64 // m; the peak lies no further from the segment
	deepest  float64 // m; the peak lies no deeper
	views    *tfm.Views
	waves    *tfm.Plan
	found    *tfm.Plan // nil without a found surface
	level    *sensitivity.Map
	gain     *sensitivity.Gain
	readings []reading
}

// reading is what one method shows of a target.
type reading struct {
	off              float64 // distance of the peak in m
	pixel            int
	amplitude, noise float64 // of the peak; root mean square of noise of the standard deviation 1
	length           string
}

// limit is the largest gain in dB of a correction of the sensitivity.
const limit = 20

// targets plans the images of all reflectors of a scene.
func (s *scene) targets(ctx context.Context) ([]*target, error) {
	places, err := s.places()
	if err != nil {
		return nil, err
	}
	var all []*target
	margin, best := 2*s.wavelength, 0.0
	for _, at := range places {
		grid, err := tfm.NewSection(min(at.from.X, at.to.X)-margin, max(at.from.X, at.to.X)+margin,
			min(at.from.Z, at.to.Z)-margin, max(at.from.Z, at.to.Z)+margin, s.wavelength/10)
		if err != nil {
			return nil, err
		}
		t, err := s.target(ctx, at, grid)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", at.name, err)
		}
		peak, _ := t.level.Peak()
		best, all = max(best, float64(peak)), append(all, t)
	}
	for _, t := range all {
		if t.gain, err = t.level.Gain(best, limit); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// target makes the plans of all methods over a grid.
func (s *scene) target(ctx context.Context, at segment, grid tfm.Grid) (*target, error) {
	t := &target{segment: at, reach: s.wavelength, deepest: s.record.Thickness + s.wavelength/10}
	transmit, receive, err := s.tables(ctx, s.setup, grid)
	if err != nil {
		return nil, err
	}
	var plans []*tfm.Plan
	for _, c := range weights {
		p, err := tfm.NewPlan(s.clean.matrix, grid, transmit, receive, &tfm.Options{Coherence: c})
		if err != nil {
			return nil, err
		}
		plans = append(plans, p)
	}
	if t.views, err = tfm.NewViews(plans...); err != nil {
		return nil, err
	}
	if t.waves, err = tfm.NewPlan(s.clean.waves, grid, transmit, receive, &tfm.Options{Compound: &tfm.CompoundOptions{}}); err != nil {
		return nil, err
	}
	if s.found != nil {
		if t.found, err = tfm.PlanView(ctx, s.clean.matrix, s.found, s.view.String(), grid, nil); err != nil {
			return nil, err
		}
	}
	// The captures were computed in two dimensions.
	options := &sensitivity.Options{Dimension: wedge.Section, Spacing: s.wavelength}
	t.level, err = sensitivity.New(ctx, s.clean.matrix, s.setup, s.view.String(), grid, sensitivity.Hole{Diameter: 1.5e-3}, options)
	return t, err
}

// tables returns the times of the elements.
func (s *scene) tables(ctx context.Context, setup *wedge.Setup, grid tfm.Grid) (transmit, receive *wedge.Times, err error) {
	timer, err := tfm.NewTimer(s.clean.matrix, setup, s.view.String(), nil)
	if err != nil {
		return nil, nil, err
	}
	return timer(ctx, grid.Points())
}

// images returns the image of each method.
func (t *target) images(ctx context.Context, f frame) ([]*tfm.Envelope, error) {
	images, err := t.views.Images(ctx, f.matrix)
	if err != nil {
		return nil, err
	}
	corrected := *images[0]
	corrected.Data = slices.Clone(corrected.Data)
	if err := t.gain.Correct(&corrected); err != nil {
		return nil, err
	}
	all := []*tfm.Envelope{images[0].Envelope(nil), corrected.Envelope(nil)}
	for _, im := range images {
		weighted, err := im.WeightedEnvelope(nil, 1)
		if err != nil {
			return nil, err
		}
		all = append(all, weighted)
	}
	waves, err := t.waves.Image(ctx, f.waves)
	if err != nil {
		return nil, err
	}
	all = append(all, waves.Envelope(nil))
	if t.found != nil {
		found, err := t.found.Image(ctx, f.matrix)
		if err != nil {
			return nil, err
		}
		all = append(all, found.Envelope(nil))
	}
	return all, nil
}

// read sets the readings, from images of a clean frame and of noise alone.
func (t *target) read(ctx context.Context, clean, noise frame) error {
	echoes, err := t.images(ctx, clean)
	if err != nil {
		return err
	}
	alone, err := t.images(ctx, noise)
	if err != nil {
		return err
	}
	for m, e := range echoes {
		r, err := t.reading(e)
		if err != nil {
			return err
		}
		for _, v := range alone[m].Data {
			r.noise += float64(v) * float64(v) / float64(len(alone[m].Data))
		}
		r.noise = math.Sqrt(r.noise)
		t.readings = append(t.readings, r)
	}
	return nil
}

// reading reads the highest peak within reach, and its length.
func (t *target) reading(e *tfm.Envelope) (reading, error) {
	r := reading{length: "no size", pixel: -1}
	for i, a := range e.Data {
		if c, row := i%e.Cols, i/e.Cols; c == 0 || row == 0 || c == e.Cols-1 || row == e.Rows-1 || float64(a) <= r.amplitude {
			continue
		}
		x, peakX := vertex(e.Data[i-1], a, e.Data[i+1])
		z, peakZ := vertex(e.Data[i-e.Cols], a, e.Data[i+e.Cols])
		at := r3.Add(e.Point(i), r3.Vec{X: x * e.Step.X, Z: z * e.Step.Z})
		if off := t.distance(at); peakX && peakZ && off <= t.reach && at.Z <= t.deepest {
			r.amplitude, r.pixel, r.off = float64(a), i, off
		}
	}
	if r.pixel < 0 {
		return r, fmt.Errorf("no peak within %.1f mm", 1e3*t.reach)
	}
	if e.Quantity != tfm.Amplitude {
		return r, nil
	}
	found, err := sizing.Find(e, &sizing.Options{Floor: -60})
	if err != nil {
		return r, err
	}
	r.length = "-"
	for _, in := range found {
		switch {
		case in.Pixel != r.pixel:
		case in.Edge:
			r.length = "open"
		default:
			r.length = fmt.Sprintf("%.1f", 1e3*in.Length)
		}
	}
	return r, nil
}

// vertex returns the place, in steps, of the vertex of the parabola through three values, and
// whether the middle value is a maximum.
func vertex(before, at, after float32) (offset float64, maximum bool) {
	if at < before || at < after || at == before && at == after {
		return 0, false
	}
	return float64(before-after) / float64(2*(before-2*at+after)), true
}
