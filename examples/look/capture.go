// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/wedge"
)

// source is the capture that the server shows. After open it is immutable, except for references.
type source struct {
	name     string
	record   *npy.Record
	controls []control
	views    []string // that the page may ask for, the first view first
	usual    []string // of the set-up, the first of views
	window   window   // that the page shows first
	signals  []complex64

	mu         sync.Mutex
	references map[string]float32 // amplitude of 0 dB of each view that was asked for
}

// window is a rectangle of the section in m.
type window struct {
	X0 float64 `json:"x0"`
	X1 float64 `json:"x1"`
	Z0 float64 `json:"z0"`
	Z1 float64 `json:"z1"`
}

// open reads a capture.
func open(name string) (*source, error) {
	record, err := npy.ReadFile(name, nil)
	if err != nil {
		return nil, err
	}
	s, err := newSource(strings.TrimSuffix(filepath.Base(name), ".json"), record)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return s, nil
}

// newSource prepares a capture.
func newSource(name string, record *npy.Record) (*source, error) {
	for i, e := range record.Capture.Array.Elements {
		if y := record.Capture.Array.Elements[0].Y; e.Y != y {
			return nil, fmt.Errorf("element %d lies at y = %v m and element 0 at %v m: want an array in one section", i, e.Y, y)
		}
	}
	s := &source{
		name: name, record: record, controls: controls(record), references: map[string]float32{},
	}
	if err := s.chooseViews(); err != nil {
		return nil, err
	}
	from, to := record.UsualSection(record.UsualViews()[0])
	s.window = window{X0: from.X, X1: to.X, Z0: from.Z, Z1: to.Z}
	var err error
	s.signals, err = signals(record)
	return s, err
}

// chooseViews sets the usual views of the set-up, and all views with at most one skip that have
// paths.
func (s *source) chooseViews() error {
	r := s.record
	setup, err := r.Geometry()
	if err != nil {
		return err
	}
	for _, v := range r.UsualViews() {
		s.usual = append(s.usual, v.String())
	}
	s.views = append(s.views, s.usual...)
	for v := range wedge.Views(1) {
		if _, _, err := setup.Paths(v); err == nil && !slices.Contains(s.usual, v.String()) {
			s.views = append(s.views, v.String())
		}
	}
	return nil
}

// band returns the pass band of a capture.
func band(r *npy.Record) tfm.Band {
	c := r.Capture
	return tfm.DefaultBand(c.Array.CentreFrequency, c.Array.Bandwidth, c.SampleRate)
}

// signals returns the analytic signals of all traces. They are made once, because traces do not
// depend on the set-up.
func signals(r *npy.Record) ([]complex64, error) {
	c := r.Capture
	analytic, err := tfm.NewAnalytic(c.Samples, c.SampleRate, band(r))
	if err != nil {
		return nil, err
	}
	all := make([]complex64, len(c.Data))
	for p := range c.Pairs {
		if err := analytic.Transform(all[p*c.Samples:(p+1)*c.Samples], c.Trace(p)); err != nil {
			return nil, fmt.Errorf("trace %d: %w", p, err)
		}
	}
	return all, nil
}

// reference returns the amplitude of 0 dB of a view: the strongest indication at the recorded
// set-up, in the first window, that is not the echo of a wall. So a level tells how the focus
// compares with the focus at the recorded set-up.
func (s *source) reference(ctx context.Context, view string) (float32, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if a, ok := s.references[view]; ok {
		return a, nil
	}
	q := imageQuery{view: view, setting: recorded(s.record), window: s.window}
	q.step = q.window.step(20_000)
	im, setup, err := s.envelope(ctx, q)
	if err != nil {
		return 0, err
	}
	a, err := s.strongest(ctx, im.envelope, setup, view)
	if err == nil {
		s.references[view] = a
	}
	return a, err
}

// strongest returns the amplitude of the strongest indication that is not the echo of a wall, or
// of the highest pixel if there is none.
func (s *source) strongest(ctx context.Context, e *tfm.Envelope, setup *wedge.Setup, view string) (float32, error) {
	v, err := wedge.ParseView(view)
	if err != nil {
		return 0, err
	}
	peak, _ := e.Peak()
	if peak == 0 {
		return 1, nil // nothing reaches the view
	}
	found, err := sizing.Find(e, &sizing.Options{Floor: -40})
	if err != nil {
		return 0, err
	}
	for _, f := range found {
		at := r3.Vec{X: f.X, Y: e.Origin.Y, Z: f.Z}
		wall, err := ghost.WallAt(ctx, setup, s.record.Capture.Array, v, at, f.Contour, e.Step.X)
		if err != nil {
			return 0, err
		}
		if wall == "" {
			return float32(f.Amplitude), nil
		}
	}
	return peak, nil
}

// wave returns the wave of all legs of a view, if all have the same wave and both paths are equal.
func wave(v wedge.View) (mode material.Mode, ok bool) {
	mode = v.Receive[0]
	for _, m := range slices.Concat(v.Transmit, v.Receive) {
		if m != mode {
			return mode, false
		}
	}
	return mode, len(v.Transmit) == len(v.Receive)
}
