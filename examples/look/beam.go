// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm/ascan"
	"github.com/isochron-imaging/isochron/wedge"
)

// beamQuery asks for the A-scan of a beam through a point. Each gate is nil or holds a start and
// an end in m of sound path, and a threshold in percent.
type beamQuery struct {
	pointQuery
	near  []float64 // counted from the sound path of the point
	fixed []float64 // counted from the exit point
}

// readBeam reads a request for a beam.
func (s *source) readBeam(q *query) (r beamQuery, err error) {
	r = beamQuery{pointQuery: s.point(q), near: q.numbers("near", 3), fixed: q.numbers("fixed", 3)}
	if err := q.done(); err != nil {
		return r, err
	}
	for _, g := range [][]float64{r.near, r.fixed} {
		if g == nil {
			continue
		}
		if !(-1 <= g[0] && g[0] < g[1] && g[1] <= 1) {
			return r, fmt.Errorf("a gate from %v m to %v m: want -1 to 1, in ascending order", g[0], g[1])
		}
		if !(0 < g[2] && g[2] <= 1000) {
			return r, fmt.Errorf("a threshold of %v %%: want above 0, at most 1000", g[2])
		}
	}
	return r, nil
}

// beamHead describes the A-scan of a beam.
type beamHead struct {
	Wave      string       `json:"wave"`
	Leg       int          `json:"leg"`        // on which the beam passes the point
	Angle     float64      `json:"angle"`      // of refraction, rad
	SoundPath float64      `json:"sound_path"` // of the point, m
	Equal     bool         `json:"equal"`      // whether the view goes there and back as the beam does
	First     float64      `json:"first"`      // sound path of the first sample, m
	Step      float64      `json:"step"`       // between samples, m
	Line      [][2]float64 `json:"line"`       // the axis of the beam in the part, x and z
	Gates     []gateHead   `json:"gates"`
}

// gateHead is a gate with its reading. The sound path, the place and the height are null if no
// echo reaches the threshold.
type gateHead struct {
	Key       string   `json:"key"`  // of the request
	Name      string   `json:"name"` // of the page
	Start     float64  `json:"start"`
	End       float64  `json:"end"`
	Threshold float64  `json:"threshold"`
	Height    *float64 `json:"height"` // percent
	SoundPath *float64 `json:"sound_path"`
	X         *float64 `json:"x"`
	Z         *float64 `json:"z"`
	AtEdge    bool     `json:"at_edge"`
}

// beam answers with the A-scan of a beam of all elements that is focused at a point. The beam
// takes the receiving path of the view, there and back. The numbers are the real part and the
// envelope in percent, in turns: 100 % is the amplitude of 0 dB of the image.
func (s *source) beam(ctx context.Context, q beamQuery) (*answer, error) {
	view, err := wedge.ParseView(q.view)
	if err != nil {
		return nil, err
	}
	mode, equal := wave(view)
	leg := len(view.Receive)
	for _, m := range view.Receive {
		if m != mode {
			return nil, fmt.Errorf("the path %s changes its wave, so no beam follows it", q.view)
		}
	}
	reference, err := s.reference(ctx, q.view)
	if err != nil {
		return nil, err
	}
	trace, setup, err := s.trace(ctx, q.pointQuery, mode, leg)
	if err != nil {
		return nil, err
	}
	h := &beamHead{
		Wave: mode.String(), Leg: leg, Angle: trace.Beam.Angle, SoundPath: trace.Beam.Transmit.SoundPath, Equal: equal,
		First: trace.Line.SoundPath(trace.FirstSample), Step: trace.Line.Speed / 2 / trace.SampleRate,
		Line: axis(trace.Line, trace.Beam.Transmit.SoundPath),
	}
	if err := h.read(trace, ascan.Reader{FullHeight: float64(reference), Setup: setup}, q); err != nil {
		return nil, err
	}
	scale := 100 / reference
	numbers := make([]float32, 0, 2*len(trace.Analytic))
	for _, v := range trace.Analytic {
		numbers = append(numbers, scale*real(v), scale*float32(math.Hypot(float64(real(v)), float64(imag(v)))))
	}
	return &answer{head: h, numbers: numbers}, nil
}

// trace returns the A-scan of a beam through a point.
func (s *source) trace(ctx context.Context, q pointQuery, mode material.Mode, leg int) (*ascan.Trace, *wedge.Setup, error) {
	record, setup, err := q.setting.apply(s.record)
	if err != nil {
		return nil, nil, err
	}
	c := record.Capture
	at := r3.Vec{X: q.x, Y: c.Array.Elements[0].Y, Z: q.z}
	beam, err := ascan.Aim(setup, c.Array, ascan.Beam{Mode: mode}, at, leg)
	if errors.Is(err, wedge.ErrNoRay) {
		return nil, nil, fmt.Errorf("no beam reaches x = %.2f mm, z = %.2f mm", q.x*1e3, q.z*1e3)
	}
	if err != nil {
		return nil, nil, err
	}
	plan, err := ascan.NewPlan(ctx, c, setup, []ascan.Beam{beam}, nil)
	if err != nil {
		return nil, nil, err
	}
	traces, err := plan.Traces(ctx, c)
	if err != nil {
		return nil, nil, err
	}
	return traces[0], setup, nil
}

// axis returns the axis of a beam in the part, up to a sound path in m.
func axis(l *ascan.Line, end float64) [][2]float64 {
	points := []r3.Vec{l.Exit}
	at, last := l.At(end)
	for _, leg := range l.Legs[:max(0, last-1)] {
		points = append(points, leg.To)
	}
	if last > 0 {
		points = append(points, at)
	}
	return section(points)
}

// read reads the gates of a request.
func (h *beamHead) read(t *ascan.Trace, reader ascan.Reader, q beamQuery) error {
	h.Gates = []gateHead{}
	for _, g := range []struct {
		key, name string
		values    []float64
		from      float64
	}{{"near", "gate 1", q.near, h.SoundPath}, {"fixed", "gate 2", q.fixed, 0}} {
		if g.values == nil {
			continue
		}
		gate := ascan.Gate{Start: g.from + g.values[0], End: g.from + g.values[1], Threshold: g.values[2]}
		readings, err := reader.Read(t, []ascan.Gate{gate})
		if err != nil {
			return err
		}
		head := newGateHead(gate, readings[0])
		head.Key, head.Name = g.key, g.name
		h.Gates = append(h.Gates, head)
	}
	return nil
}

// newGateHead returns a gate with its reading.
func newGateHead(g ascan.Gate, r ascan.Reading) gateHead {
	h := gateHead{Start: g.Start, End: g.End, Threshold: g.Threshold}
	if r.Found {
		h.Height, h.SoundPath, h.AtEdge = &r.Height, &r.SoundPath, r.AtEdge
		if r.Leg > 0 {
			h.X, h.Z = &r.Point.X, &r.Point.Z
		}
	}
	return h
}
