// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package quality

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/cmplx"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// Options modifies [NewSpread]. Nil stands for the zero value.
type Options struct {
	// Band is the pass band of the image ([tfm.Options]). The zero value stands for
	// [tfm.DefaultBand] of the array of the capture.
	Band tfm.Band
	// Weights holds the weight of each pair in the image, finite ([tfm.Options]). Nil stands for 1
	// each.
	Weights []float32
	// Uniform gives all pairs the same amplitude. Otherwise the amplitudes follow from the
	// directivity of the elements, the spreading of the wave and the boundaries
	// ([wedge.Amplitudes]).
	Uniform bool
	// Dimension says how waves spread: in [wedge.Space], the default, or in a [wedge.Section], as
	// in a two-dimensional simulation. It has no effect with Uniform.
	Dimension wedge.Dimension
}

// Spread predicts the point spread of a view: the picture of a point reflector. It is immutable and
// safe for concurrent use.
type Spread struct {
	elements          []r3.Vec
	pairs             []fmc.Pair
	layout            fmc.Layout
	weights           []float32
	transmit, receive *emitter
	events            []fmc.Event
	timer             tfm.Timer // of the events; nil without events
	pulse             *pulse
	wavelength        float64
}

// emitter finds the waves from the elements along one path.
type emitter struct {
	path       *wedge.Path
	amplitudes *wedge.Amplitudes // nil for uniform amplitudes
	other      Waves             // in place of a path
}

// Wave is the wave from an element at a point.
type Wave struct {
	Time     float64 // s; NaN if there is no wave
	Slowness r3.Vec  // s/m
}

// Waves returns the waves from all elements of an array at a point of the part, in m.
type Waves func(at r3.Vec) ([]Wave, error)

// NewSpreadOf returns the point spread in images with other rays than the rays of a [wedge.Setup],
// such as rays through grains. All waves have the same amplitude, and the paths of transmission and
// reception are the same. The wavelength in m, above 0, is a typical wavelength in the part.
// [Options].Uniform and [Options].Dimension have no effect. Captures of events are an error.
func NewSpreadOf(c *fmc.Capture, waves Waves, wavelength float64, options *Options) (*Spread, error) {
	if options == nil {
		options = new(Options)
	}
	if err := options.check(c); err != nil {
		return nil, err
	}
	switch {
	case waves == nil:
		return nil, errors.New("quality: waves nil: want a function")
	case !number.Positive(wavelength):
		return nil, fmt.Errorf("quality: wavelength %v m: want a finite value above 0", wavelength)
	case c.Events != nil:
		return nil, errors.New("quality: capture of events: want a capture of single elements")
	}
	s := &Spread{
		elements: slices.Clone(c.Array.Elements), pairs: slices.Clone(c.Pairs), layout: c.Layout(),
		weights: slices.Clone(options.Weights), transmit: &emitter{other: waves}, wavelength: wavelength,
	}
	s.receive = s.transmit
	var err error
	s.pulse, err = newPulse(c.Array, c.SampleRate, options.Band)
	return s, err
}

// wave is the wave from an element at a point.
type wave struct {
	slowness  r3.Vec // s/m
	amplitude complex128
	time      float64 // s
}

// NewSpread returns the point spread of a view of a set-up, such as "TT-T" ([wedge.ParseView]), in
// images of captures like c. These are captures of the same array, pairs and sample rate, with any
// Data. The Data of c may be nil. The spectrum of the echoes is the Gaussian spectrum that the
// array of c states, after the filter of the image.
//
// The captures may be captures of events, such as plane waves. A set-up, a view or an option that
// is out of range is an error.
func NewSpread(c *fmc.Capture, setup *wedge.Setup, view string, options *Options) (*Spread, error) {
	if options == nil {
		options = new(Options)
	}
	if err := options.check(c); err != nil {
		return nil, err
	}
	if setup == nil {
		return nil, errors.New("quality: set-up nil: want one")
	}
	v, err := wedge.ParseView(view)
	if err != nil {
		return nil, err
	}
	transmit, receive, err := setup.Paths(v)
	if err != nil {
		return nil, err
	}
	s := &Spread{
		elements: slices.Clone(c.Array.Elements),
		pairs:    slices.Clone(c.Pairs),
		layout:   c.Layout(),
		weights:  slices.Clone(options.Weights),
	}
	if s.pulse, err = newPulse(c.Array, c.SampleRate, options.Band); err != nil {
		return nil, err
	}
	if s.receive, err = newEmitter(c, setup, receive, options); err != nil {
		return nil, err
	}
	s.transmit = s.receive
	if receive != transmit {
		if s.transmit, err = newEmitter(c, setup, transmit, options); err != nil {
			return nil, err
		}
	}
	if c.Events != nil {
		for _, e := range c.Events {
			s.events = append(s.events, fmc.Event{Delays: slices.Clone(e.Delays), Weights: slices.Clone(e.Weights)})
		}
		if s.timer, err = tfm.NewTimer(c, setup, view, &wedge.TimesOptions{Workers: 1}); err != nil {
			return nil, err
		}
	}
	arriving := setup.Part.Speed(v.Transmit[len(v.Transmit)-1])
	leaving := setup.Part.Speed(v.Receive[0])
	s.wavelength = 2 / (1/arriving + 1/leaving) / c.Array.CentreFrequency
	return s, nil
}

// check reports the first argument that is out of range.
func (o *Options) check(c *fmc.Capture) error {
	if err := c.ValidateTemplate(); err != nil {
		return fmt.Errorf("quality: %w", err)
	}
	if o.Weights != nil && len(o.Weights) != len(c.Pairs) {
		return fmt.Errorf("quality: %d weights: want %d, one a pair, or none", len(o.Weights), len(c.Pairs))
	}
	for i, w := range o.Weights {
		if !number.Finite(float64(w)) {
			return fmt.Errorf("quality: weight %d is %v: want a finite value", i, w)
		}
	}
	return nil
}

func newEmitter(c *fmc.Capture, setup *wedge.Setup, path *wedge.Path, o *Options) (*emitter, error) {
	if o.Uniform {
		return &emitter{path: path}, nil
	}
	acoustics := setup.Acoustics(path)
	acoustics.Dimension = o.Dimension
	acoustics.Frequency = c.Array.CentreFrequency
	acoustics.Source = sourceOf(c.Array)
	amplitudes, err := wedge.NewAmplitudes(path, acoustics)
	if err != nil {
		return nil, fmt.Errorf("quality: %w", err)
	}
	return &emitter{path: path, amplitudes: amplitudes}, nil
}

// sourceOf returns an element of an array. The axis of its width is the direction from the first
// element to the second. Straight ahead of it is at right angles to this axis and to y.
func sourceOf(a fmc.Array) *wedge.Source {
	axis := r3.Vec{X: 1}
	if len(a.Elements) > 1 {
		axis = r3.Sub(a.Elements[1], a.Elements[0])
	}
	normal := r3.Cross(axis, r3.Vec{Y: 1})
	if r3.Norm(normal) < 1e-9*r3.Norm(axis) { // an array along y
		normal = r3.Vec{Z: 1}
	}
	if normal.Z < 0 {
		normal = r3.Scale(-1, normal)
	}
	return &wedge.Source{Width: a.Width, Normal: normal, Axis: axis}
}

// noLeg is the length in m below which a leg has no direction.
const noLeg = 1e-9

// waves returns the waves from all elements at a point. A wave that does not exist has the
// amplitude 0.
func (e *emitter) waves(elements []r3.Vec, at r3.Vec) ([]wave, error) {
	if e.other != nil {
		return e.others(len(elements), at)
	}
	waves := make([]wave, len(elements))
	for i, element := range elements {
		ray := e.path.Solve(element, at)
		if ray.Status != wedge.OK {
			continue
		}
		if n := len(ray.Points); r3.Norm(r3.Sub(ray.Points[n-1], ray.Points[n-2])) < noLeg {
			continue // the ray skips off the wall at the point itself
		}
		d, err := e.path.Derivatives(&ray)
		if err != nil {
			return nil, err
		}
		waves[i] = wave{d.End, 1, ray.Time}
		if e.amplitudes == nil {
			continue
		}
		a, err := e.amplitudes.Along(&ray)
		if err != nil {
			return nil, err
		}
		// The analytic signal has the opposite time factor. There is no amplitude on a caustic.
		waves[i].amplitude = cmplx.Conj(a.Value())
		if cmplx.IsInf(waves[i].amplitude) || cmplx.IsNaN(waves[i].amplitude) {
			waves[i].amplitude = 0
		}
	}
	return waves, nil
}

// others returns the n waves of [NewSpreadOf] at a point.
func (e *emitter) others(n int, at r3.Vec) ([]wave, error) {
	found, err := e.other(at)
	if err == nil && len(found) != n {
		err = fmt.Errorf("quality: %d waves at %v m: want %d, one an element", len(found), at, n)
	}
	if err != nil {
		return nil, err
	}
	waves := make([]wave, n)
	for i, w := range found {
		if w.Time*0 == 0 {
			waves[i] = wave{w.Slowness, 1, w.Time}
		}
	}
	return waves, nil
}

// fronts returns the waves of the events at a point, from the waves of the elements there. The
// slowness is the difference of the times of the event at points around it. The amplitude is the
// sum of the pulses of the elements, at the time of the event. It is small where the edge of the
// beam passes the point.
func (s *Spread) fronts(at r3.Vec, elements []wave) ([]wave, error) {
	const step = 1e-4 // m; the rounding of the times is 1e-4 of the differences
	points := []r3.Vec{at}
	for _, d := range [...]r3.Vec{{X: step}, {Y: step}, {Z: step}} {
		points = append(points, r3.Add(at, d), r3.Sub(at, d))
	}
	times, _, err := s.timer(context.Background(), points)
	if err != nil {
		return nil, err
	}
	waves := make([]wave, len(s.events))
	for i, event := range s.events {
		t := times.Seconds[i*times.Points:]
		slope := func(above, below int) float64 {
			up, down := float64(t[above]-t[0]), float64(t[0]-t[below])
			switch {
			case math.IsNaN(up):
				return down / step
			case math.IsNaN(down):
				return up / step
			}
			return (up + down) / (2 * step)
		}
		w := wave{slowness: r3.Vec{X: slope(1, 2), Y: slope(3, 4), Z: slope(5, 6)}, time: float64(t[0])}
		if math.IsNaN(r3.Norm(w.slowness)) { // the event has no wave there
			continue
		}
		for e, element := range elements {
			early := w.time - event.Delays[e] - element.time
			w.amplitude += complex(event.Weights[e], 0) * element.amplitude * s.pulse.at(early)
		}
		if s.transmit.amplitudes == nil {
			w.amplitude = 1
		}
		waves[i] = w
	}
	return waves, nil
}

// At returns the point spread at a point of the part, in m. The error wraps [wedge.ErrNoRay] if no
// pair of the capture reaches the point.
func (s *Spread) At(at r3.Vec) (*Spot, error) {
	received, err := s.receive.waves(s.elements, at)
	if err != nil {
		return nil, err
	}
	sent := received
	if s.transmit != s.receive {
		if sent, err = s.transmit.waves(s.elements, at); err != nil {
			return nil, err
		}
	}
	symmetric := s.transmit == s.receive && s.events == nil
	if s.events != nil {
		if sent, err = s.fronts(at, sent); err != nil {
			return nil, err
		}
	}
	spot := &Spot{At: at, Wavelength: s.wavelength, pulse: s.pulse}
	merged := make(map[fmc.Pair]int) // the term of a pair, if both directions take the same time
	for p, pair := range s.pairs {
		weight := 1.0
		if s.weights != nil {
			weight = float64(s.weights[p])
		}
		mirrored := s.layout == fmc.Half && pair.Tx != pair.Rx
		if mirrored && symmetric {
			weight *= 2
		}
		if i, found := merged[pair.Reciprocal()]; found && symmetric {
			t := &spot.terms[i]
			t.weight += complex(weight, 0) * sent[pair.Tx].amplitude * received[pair.Rx].amplitude
			t.noise += weight * weight
			t.both = true
			continue
		}
		if spot.add(pair.Tx, pair.Rx, weight, sent[pair.Tx], received[pair.Rx]) {
			merged[pair] = len(spot.terms) - 1
			spot.terms[len(spot.terms)-1].both = mirrored && symmetric
		}
		if mirrored && !symmetric {
			spot.add(pair.Rx, pair.Tx, weight, sent[pair.Rx], received[pair.Tx])
		}
	}
	if len(spot.terms) == 0 {
		return nil, fmt.Errorf("quality: point spread at %v m: %w of any pair", at, wedge.ErrNoRay)
	}
	spot.peak = 1
	if spot.peak = spot.Amplitude(r3.Vec{}); spot.peak == 0 {
		return nil, fmt.Errorf("quality: point spread at %v m: the amplitudes of the pairs cancel", at)
	}
	return spot, nil
}

// Picture returns a picture of the predicted point spread around a point (m), which shows all of
// its contour at drop decibels below its peak ([Spot.Picture]). Give it to [sizing.Find] as
// [sizing.Options].Spread.
func (s *Spread) Picture(at r3.Vec, drop float64) (*tfm.Envelope, error) {
	spot, err := s.At(at)
	if err != nil {
		return nil, err
	}
	return spot.Picture(drop)
}
