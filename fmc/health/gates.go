// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"
	"slices"
)

// loudShare is the quantile of the pairs by which the noise gate is chosen. Where half of the
// elements are dead, only a quarter of the pairs have echoes.
const loudShare = 0.85

// quietest returns the default noise gate.
func (a *assessment) quietest() window {
	c := a.capture
	pulse := cut(c, Gate{-1.2 * a.pulse(), 3.6 * a.pulse()})
	length := max(c.Samples/8, min(2, c.Samples))
	var best window
	least := math.Inf(1)
	squares := make([]float64, len(c.Pairs))
	for first := 0; first+length <= c.Samples; first += max(1, length/2) {
		if first < pulse.end && first+length > pulse.first {
			continue
		}
		for p := range squares {
			x := c.Trace(p)[first : first+length]
			squares[p] = sumOfSquares(x, mean(x))
		}
		if level := quantile(squares, loudShare); level < least {
			best, least = window{first, first + length}, level
		}
	}
	if best.length() == 0 {
		return window{0, c.Samples}
	}
	return best
}

func mean(x []float32) float64 {
	sum := 0.0
	for _, v := range x {
		sum += float64(v)
	}
	return sum / float64(len(x))
}

func sumOfSquares(x []float32, offset float64) float64 {
	sum := 0.0
	for _, v := range x {
		d := float64(v) - offset
		sum += d * d
	}
	return sum
}

// afterPulse returns the samples after the initial pulse, or all where the record ends
// before.
func (a *assessment) afterPulse() window {
	if w := cut(a.capture, Gate{3.6 * a.pulse(), math.Inf(1)}); w.length() >= 2 {
		return w
	}
	return window{0, a.capture.Samples}
}

// strongest returns the default echo gate. The power of the pairs of each distance is added. The
// gate lasts from the first to the last time at which such a sum reaches a hundredth of its
// greatest value and stands out of the noise.
func (a *assessment) strongest() window {
	c, all := a.capture, a.afterPulse()
	var members [][]int // pairs of each class
	for p, k := range a.class {
		for len(members) <= k {
			members = append(members, nil)
		}
		members[k] = append(members[k], p)
	}
	width := max(1, a.samples(2/c.Array.CentreFrequency))
	power := make([]float64, all.length()) // above the noise, summed over the class
	gate := window{all.end, all.first}
	for _, pairs := range members {
		clear(power)
		deviation := 0.0 // of the sum
		for _, p := range pairs {
			offset := float64(a.report.Traces[p].Offset)
			for k, v := range c.Trace(p)[all.first:all.end] {
				d := float64(v) - offset
				power[k] += d*d - a.variance[p]
			}
			deviation += 2 * a.variance[p] * a.variance[p]
		}
		mean := smoothed(power, width)
		threshold := max(slices.Max(mean)/100, 6*math.Sqrt(deviation/float64(width)))
		for k, v := range mean {
			if v > threshold {
				gate.first, gate.end = min(gate.first, all.first+k), max(gate.end, all.first+k+1)
			}
		}
	}
	if gate.length() < 2 {
		return all
	}
	return gate
}

// smoothed returns the mean over width samples about each, fewer at the ends.
func smoothed(v []float64, width int) []float64 {
	sums := make([]float64, len(v)+1)
	for i, x := range v {
		sums[i+1] = sums[i] + x
	}
	out := make([]float64, len(v))
	for i := range out {
		from, to := max(0, i-width/2), min(len(v), i+width/2+1)
		out[i] = (sums[to] - sums[from]) / float64(to-from)
	}
	return out
}
