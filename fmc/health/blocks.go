// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/internal/number"
)

// measureTraces measures faults that are visible only when single traces are compared with similar
// traces.
func (a *assessment) measureTraces() {
	a.measureSteps()
	if !a.echoes() {
		for p := range a.report.Traces {
			a.report.Traces[p].Spike = unknown
		}
		return
	}
	b := a.newBlocks()
	a.measureShots(b)
	a.measureSpikes(b)
	a.measureJitter()
	a.measureOrder()
}

// blocks divides the record after the initial pulse into blocks of one pulse length, so that a
// trace can be compared with the traces of neighbouring pairs at the same times.
type blocks struct {
	number int
	power  []float64 // mean square of pair p in block b above its noise, at p*number+b; may be below 0
	peak   []float64 // largest modulus there
	bend   []float64 // largest deviation there of a sample from the mean of the two next to it
	floor  []float64 // least power of each pair that counts: a tenth of its noise, or rounding
}

func (a *assessment) newBlocks() *blocks {
	c, w := a.capture, a.afterPulse()
	length := max(1, min(w.length(), a.samples(a.pulse())))
	b := &blocks{number: w.length() / length, floor: make([]float64, len(c.Pairs))}
	count := len(c.Pairs) * b.number
	b.power, b.peak, b.bend = make([]float64, count), make([]float64, count), make([]float64, count)
	largest := 0.0
	for p := range c.Pairs {
		offset := float64(a.report.Traces[p].Offset)
		for i := range b.number {
			first := w.first + i*length
			x := c.Trace(p)[first : first+length]
			at := p*b.number + i
			for k, v := range x {
				b.peak[at] = max(b.peak[at], math.Abs(float64(v)-offset))
				if j := first + k; j > 0 && j < c.Samples-1 {
					trace := c.Trace(p)
					b.bend[at] = max(b.bend[at], math.Abs(float64(v)-(float64(trace[j-1])+float64(trace[j+1]))/2))
				}
			}
			b.power[at] = sumOfSquares(x, offset)/float64(length) - a.variance[p]
			largest = max(largest, b.power[at])
		}
	}
	for p := range b.floor {
		b.floor[p] = max(a.variance[p]/10, 1e-10*largest, math.SmallestNonzeroFloat64)
	}
	return b
}

// surroundings is the number of neighbours of each end of a pair whose traces are compared with
// the pair.
const surroundings = 3

// around returns the pairs next to p that share no end with p on the same side. So a fault of one
// end of p is in none of these pairs.
func (a *assessment) around(p int) []int {
	pair := a.capture.Pairs[p]
	var next []int
	for _, i := range a.near[pair.Tx][:min(surroundings, len(a.near[pair.Tx]))] {
		for _, j := range a.near[pair.Rx][:min(surroundings, len(a.near[pair.Rx]))] {
			q, ok := a.pairOf(0, i, j)
			if ok && a.capture.Pairs[q] != pair.Reciprocal() && q != p && !slices.Contains(next, q) {
				next = append(next, q)
			}
		}
	}
	return next
}

// againstAround returns the level of each trace against the traces of the pairs around it in dB:
// in the block where it is highest. An echo that interference hides in one block is visible in
// another block. A lost trace is visible in no block. The level is NaN if, in most of the pairs
// around, no block exceeds the noise.
func (a *assessment) againstAround(b *blocks) []float64 {
	level := make([]float64, len(a.capture.Pairs))
	var values []float64
	for p := range level {
		next := a.around(p)
		level[p] = math.NaN()
		for i := range b.number {
			values = values[:0]
			for _, q := range next {
				values = append(values, b.power[q*b.number+i])
			}
			usual := number.Median(values)
			if len(values) < 3 || !(usual > 8*a.variance[p]) || !(usual > 100*b.floor[p]) {
				continue
			}
			// The echo may lie in the block before or after it in this trace.
			own := slices.Max(b.power[p*b.number+max(0, i-1) : p*b.number+min(b.number, i+2)])
			difference := 10 * math.Log10(max(own, b.floor[p])/usual)
			if !(difference <= level[p]) {
				level[p] = difference
			}
		}
	}
	return level
}
