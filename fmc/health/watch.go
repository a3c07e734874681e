// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
)

// Watch follows the frames of a scan, one after the other, and compares each with the first ones:
// gain that drifts, and elements that are lost on the way. It keeps some numbers of the first
// frames and of each element, and no samples. A Watch is not for several goroutines at once.
type Watch struct {
	options Options
	limits  Limits
	pairs   []fmc.Pair
	first   []levelsOfFrame // of the reference frames
	start   levelsOfFrame   // their medians
	last    int             // number of the frame before
	lost    []bool          // elements
	drifted bool
}

// FrameReport compares a frame with the first ones. Numbers are in dB, against the
// median of the reference frames, and not known within those. A finding is a change that begins or
// ends at the frame. The kinds are
//
//	GainDrift  the gain changed
//	Dead       an element lost its echoes, and its initial pulse changed
//	Uncoupled  an element lost its echoes, and its initial pulse is as before
//	NoEcho     an element lost its echoes; without an initial pulse the cause is not known
//	Recovered  an element or the gain is as in the first frames again
type FrameReport struct {
	Frame int
	// Gain is the change of the initial pulses. If they are clipped or not recorded, it is the
	// change of the noise; it then cannot be distinguished from a change of noise alone. It is not
	// known if there are neither initial pulses nor noise.
	Gain     Number
	Echo     Number   // change of the echoes: gain, coupling and part together
	Noise    Number   // change of the noise
	Initial  Number   // change of the initial pulses, where they are recorded and not clipped
	Elements []Number // two-way level of each element against the median element
	Findings []Finding
}

// levelsOfFrame are the levels of a frame in dB; elements relative to the median one.
type levelsOfFrame struct {
	echo, noise, initial float64
	elements, pulses     []float64
}

// NewWatch returns a watch for frames of one array and one list of pairs. Gates that are zero in
// the options are chosen in the first frame and kept. Options may be nil.
func NewWatch(options *Options) (*Watch, error) {
	w := &Watch{last: -1}
	if options != nil {
		w.options = *options
	}
	if w.options.References == 0 {
		w.options.References = 5
	}
	if w.options.References < 1 {
		return nil, fmt.Errorf("health: %d reference frames: want at least 1, or 0 for 5", w.options.References)
	}
	var err error
	w.limits, err = w.options.Limits.complete()
	return w, err
}

// Add takes the next frame. Frame numbers ascend. It does not keep the capture. It refuses a
// capture as [Assess] does, another array or list of pairs, and a frame number that does not
// ascend.
func (w *Watch) Add(frame int, c *fmc.Capture) (*FrameReport, error) {
	if frame <= w.last {
		return nil, fmt.Errorf("health: frame %d after frame %d: want ascending numbers from 0", frame, w.last)
	}
	if c == nil {
		return nil, errors.New("health: no capture")
	}
	if err := c.Validate(); err != nil {
		return nil, fmt.Errorf("health: frame %d: %w", frame, err)
	}
	n := len(c.Array.Elements)
	switch {
	case c.Events != nil:
		return nil, fmt.Errorf("health: frame %d: %w: want it decoded before it is judged", frame, fmc.ErrEvents)
	case n > maxElements:
		return nil, fmt.Errorf("health: array of %d elements: want at most %d", n, maxElements)
	case w.pairs != nil && (!slices.Equal(c.Pairs, w.pairs) || n != len(w.lost)):
		return nil, fmt.Errorf("health: frame %d of %d pairs of %d elements: want the %d pairs of %d elements of the frames before",
			frame, len(c.Pairs), n, len(w.pairs), len(w.lost))
	}
	if err := w.options.validate(c); err != nil {
		return nil, err
	}
	a := newAssessment(c, &w.options)
	if w.pairs == nil {
		w.pairs, w.lost = slices.Clone(c.Pairs), make([]bool, n)
		w.options.Noise, w.options.Echo = a.report.Noise, a.report.Echo
	}
	w.last = frame
	now := a.levelsOfFrame(w.options.FullScale)
	if len(w.first) < w.options.References {
		w.first = append(w.first, now)
		w.start = medianOfFrames(w.first)
		r := &FrameReport{Frame: frame, Gain: unknown, Echo: unknown, Noise: unknown, Initial: unknown}
		r.Elements = slices.Repeat([]Number{unknown}, n)
		return r, nil
	}
	return w.compare(frame, now), nil
}

// levelsOfFrame measures the levels of a frame in its gates.
func (a *assessment) levelsOfFrame(fullScale float64) levelsOfFrame {
	energy, floor := a.energies(a.echo)
	side := a.pooled(a.fitLevels(energy, floor), energy)
	f := levelsOfFrame{initial: math.NaN(), pulses: a.pulseAmplitudes(), elements: make([]float64, len(a.near))}
	for e := range f.elements {
		f.elements[e] = side[0][e] + side[1][e]
		f.pulses[e] = 20 * math.Log10(f.pulses[e])
	}
	var variances, levels []float64
	for p := range energy {
		variances = append(variances, a.variance[p])
		levels = append(levels, 10*math.Log10(max(energy[p], floor[p])))
	}
	f.noise, f.echo = 10*math.Log10(number.Median(variances)), number.Median(levels)
	if !a.clipsPulse(fullScale) {
		f.initial = number.Median(f.pulses)
	}
	return f
}

// clipsPulse reports whether any initial pulse reaches full scale, by default the largest modulus
// where a trace stays at it.
func (a *assessment) clipsPulse(fullScale float64) bool {
	run := 1
	if fullScale == 0 {
		run = 3
		for _, v := range a.capture.Data {
			fullScale = max(fullScale, math.Abs(float64(v)))
		}
	}
	for e := range a.near {
		if p, ok := a.ends.at[fmc.Pair{Tx: e, Rx: e}]; ok && number.Clipped(a.capture.Trace(p), fullScale, run) > 0 {
			return true
		}
	}
	return false
}

// medianOfFrames returns the median of each number.
func medianOfFrames(frames []levelsOfFrame) levelsOfFrame {
	median := func(of func(levelsOfFrame) float64) float64 {
		var v []float64
		for _, f := range frames {
			v = append(v, of(f))
		}
		return number.Median(v)
	}
	m := levelsOfFrame{
		echo:    median(func(f levelsOfFrame) float64 { return f.echo }),
		noise:   median(func(f levelsOfFrame) float64 { return f.noise }),
		initial: median(func(f levelsOfFrame) float64 { return f.initial }),
	}
	for e := range frames[0].elements {
		m.elements = append(m.elements, median(func(f levelsOfFrame) float64 { return f.elements[e] }))
		m.pulses = append(m.pulses, median(func(f levelsOfFrame) float64 { return f.pulses[e] }))
	}
	return m
}

// difference returns now - start within ±120 dB. It is not known if either value is not known, or
// if there was no signal at the start.
func difference(now, start float64) Number {
	d := now - start
	if math.IsNaN(d) || math.IsInf(start, 0) {
		return unknown
	}
	return Number(max(-120, min(120, d)))
}

// compare reports what changed since the first frames.
func (w *Watch) compare(frame int, now levelsOfFrame) *FrameReport {
	r := &FrameReport{
		Frame:   frame,
		Echo:    difference(now.echo, w.start.echo),
		Noise:   difference(now.noise, w.start.noise),
		Initial: difference(now.initial, w.start.initial),
	}
	r.Gain = r.Initial
	if !r.Gain.Known() {
		r.Gain = r.Noise
	}
	add := func(kind Kind, element int, value, limit float64) {
		f := Finding{Kind: kind, Value: value, Limit: limit}
		if element >= 0 {
			f.Elements, f.Transmit, f.Receive = []int{element}, true, true
		}
		r.Findings = append(r.Findings, f)
	}
	if drift := math.Abs(float64(r.Gain)) > w.limits.GainDrift; drift != w.drifted && r.Gain.Known() {
		w.drifted = drift
		kind := GainDrift
		if !drift {
			kind = Recovered
		}
		add(kind, -1, float64(r.Gain), w.limits.GainDrift)
	}
	for e, level := range now.elements {
		change := difference(level, w.start.elements[e])
		r.Elements = append(r.Elements, change)
		if lost := -change > Number(w.limits.Lost); lost != w.lost[e] && change.Known() {
			w.lost[e] = lost
			kind := Recovered
			if lost {
				kind = lossKind(difference(now.pulses[e], w.start.pulses[e]) - r.Gain)
			}
			add(kind, e, float64(-change), w.limits.Lost)
		}
	}
	return r
}

// lossKind returns the kind of the loss of an element, by the change of its initial pulse in dB.
func lossKind(pulse Number) Kind {
	const intact = 3 // dB
	switch {
	case !pulse.Known():
		return NoEcho
	case math.Abs(float64(pulse)) < intact:
		return Uncoupled
	}
	return Dead
}
