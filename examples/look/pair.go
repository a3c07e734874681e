// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// pointQuery asks for what belongs to a point of the section.
type pointQuery struct {
	view    string
	setting setting
	x, z    float64 // m
}

// readPoint reads the point of a request.
func (s *source) readPoint(q *query) (pointQuery, error) {
	r := s.point(q)
	return r, q.done()
}

func (s *source) point(q *query) pointQuery {
	return pointQuery{
		view: q.choice("view", s.views), setting: s.readSetting(q),
		x: q.number("x", (s.window.X0+s.window.X1)/2, -1, 1),
		z: q.number("z", (s.window.Z0+s.window.Z1)/2, -1, 1),
	}
}

// pairHead describes the trace of a pair.
type pairHead struct {
	Tx    int     `json:"tx"` // the number of the element, or of the event, that sends
	Rx    int     `json:"rx"`
	Pairs int     `json:"pairs"` // that have a time of flight to the point and back
	Time  float64 `json:"time"`  // of flight to the point and back, s
	Share float64 `json:"share"` // of this pair in the amplitude of the pixel
	First float64 `json:"first"` // time of the first sample, s
	Rate  float64 `json:"rate"`  // samples a second
	Event bool    `json:"event"` // whether tx is an event
}

// contribution is what a pair adds to a pixel.
type contribution struct {
	tx, rx, trace int
	time          float64
	sample        complex128
}

// pair answers with the trace that adds most to a pixel: the pair whose sample at the time of
// flight has the largest part in the direction of the sum. The numbers are the real and the
// imaginary part of the analytic signal, in turns.
func (s *source) pair(ctx context.Context, q pointQuery) (*answer, error) {
	all, err := s.contributions(ctx, q)
	if err != nil {
		return nil, err
	}
	c := s.record.Capture
	if len(all) == 0 {
		return nil, fmt.Errorf("no ray of the view %s reaches x = %.2f mm, z = %.2f mm within the record", q.view, q.x*1e3, q.z*1e3)
	}
	var sum complex128
	for _, one := range all {
		sum += one.sample
	}
	best, most := all[0], math.Inf(-1)
	for _, one := range all {
		if v := along(one.sample, sum); v > most {
			best, most = one, v
		}
	}
	h := pairHead{Tx: best.tx, Rx: best.rx, Pairs: len(all), Time: best.time, First: c.FirstSample, Rate: c.SampleRate, Event: c.Events != nil}
	if length := along(sum, sum); length > 0 {
		h.Share = most / length
	}
	numbers := make([]float32, 0, 2*c.Samples)
	for _, v := range s.signals[best.trace*c.Samples : (best.trace+1)*c.Samples] {
		numbers = append(numbers, real(v), imag(v))
	}
	return &answer{head: h, numbers: numbers}, nil
}

// along returns the part of v in the direction of sum.
func along(v, sum complex128) float64 {
	length := math.Hypot(real(sum), imag(sum))
	if length == 0 {
		return 0
	}
	return (real(v)*real(sum) + imag(v)*imag(sum)) / length
}

// contributions returns what each pair adds to a pixel. In a half matrix a trace of two elements
// counts in both directions.
func (s *source) contributions(ctx context.Context, q pointQuery) (all []contribution, err error) {
	record, setup, err := q.setting.apply(s.record)
	if err != nil {
		return nil, err
	}
	c := record.Capture
	timer, err := tfm.NewTimer(c, setup, q.view, &wedge.TimesOptions{})
	if err != nil {
		return nil, err
	}
	there, back, err := timer(ctx, []r3.Vec{{X: q.x, Y: c.Array.Elements[0].Y, Z: q.z}})
	if err != nil {
		return nil, err
	}
	add := func(trace, tx, rx int) {
		t := float64(there.Seconds[tx]) + float64(back.Seconds[rx])
		if v, ok := s.sample(trace, t); ok {
			all = append(all, contribution{tx, rx, trace, t, v})
		}
	}
	both := c.Layout() == fmc.Half && c.Events == nil
	for p, pair := range c.Pairs {
		add(p, pair.Tx, pair.Rx)
		if both && pair.Tx != pair.Rx {
			add(p, pair.Rx, pair.Tx)
		}
	}
	return all, nil
}

// sample returns the analytic signal of a trace at a time in s, linearly interpolated, if the
// record holds this time.
func (s *source) sample(trace int, t float64) (v complex128, ok bool) {
	c := s.record.Capture
	k := (t - c.FirstSample) * c.SampleRate
	if !(k >= 0 && k < float64(c.Samples-1)) { // also NaN
		return 0, false
	}
	i := int(k)
	at := s.signals[trace*c.Samples+i:]
	share := complex(k-float64(i), 0)
	return (1-share)*complex128(at[0]) + share*complex128(at[1]), true
}
