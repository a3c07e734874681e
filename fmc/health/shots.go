// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"
	"slices"
)

// lostLevel is the loss in dB beyond which a single trace counts as lost.
const lostLevel = 8

// measureShots measures which share of its traces each element has lost, though the others are
// there. In a full matrix a trace is compared with its reciprocal, else with the traces of the
// pairs around it.
func (a *assessment) measureShots(b *blocks) {
	var level []float64
	if a.ends.separate {
		level = a.againstReciprocal()
	} else {
		level = a.againstAround(b)
		a.subtractLoss(level)
	}
	for e := range a.report.Elements {
		q := &a.report.Elements[e]
		q.Transmit.Lost = a.lostShare(0, e, level)
		q.Receive.Lost = a.lostShare(1, e, level)
	}
}

// againstReciprocal returns the level of each trace against its reciprocal trace in dB, about
// the largest sample of both, NaN where the noise hides a loss of lostLevel. The usual level of
// each transmitter and of each receiver is subtracted: a weak end is no loss of single traces.
func (a *assessment) againstReciprocal() []float64 {
	level := make([]float64, len(a.capture.Pairs))
	for p, pair := range a.capture.Pairs {
		level[p] = math.NaN()
		twin := a.ends.at[pair.Reciprocal()]
		if twin == p || !a.clear(p) && !a.clear(twin) {
			continue
		}
		strong := p
		if a.report.Traces[twin].Peak > a.report.Traces[p].Peak {
			strong = twin
		}
		w := a.aroundPeak(strong, 1)
		length := float64(w.length())
		own := sumOfSquares(a.capture.Trace(p)[w.first:w.end], float64(a.report.Traces[p].Offset)) - length*a.variance[p]
		other := sumOfSquares(a.capture.Trace(twin)[w.first:w.end], float64(a.report.Traces[twin].Offset)) - length*a.variance[twin]
		least := max(math.Sqrt(2*length)*max(a.variance[p], a.variance[twin]), 1e-9*max(own, other))
		level[p] = 10 * math.Log10(max(own, least)/max(other, least))
	}
	a.subtractUsual(level)
	return level
}

// subtractLoss takes away what each end loses in most of its traces, in levels against the pairs
// around. Where that is much, noise hides what single traces lose.
func (a *assessment) subtractLoss(level []float64) {
	loss := make([]float64, len(a.near))
	for e := range loss {
		var values []float64
		for _, end := range a.ends.sides[0][e] {
			values = append(values, level[end.pair])
		}
		loss[e] = min(0, quantile(values, usualShare))
	}
	for p, pair := range a.capture.Pairs {
		level[p] -= loss[pair.Tx] + loss[pair.Rx]
		if min(loss[pair.Tx], loss[pair.Rx]) < -lostLevel/2 {
			level[p] = math.NaN()
		}
	}
}

// subtractUsual subtracts u(i) - u(j) from the level of i→j against its reciprocal trace, where u
// is the level of an element as a transmitter less its level as a receiver. Where an element lost
// some traces, on either side, the quantile nearest to 0 stands for its other traces. Where an end
// as a whole is lost, single traces tell nothing.
func (a *assessment) subtractUsual(level []float64) {
	usual := make([]float64, len(a.near))
	for range 3 {
		for e := range usual {
			var values []float64
			for _, end := range a.ends.sides[0][e] {
				values = append(values, level[end.pair]+usual[end.partner])
			}
			usual[e] = 0
			for i, share := range []float64{1 - usualShare, 0.5, usualShare} {
				if v := quantile(values, share); i == 0 || math.Abs(v) < math.Abs(usual[e]) {
					usual[e] = v
				}
			}
			if math.IsNaN(usual[e]) {
				usual[e] = 0
			}
		}
	}
	for p, pair := range a.capture.Pairs {
		level[p] += usual[pair.Rx] - usual[pair.Tx]
		if max(math.Abs(usual[pair.Tx]), math.Abs(usual[pair.Rx])) > lostLevel {
			level[p] = math.NaN()
		}
	}
}

// usualShare is the quantile of an element's levels that stands for its traces that are not
// lost: at most three quarters of them may be lost.
const usualShare = 0.8

// aroundShare is the share of traces that must be lost at least where only the pairs around tell:
// in sound captures interference hides up to 0.11 of an element's traces.
const aroundShare = 0.15

// lostShare returns the share of lost traces of element e on side s among those that can be
// judged, NaN where those are fewer than four. A single trace may be lost by chance: it counts as
// none.
func (a *assessment) lostShare(s, e int, level []float64) Number {
	var values []float64
	for _, end := range a.ends.sides[s][e] {
		if !math.IsNaN(level[end.pair]) {
			values = append(values, level[end.pair])
		}
	}
	if len(values) < 4 {
		return unknown
	}
	lost := 0
	for _, v := range values {
		if v < -lostLevel {
			lost++
		}
	}
	if lost < 2 || !a.ends.separate && float64(lost) < aroundShare*float64(len(values)) {
		lost = 0
	}
	return Number(lost) / Number(len(values))
}

// quantile returns the value below which the given share of the values lies that are not NaN,
// and NaN of none.
func quantile(values []float64, share float64) float64 {
	s := slices.DeleteFunc(slices.Clone(values), math.IsNaN)
	if len(s) == 0 {
		return math.NaN()
	}
	slices.Sort(s)
	return s[int(share*float64(len(s)-1)+0.5)]
}
