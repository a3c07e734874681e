// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// measureJitter measures how much the time zero of each element scatters from trace to trace.
//
// In a full matrix it uses the lag of each trace against its reciprocal trace. Both traces hold
// the same echoes, so the lags of a sound element are equal for all partners. This lag does not
// show whether the element jitters as a transmitter or as a receiver. The lags against
// neighbouring elements show the side. A half matrix has only these lags. They scatter more,
// because neighbours receive slightly different echoes.
func (a *assessment) measureJitter() {
	for e := range a.report.Elements {
		q := &a.report.Elements[e]
		transmit, receive := a.neighbourScatter(0, e), a.neighbourScatter(1, e)
		if a.ends.separate {
			// Its neighbours tell the side, its reciprocal traces how much.
			both, larger := a.reciprocalScatter(e), max(transmit, receive)
			for _, side := range []*float64{&transmit, &receive} {
				if !(*side < larger/2) {
					*side = both
				}
			}
		}
		q.Transmit.Jitter, q.Receive.Jitter = Number(transmit), Number(receive)
	}
}

// reciprocalScatter returns the scatter of the lags of element e's traces against their
// reciprocal traces in s.
func (a *assessment) reciprocalScatter(e int) float64 {
	var lags []float64
	ends := a.ends.sides[0][e]
	reach := 1.25 / a.capture.Array.CentreFrequency
	for i := 0; i < len(ends); i += 1 + len(ends)/(partners+1) {
		p := ends[i].pair
		twin := a.ends.at[a.capture.Pairs[p].Reciprocal()]
		if twin == p || !a.clear(p) || !a.clear(twin) {
			continue
		}
		lags = append(lags, a.lag(p, twin, reach))
	}
	return scatter(lags)
}

// neighbourScatter returns the scatter in s of the lags of element e's traces on side s against the
// traces of a neighbour. Of three neighbours the least scatter counts: it is NaN if the scatter
// against one of them is not known, because that one may be the least. Lags of successive partners
// are compared, because lags change slowly along the array.
func (a *assessment) neighbourScatter(s, e int) float64 {
	at := a.capture.Array.Elements
	near := a.near[e][:min(surroundings, len(a.near[e]))]
	if len(near) == 0 {
		return math.NaN()
	}
	least := math.Inf(1)
	for _, o := range near {
		reach := 1.25/a.capture.Array.CentreFrequency + r3.Norm(r3.Sub(at[e], at[o]))/slowest
		var changes []float64
		before := math.NaN()
		for _, end := range a.ends.sides[s][e] {
			q, ok := a.pairOf(s, o, end.partner)
			if !ok || !a.clear(end.pair) || !a.clear(q) || end.partner == e || end.partner == o {
				before = math.NaN()
				continue
			}
			lag := a.lag(end.pair, q, reach)
			changes = append(changes, lag-before)
			before = lag
		}
		least = math.Min(least, scatter(changes)/math.Sqrt2)
	}
	return least
}

// clear reports whether the largest echo of a trace stands out of the noise enough to time it.
func (a *assessment) clear(p int) bool {
	peak := float64(a.report.Traces[p].Peak)
	return peak > 6*math.Sqrt(a.variance[p]) && peak > 0
}

// aroundPeak returns the samples of the echo gate about the largest one of pair p, so many pulse
// lengths on either side.
func (a *assessment) aroundPeak(p int, pulses float64) window {
	trace, offset := a.capture.Trace(p), float64(a.report.Traces[p].Offset)
	peak := a.echo.first
	for k := a.echo.first; k < a.echo.end; k++ {
		if math.Abs(float64(trace[k])-offset) > math.Abs(float64(trace[peak])-offset) {
			peak = k
		}
	}
	half := a.samples(pulses * a.pulse())
	return window{max(a.echo.first, peak-half), min(a.echo.end, peak+half+1)}
}

// sameEcho is the likeness above which two traces count as holding the same echo.
const sameEcho = 0.8

// lag returns the delay, in s, of the largest echo of pair p in the trace of pair q relative to
// the trace of pair p. The sign of the echo may differ. It is NaN where q has no such echo within
// the reach in s.
func (a *assessment) lag(p, q int, reach float64) float64 {
	c, w := a.capture, a.aroundPeak(p, 1.2)
	x, y := c.Trace(p)[w.first:w.end], c.Trace(q)
	offsetX, offsetY := float64(a.report.Traces[p].Offset), float64(a.report.Traces[q].Offset)
	most := a.samples(reach) + 1
	first, last := max(-most, -w.first), min(most, c.Samples-w.end)
	likeness := make([]float64, 0, 2*most+1)
	best := 0
	for shift := first; shift <= last; shift++ {
		xx, yy, xy := 0.0, 0.0, 0.0
		for k, v := range y[w.first+shift : w.end+shift] {
			u, v := float64(x[k])-offsetX, float64(v)-offsetY
			xx, yy, xy = xx+u*u, yy+v*v, xy+u*v
		}
		value := 0.0
		if xx > 0 && yy > 0 {
			value = xy / math.Sqrt(xx) / math.Sqrt(yy)
		}
		likeness = append(likeness, value)
		if math.Abs(value) > math.Abs(likeness[best]) {
			best = len(likeness) - 1
		}
	}
	if len(likeness) == 0 || !(math.Abs(likeness[best]) > sameEcho) {
		return math.NaN()
	}
	return (float64(first+best) + vertex(likeness, best)) / c.SampleRate
}

// scatter returns 1.4826 × the median absolute deviation of the values that are not NaN, which
// for Gaussian ones is their standard deviation, and NaN of fewer than eight.
func scatter(values []float64) float64 {
	middle, off := number.Median(values), make([]float64, 0, len(values))
	for _, v := range values {
		if !math.IsNaN(v) {
			off = append(off, math.Abs(v-middle))
		}
	}
	if len(off) < 8 {
		return math.NaN()
	}
	return 1.4826 * number.Median(off)
}
