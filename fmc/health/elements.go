// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
)

// The steps by which elements are left out of each other's baselines: each below the
// default of its limit, so that an element to be found has no part in the baselines.
const (
	stepLevel = 3    // dB, one end
	stepDrift = 0.15 // periods
	silence   = 10   // dB below the median element, beyond which polarity and time zero are not looked for
)

// sameShape is the least likeness of two traces that hold the same echo.
const sameShape = 0.6

// echoes reports whether echoes stand out of the noise: six standard deviations of the
// energy that noise alone would give.
func (a *assessment) echoes() bool { return a.significance > echoSignificance }

const echoSignificance = 6

// measureEcho measures the elements by their echoes, as far as there are any.
func (a *assessment) measureEcho() {
	elements := a.report.Elements
	none := Channel{unknown, unknown, unknown, unknown, unknown, unknown, unknown, unknown}
	for e := range elements {
		elements[e].Transmit, elements[e].Receive = none, none
		elements[e].Coupling = unknown
	}
	a.report.Spread = unknown
	if !a.echoes() {
		return
	}
	energy, floor := a.energies(a.echo)
	level := a.pooled(a.fitLevels(energy, floor), energy)
	silent := func(side, e int) bool { return !(level[side][e] > -silence) }
	period := 1 / a.capture.Array.CentreFrequency
	a.inBand = a.filter(window{0, a.capture.Samples})
	var polarity, drift, doubt [2][]float64
	for s := range a.ends.count() {
		c := a.chain(s, silent)
		polarity[s] = c.polarity
		drift[s], doubt[s] = a.drifts(c, stepDrift*period)
		for e := range elements {
			if !(math.Abs(polarity[s][e]) >= sameShape) {
				drift[s][e] = math.NaN()
			}
		}
	}
	if a.ends.separate {
		a.reconcile(polarity, drift)
	}
	for s := range a.ends.count() {
		relative := a.relative(level[s], stepLevel, silence)
		for e := range elements {
			side := none
			side.Level, side.Relative, side.Polarity = Number(level[s][e]), Number(relative[e]), Number(polarity[s][e])
			if !math.IsNaN(drift[s][e]) {
				side.Drift, side.DriftError = Number(drift[s][e]), Number(doubt[s][e])
			}
			if s == 0 {
				elements[e].Transmit = side
			}
			if s == 1 || !a.ends.separate {
				elements[e].Receive = side
			}
		}
	}
	coupling := level
	if a.coupling != a.echo {
		energy, floor := a.energies(a.coupling)
		coupling = a.pooled(a.fitLevels(energy, floor), energy)
	}
	both := make([]float64, len(elements))
	for e := range both {
		both[e] = coupling[0][e] + coupling[1][e]
	}
	for e, v := range a.relative(both, 2*stepLevel, 2*silence) {
		elements[e].Coupling = Number(v)
	}
}

// measureElements measures all other numbers of each element.
func (a *assessment) measureElements() {
	report := a.report
	offsets, ratios := make([][]float64, len(report.Elements)), make([][]float64, len(report.Elements))
	for p, q := range report.Traces {
		offsets[q.Rx] = append(offsets[q.Rx], float64(report.Traces[p].Offset))
		ratios[q.Tx] = append(ratios[q.Tx], float64(q.SNR))
		if q.Tx != q.Rx {
			ratios[q.Rx] = append(ratios[q.Rx], float64(q.SNR))
		}
	}
	a.initialPulses()
	var total []float64
	for e := range report.Elements {
		q := &report.Elements[e]
		q.SNR = Number(number.Median(ratios[e]))
		q.Offset = unknown
		if report.EchoPeak > 0 {
			q.Offset = Number(number.Median(offsets[e])) / report.EchoPeak
		}
		q.CentreFrequency, q.Bandwidth = unknown, unknown
		own, ok := a.ends.at[fmc.Pair{Tx: e, Rx: e}]
		if !ok || !(q.Transmit.Level > -silence && q.Receive.Level > -silence) {
			continue
		}
		power := a.spectrum(own)
		q.CentreFrequency, q.Bandwidth = a.band(power)
		if total == nil {
			total = make([]float64, len(power))
		}
		for i, v := range power {
			total[i] += v
		}
	}
	report.CentreFrequency, report.Bandwidth = a.band(total)
}

// pulseAmplitudes returns the amplitude of the initial pulse of each element in its own trace, from
// half a pulse length before time 0 to the end of the pulse. It is NaN where the record lacks the
// pulse.
func (a *assessment) pulseAmplitudes() []float64 {
	c := a.capture
	amplitude := make([]float64, len(a.report.Elements))
	w := cut(c, Gate{-a.pulse() / 2, 3.6 * a.pulse()})
	held := w.length() >= 2 && c.FirstSample <= 0
	for e := range amplitude {
		amplitude[e] = math.NaN()
		if p, ok := a.ends.at[fmc.Pair{Tx: e, Rx: e}]; ok && held {
			energy := sumOfSquares(c.Trace(p)[w.first:w.end], float64(a.report.Traces[p].Offset))
			amplitude[e] = math.Sqrt(max(0, energy-float64(w.length())*a.variance[p]))
		}
	}
	return amplitude
}

// initialPulses measures the initial pulse of each element against the median element.
func (a *assessment) initialPulses() {
	amplitude := a.pulseAmplitudes()
	middle := number.Median(amplitude)
	for e, v := range amplitude {
		a.report.Elements[e].Initial = unknown
		if middle > 0 && !math.IsNaN(v) {
			a.report.Elements[e].Initial = decibels(v, middle)
		}
	}
}
