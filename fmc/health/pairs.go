// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// noiseOf measures the noise and the offset of a pair. The offset is taken over the whole trace:
// echoes are as often positive as negative, so that they leave the median where it is.
func (a *assessment) noiseOf(p int) Trace {
	trace := a.capture.Trace(p)
	quiet := make([]float64, a.noise.length())
	for k, v := range trace[a.noise.first:a.noise.end] {
		quiet[k] = float64(v)
	}
	all := make([]float64, len(trace))
	for k, v := range trace {
		all[k] = float64(v)
	}
	centre := number.Median(quiet)
	for k, v := range quiet {
		quiet[k] = math.Abs(v - centre)
	}
	// 1.4826 makes the median absolute deviation of Gaussian noise its standard
	// deviation.
	return Trace{
		Pair:        a.capture.Pairs[p],
		Noise:       Number(1.4826 * number.Median(quiet)),
		Offset:      Number(number.Median(all)),
		CrossTalk:   unknown,
		Reciprocity: unknown,
	}
}

// measurePairs measures all other numbers of each pair.
func (a *assessment) measurePairs(fullScale float64) {
	c, pairs := a.capture, a.report.Traces
	run := 1 // samples at full scale that count as clipped
	if fullScale == 0 {
		run = 3
		for _, v := range a.recorded.Data {
			fullScale = max(fullScale, math.Abs(float64(v)))
		}
	}
	energy, floor := a.energies(a.echo)
	silent := a.silentEnds(energy, floor)
	a.doubt = make([]float64, len(pairs))
	var peaks, ratios []float64 // of the pairs that are heard
	total, deviation := 0.0, 0.0
	for p := range pairs {
		q := &pairs[p]
		x := c.Trace(p)[a.echo.first:a.echo.end]
		recorded := a.recorded.Trace(p)
		offset := float64(q.Offset)
		for _, v := range x {
			q.Peak = max(q.Peak, Number(math.Abs(float64(v)-offset)))
		}
		q.SNR = decibels(float64(q.Peak), float64(q.Noise))
		if !silent[0][q.Tx] && !silent[1][q.Rx] {
			peaks, ratios = append(peaks, float64(q.Peak)), append(ratios, float64(q.SNR))
		}
		q.Saturated = Number(float64(number.Clipped(recorded[a.echo.first:a.echo.end], fullScale, run)) / float64(len(x)))
		q.Clipped = number.Clipped(recorded, fullScale, run)
		total += energy[p]
		deviation += 2 * float64(len(x)) * a.variance[p] * a.variance[p]
	}
	a.report.EchoPeak, a.report.SNR = Number(number.Median(peaks)), Number(number.Median(ratios))
	a.significance = 0
	if total > 0 {
		a.significance = min(total/math.Sqrt(deviation), 1e6)
	}
	for p := range pairs {
		a.crossTalk(p)
		a.reciprocity(p)
	}
}

// crossTalk measures the signal at a receiver within half a pulse length of time 0. The elements
// are so far apart that the pulse of the fastest wave begins later.
func (a *assessment) crossTalk(p int) {
	c, q := a.capture, &a.report.Traces[p]
	half := a.pulse() / 2
	at := c.Array.Elements
	if r3.Norm(r3.Sub(at[q.Tx], at[q.Rx])) < a.fastest*(half+1.2*a.pulse()) || !(a.report.EchoPeak > 0) {
		return
	}
	w := cut(c, Gate{-half, half})
	if w.length() < a.samples(half) || w.length() < 2 {
		return
	}
	energy := sumOfSquares(c.Trace(p)[w.first:w.end], float64(q.Offset)) - float64(w.length())*a.variance[p]
	q.CrossTalk = Number(math.Sqrt(2*max(0, energy)/float64(w.length()))) / a.report.EchoPeak
}

// reciprocity compares a pair with its reciprocal, 1.2 pulse lengths about the largest
// sample of both in the echo gate.
func (a *assessment) reciprocity(p int) {
	c, q := a.capture, &a.report.Traces[p]
	twin, ok := a.ends.at[q.Reciprocal()]
	if !ok || q.Tx == q.Rx {
		return
	}
	x, y := c.Trace(p), c.Trace(twin)
	offsetX, offsetY := float64(q.Offset), float64(a.report.Traces[twin].Offset)
	peak, most := a.echo.first, 0.0
	for k := a.echo.first; k < a.echo.end; k++ {
		if v := max(math.Abs(float64(x[k])-offsetX), math.Abs(float64(y[k])-offsetY)); v > most {
			peak, most = k, v
		}
	}
	half := a.samples(1.2 * a.pulse())
	first, end := max(a.echo.first, peak-half), min(a.echo.end, peak+half+1)
	difference, both := 0.0, 0.0
	for k := first; k < end; k++ {
		dx, dy := float64(x[k])-offsetX, float64(y[k])-offsetY
		difference += (dx - dy) * (dx - dy)
		both += dx*dx + dy*dy
	}
	variance := a.variance[p] + a.variance[twin]
	samples := float64(end - first)
	deviation := math.Sqrt(2*samples) * variance // of the energies, by noise
	difference -= samples * variance
	both -= samples * variance
	if both > 10*deviation {
		q.Reciprocity = Number(math.Sqrt(2 * max(0, difference) / both))
		a.doubt[p] = 2 * deviation / both
	}
}
