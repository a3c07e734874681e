// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
)

// judge compares the measurements with the limits.
func (a *assessment) judge(l Limits) {
	r := a.report
	if !a.echoes() {
		r.add(Finding{Kind: NoEcho, Value: a.significance, Limit: echoSignificance})
	}
	for _, t := range r.Tones {
		if level := float64(t.Level); level > l.Interference {
			r.add(Finding{Kind: Interference, Tone: t, Value: level, Limit: l.Interference})
		}
	}
	a.judgeOrder(l)
	for e := range r.Elements {
		r.judgeElement(e, l, 1/a.capture.Array.CentreFrequency)
	}
	a.judgePairs(l)
	a.judgeWall(l)
	a.judgeWhole(l)
	sorted(r.Findings)
}

func (r *Report) add(f Finding) {
	f.Value = min(f.Value, math.MaxFloat64) // JSON has no infinity
	r.Findings = append(r.Findings, f)
}

// has reports whether element e has a finding of one of the kinds.
func (r *Report) has(e int, kinds ...Kind) bool {
	return slices.ContainsFunc(r.Findings, func(f Finding) bool {
		return slices.Contains(kinds, f.Kind) && len(f.Elements) == 1 && f.Elements[0] == e
	})
}

func (r *Report) judgeElement(e int, l Limits, period float64) {
	q := &r.Elements[e]
	// judge adds a finding for each side that exceeds the limit, or one finding if both sides
	// exceed it.
	judge := func(kind Kind, limit float64, excess func(Channel) float64) bool {
		transmit, receive := excess(q.Transmit), excess(q.Receive)
		f := Finding{Kind: kind, Elements: []int{e}, Transmit: transmit > limit, Receive: receive > limit, Limit: limit}
		switch {
		case f.Transmit && f.Receive:
			f.Value = max(transmit, receive)
		case f.Transmit:
			f.Value = transmit
		case f.Receive:
			f.Value = receive
		default:
			return false
		}
		r.add(f)
		return true
	}
	judge(LostShots, l.LostShots, func(s Channel) float64 { return float64(s.Lost) })
	switch {
	case r.has(e, LostShots): // its median trace says nothing
	case r.uncoupled(q, l):
		r.add(Finding{
			Kind: Uncoupled, Elements: []int{e}, Transmit: true, Receive: true,
			Value: -float64(q.Coupling), Limit: l.Uncoupled,
		})
	default:
		if !judge(Dead, l.Dead, func(s Channel) float64 { return -float64(s.Level) }) {
			judge(Weak, l.Weak, func(s Channel) float64 { return -float64(s.Relative) })
		}
	}
	if !r.swapped() { // else what is usual at a place is wrong, and polarities and time zeros with it
		judge(Reversed, l.Reversed, func(s Channel) float64 { return -float64(s.Polarity) })
		judge(Drift, l.Drift, func(s Channel) float64 { return (math.Abs(float64(s.Drift)) - 2*float64(s.DriftError)) / period })
	}
	judge(Jitter, l.Jitter, func(s Channel) float64 { return float64(s.Jitter) / period })
	if v := float64(q.Step); v > l.Step {
		r.add(Finding{Kind: Coarse, Receive: true, Elements: []int{e}, Value: v, Limit: l.Step})
	}
	// Noise too weak to be visible in an image makes no finding, however unequal it is.
	const audible = 0.01 // of the median echo
	if v := float64(q.Noise); v > l.Noisy && math.Pow(10, v/20)*float64(r.NoiseFloor) > audible*float64(r.EchoPeak) {
		r.add(Finding{Kind: Noisy, Receive: true, Elements: []int{e}, Value: v, Limit: l.Noisy})
	}
	if v := math.Abs(float64(q.Offset)); v > l.Offset {
		r.add(Finding{Kind: Offset, Receive: true, Elements: []int{e}, Value: v, Limit: l.Offset})
	}
}

// uncoupled reports whether the coupling echo is lost though the element works: its initial pulse
// is like the pulses of the others, or other echoes show no loss.
func (r *Report) uncoupled(q *Element, l Limits) bool {
	const intact = 3 // dB
	if !(-q.Coupling > Number(l.Uncoupled)) {
		return false
	}
	other := r.Coupling != r.Echo && float64(-q.Transmit.Relative) <= l.Weak && float64(-q.Receive.Relative) <= l.Weak
	return other || math.Abs(float64(q.Initial)) < intact
}

// swapped reports whether some elements are exchanged, or those given.
func (r *Report) swapped(elements ...int) bool {
	return slices.ContainsFunc(r.Findings, func(f Finding) bool {
		given := func(e int) bool { return slices.Contains(elements, e) }
		return f.Kind == Exchanged && (len(elements) == 0 || slices.ContainsFunc(f.Elements, given))
	})
}

// judgeOrder adds the exchanged elements. An exchange on both sides makes one finding.
func (a *assessment) judgeOrder(l Limits) {
	for s := range a.exchanged {
		for _, x := range a.exchanged[s] {
			other := slices.IndexFunc(a.exchanged[1-s], func(y exchange) bool { return y.elements == x.elements && y.gain > l.Exchanged })
			if !(x.gain > l.Exchanged) || s == 1 && other >= 0 {
				continue
			}
			a.report.add(Finding{
				Kind: Exchanged, Elements: x.elements[:], Transmit: s == 0, Receive: s == 1 || other >= 0, Value: x.gain, Limit: l.Exchanged,
			})
		}
	}
}

func (a *assessment) judgePairs(l Limits) {
	r := a.report
	// The traces of an element with a fault of its own are unlike for that reason.
	explained := func(e int) bool {
		return r.has(e, Dead, Weak, Uncoupled, Reversed, Drift, Noisy, LostShots, Jitter, Coarse)
	}
	spiked := make(map[fmc.Pair]bool)
	for _, q := range r.Traces {
		if v := float64(q.Spike); v > l.Spike {
			r.add(Finding{Kind: Spike, Elements: []int{q.Tx, q.Rx}, Value: v, Limit: l.Spike})
			spiked[q.Pair] = true
		}
	}
	for p, q := range r.Traces {
		at := []int{q.Tx, q.Rx}
		if v := float64(q.Saturated); v > l.Saturated {
			r.add(Finding{Kind: Saturated, Elements: at, Value: v, Limit: l.Saturated})
		}
		// Cross-talk and reciprocity are small differences of energies, which noise can feign.
		if v := float64(q.CrossTalk); v > l.CrossTalk {
			noise := math.Sqrt(2/(a.pulse()*a.capture.SampleRate)) * 2 * a.variance[p] / float64(r.EchoPeak*r.EchoPeak)
			if v*v > sure*noise {
				r.add(Finding{Kind: CrossTalk, Elements: at, Value: v, Limit: l.CrossTalk})
			}
		}
		v := float64(q.Reciprocity)
		if q.Tx < q.Rx && v*v-sure*a.doubt[p] > l.Reciprocity*l.Reciprocity && !explained(q.Tx) && !explained(q.Rx) &&
			!spiked[q.Pair] && !spiked[q.Reciprocal()] {
			r.add(Finding{Kind: Reciprocity, Elements: at, Value: v, Limit: l.Reciprocity})
		}
	}
}

// sure is the number of standard deviations by which a finding about a single pair must exceed the
// noise, because a large array has many thousand pairs. The energy of a few samples has a long
// tail.
const sure = 8

func (a *assessment) judgeWhole(l Limits) {
	r := a.report
	least, most := math.Inf(1), math.Inf(-1)
	for e, q := range r.Elements {
		if v := float64(q.Transmit.Relative + q.Receive.Relative); !math.IsNaN(v) && !r.has(e, Dead, Weak, Uncoupled, LostShots) {
			least, most = min(least, v), max(most, v)
		}
	}
	if least <= most {
		r.Spread = Number(most - least)
	}
	if v := float64(r.Spread); v > l.Spread {
		r.add(Finding{Kind: Spread, Value: v, Limit: l.Spread})
	}
	if v := float64(r.SNR); v < l.SNR && !math.IsInf(l.SNR, 1) {
		r.add(Finding{Kind: LowSNR, Value: v, Limit: l.SNR})
	}
	nominal := a.capture.Array
	if v := math.Abs(float64(r.CentreFrequency)/nominal.CentreFrequency - 1); v > l.Frequency {
		r.add(Finding{Kind: WrongFrequency, Value: v, Limit: l.Frequency})
	}
	if v := float64(r.Bandwidth) / nominal.Bandwidth; v < l.Bandwidth && !math.IsInf(l.Bandwidth, 1) {
		r.add(Finding{Kind: NarrowBand, Value: v, Limit: l.Bandwidth})
	}
}
