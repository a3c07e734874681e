// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"
	"slices"
)

// measureSpikes finds the largest spike of each trace, a sample that the traces around it do not
// explain: its modulus, or its deviation from the mean of the samples next to it, exceeds all that
// those traces have at the same time. The deviation finds single samples below an echo.
func (a *assessment) measureSpikes(b *blocks) {
	for p := range a.report.Traces {
		q := &a.report.Traces[p]
		q.Spike = unknown
		all := append(a.around(p), a.beside(p)...)
		next := slices.DeleteFunc(slices.Clone(all), a.silenced)
		if len(next) < max(3, len(all)/2) || a.besideGap(p) || !(a.report.EchoPeak > 0) {
			continue
		}
		q.Spike = 0
		for _, measure := range [][]float64{b.peak, b.bend} {
			for i := range b.number {
				from, to := max(0, i-1), min(b.number, i+2)
				others := 0.0
				for _, o := range next {
					others = max(others, slices.Max(measure[o*b.number+from:o*b.number+to]))
				}
				if own := measure[p*b.number+i]; own > spikeRatio*others && own > spikeNoise*math.Sqrt(a.variance[p]) {
					q.Spike = max(q.Spike, Number(own)/a.report.EchoPeak)
				}
			}
		}
	}
}

// A spike must exceed the traces around it by spikeRatio, and the noise of its receiver by
// spikeNoise standard deviations.
const (
	spikeRatio = 2
	spikeNoise = 8
)

// besideGap reports whether a nearest neighbour of an end of pair p is silenced. A wave that
// reaches that neighbour first is then in no trace around p.
func (a *assessment) besideGap(p int) bool {
	pair := a.capture.Pairs[p]
	for _, e := range []int{pair.Tx, pair.Rx} {
		for _, o := range a.near[e][:min(2, len(a.near[e]))] {
			near := a.report.Elements[o]
			if min(near.Transmit.Level, near.Receive.Level) < -silence {
				return true
			}
		}
	}
	return false
}

// beside returns the pairs next to p that share an end with it, and its reciprocal.
func (a *assessment) beside(p int) []int {
	pair := a.capture.Pairs[p]
	var next []int
	add := func(tx, rx int) {
		if q, ok := a.pairOf(0, tx, rx); ok && q != p {
			next = append(next, q)
		}
	}
	add(pair.Rx, pair.Tx)
	for _, i := range a.near[pair.Tx][:min(surroundings, len(a.near[pair.Tx]))] {
		add(i, pair.Rx)
	}
	for _, j := range a.near[pair.Rx][:min(surroundings, len(a.near[pair.Rx]))] {
		add(pair.Tx, j)
	}
	return next
}

// silenced reports whether an end of a pair is so weak that its traces explain nothing.
func (a *assessment) silenced(p int) bool {
	pair := a.capture.Pairs[p]
	return min(a.report.Elements[pair.Tx].Transmit.Level, a.report.Elements[pair.Rx].Receive.Level) < -silence
}
