// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"math"
	"time"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
	"github.com/isochron-imaging/isochron/wedge"
)

const (
	lowest    = -80.0   // level in dB below which an image does not tell levels apart
	maxPixels = 200_000 // of an image
	maxDelays = 32e6    // elements times pixels: about 300 MB of tables
)

// imageQuery asks for an image.
type imageQuery struct {
	view    string
	setting setting
	window  window
	step    float64 // of the pixels, m
	find    bool    // whether to list indications
}

// step returns the step in m for about a number of pixels in a window, in whole micrometres.
func (w window) step(pixels float64) float64 {
	return math.Ceil(math.Sqrt((w.X1-w.X0)*(w.Z1-w.Z0)/pixels)*1e6) * 1e-6
}

// readSetting reads the setting of a request. Missing values are as recorded.
func (s *source) readSetting(q *query) (now setting) {
	for _, c := range s.controls {
		// The ends of a slider may be rounded.
		*c.of(&now) = q.number(c.Key, c.Value, c.Min-c.Step, c.Max+c.Step)
	}
	return now
}

// readImage reads a request for an image of at most a number of pixels. The step is usual if it is
// missing.
func (s *source) readImage(q *query, usual, pixels float64) (r imageQuery, err error) {
	const far = 1.0 // m
	r = imageQuery{view: q.choice("view", s.views), setting: s.readSetting(q)}
	r.window = window{
		X0: q.number("x0", s.window.X0, -far, far), X1: q.number("x1", s.window.X1, -far, far),
		Z0: q.number("z0", s.window.Z0, -far, far), Z1: q.number("z1", s.window.Z1, -far, far),
	}
	r.step = q.number("step", usual, 1e-6, far)
	r.find = q.choice("find", []string{"no", "yes"}) == "yes"
	if err := q.done(); err != nil {
		return r, err
	}
	wide, deep := r.window.X1-r.window.X0, r.window.Z1-r.window.Z0
	if !(wide > 0 && deep > 0) {
		return r, fmt.Errorf("a window of %.3g m × %.3g m: want x0 < x1 and z0 < z1", wide, deep)
	}
	columns, rows := wide/r.step+1, deep/r.step+1
	if columns < 4 || rows < 4 {
		return r, fmt.Errorf("step: %v m: %.0f × %.0f pixels: want at least 4 each way", r.step, columns, rows)
	}
	most := min(pixels, maxDelays/float64(len(s.record.Capture.Array.Elements)))
	if columns*rows > most {
		return r, fmt.Errorf("step: %v m: %.0f × %.0f pixels: want at most %.0f", r.step, columns, rows, most)
	}
	return r, nil
}

// place is a point with a level.
type place struct {
	X     float64 `json:"x"`
	Z     float64 `json:"z"`
	Level float64 `json:"level"`
}

// indication is an indication of an image. Lengths are in m, levels in dB.
type indication struct {
	place
	ID      int          `json:"id"`
	Length  float64      `json:"length"` // at the 6 dB drop
	Edge    bool         `json:"edge"`
	Contour [][2]float64 `json:"contour"`
}

// imageHead is what the page gets with the levels of an image.
type imageHead struct {
	Columns     int            `json:"columns"`
	Rows        int            `json:"rows"`
	X0          float64        `json:"x0"` // of the first pixel
	Z0          float64        `json:"z0"`
	Step        float64        `json:"step"`
	Peak        *place         `json:"peak"` // null where nothing echoes
	Blank       int            `json:"blank"`
	Indications []indication   `json:"indications"` // null if the request does not ask for them
	Surfaces    [][][2]float64 `json:"surfaces"`
}

// focused is an image with the times that it took.
type focused struct {
	envelope  *tfm.Envelope
	plan, sum time.Duration
}

// image answers a request for an image: its head, and the level of each pixel in dB as float32,
// row by row. A pixel that no pair reaches is NaN.
func (s *source) image(ctx context.Context, q imageQuery) (*answer, error) {
	reference, err := s.reference(ctx, q.view)
	if err != nil {
		return nil, err
	}
	im, setup, err := s.envelope(ctx, q)
	if err != nil {
		return nil, err
	}
	head, err := describe(im.envelope, setup, reference, q.find)
	if err != nil {
		return nil, err
	}
	levels, err := im.envelope.Decibels(nil, reference, lowest)
	if err != nil {
		return nil, err
	}
	for i, state := range levels.States {
		if state&tfm.Blank != 0 {
			levels.Data[i] = float32(math.NaN())
			head.Blank++
		}
	}
	return &answer{head: head, numbers: levels.Data, timing: fmt.Sprintf("plan;dur=%.2f, sum;dur=%.2f",
		im.plan.Seconds()*1e3, im.sum.Seconds()*1e3)}, nil
}

// envelope makes an image.
func (s *source) envelope(ctx context.Context, q imageQuery) (*focused, *wedge.Setup, error) {
	record, setup, err := q.setting.apply(s.record)
	if err != nil {
		return nil, nil, err
	}
	grid, err := newGrid(record, q.window, q.step)
	if err != nil {
		return nil, nil, err
	}
	start := time.Now()
	plan, err := newPlan(ctx, record, setup, q.view, grid)
	if err != nil {
		return nil, nil, err
	}
	planned := time.Now()
	im, err := plan.Image(ctx, record.Capture)
	if err != nil {
		return nil, nil, err
	}
	e := im.Envelope(nil)
	return &focused{e, planned.Sub(start), time.Since(planned)}, setup, nil
}

// newGrid returns the grid of a window in the section of the array.
func newGrid(r *npy.Record, w window, step float64) (tfm.Grid, error) {
	g, err := tfm.NewSection(w.X0, w.X1, w.Z0, w.Z1, step)
	g.Origin.Y = r.Capture.Array.Elements[0].Y
	return g, err
}

// describe returns the head of an image.
func describe(e *tfm.Envelope, setup *wedge.Setup, reference float32, find bool) (*imageHead, error) {
	h := &imageHead{Columns: e.Cols, Rows: e.Rows, X0: e.Origin.X, Z0: e.Origin.Z, Step: e.Step.X}
	for _, line := range picture.Surfaces(setup, e.Grid) {
		h.Surfaces = append(h.Surfaces, corners(line))
	}
	peak, index := e.Peak()
	if peak > 0 {
		at := e.Point(index)
		h.Peak = &place{at.X, at.Z, sizing.LevelDB(float64(peak), float64(reference))}
	}
	if !find {
		return h, nil
	}
	found, err := sizing.Find(e, &sizing.Options{Reference: float64(reference)})
	if err != nil {
		return nil, err
	}
	h.Indications = list(found)
	if len(found) > 0 { // placed between pixels
		h.Peak = &h.Indications[0].place
	}
	return h, nil
}

// list returns the indications of the page: at most 30, strongest first.
func list(found []sizing.Indication) []indication {
	all := []indication{}
	for _, f := range found[:min(len(found), 30)] {
		one := indication{place: place{f.X, f.Z, f.LevelDB}, ID: f.ID, Length: f.Length, Edge: f.Edge}
		for _, p := range f.Contour {
			one.Contour = append(one.Contour, [2]float64{p.X, p.Z})
		}
		all = append(all, one)
	}
	return all
}
