// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
)

// WallTimes returns the times in s at which the echo of a plane wall reaches the pairs of a capture
// in contact with the part, in their order. The time is √(d² + 4·depth²)/speed for elements at a
// distance d, by the image of the transmitter in the wall. The depth in m below the elements, which
// lie in a plane parallel to the wall, and the speed in m/s are above 0. Through a wedge or water
// the tables of package wedge give the times.
func WallTimes(c *fmc.Capture, depth, speed float64) []float64 {
	times := make([]float64, len(c.Pairs))
	at := c.Array.Elements
	for p, pair := range c.Pairs {
		times[p] = math.Hypot(r3.Norm(r3.Sub(at[pair.Tx], at[pair.Rx])), 2*depth) / speed
	}
	return times
}

// validateWall checks the times of the wall.
func validateWall(c *fmc.Capture, times []float64) error {
	if times != nil && len(times) != len(c.Pairs) {
		return fmt.Errorf("health: %d times of the wall: want %d, one a pair", len(times), len(c.Pairs))
	}
	for p, t := range times {
		if !math.IsNaN(t) && !(t > 0 && t < math.Inf(1)) {
			return fmt.Errorf("health: time %v s of the wall for pair %d: want a finite value above 0, or NaN for none", t, p)
		}
	}
	return nil
}

// The search for the echo of the wall at times zero + rate·T, where T are the given ones.
const (
	slowestRate = 0.6
	fastestRate = 1.6
	rateStep    = 0.005
	wallPairs   = 512 // that are enough
	coherent    = 0.4 // semblance of an echo that fits
)

// measureWall finds the rate and the time zero at which the traces, each shifted to the time of
// the wall's echo, add up to the strongest echo. The initial pulses, where they are recorded,
// limit the time zero. Without them, only the change of the time with the distance separates rate
// and time zero.
func (a *assessment) measureWall(times []float64) {
	r := a.report
	r.Rate, r.RateError, r.TimeZero = unknown, unknown, unknown
	first := math.Inf(1)
	var pairs []int
	for p := 0; p < len(times); p += 1 + len(times)/(wallPairs+1) {
		if !math.IsNaN(times[p]) {
			pairs = append(pairs, p)
			first = min(first, times[p])
		}
	}
	if len(pairs) < 8 {
		return
	}
	zero, play := 0.0, first/4
	if at, ok := a.initialTime(first / 2); ok {
		zero, play = at, 1.2*a.pulse()
	}
	var powers []float64
	best := wallFit{}
	for rate := slowestRate; rate <= fastestRate; rate += rateStep {
		fit := a.wallAt(pairs, times, rate, first, Gate{zero - play, zero + play})
		powers = append(powers, fit.power)
		if fit.power > best.power {
			best = fit
		}
	}
	if !(best.semblance > coherent) {
		return
	}
	low, high := len(powers), 0
	for i, v := range powers {
		if v > 0.9*best.power {
			low, high = min(low, i), max(high, i)
		}
	}
	r.Rate, r.TimeZero = Number(best.rate), Number(best.zero)
	r.RateError = Number(rateStep * float64(1+high-low) / 2)
}

// wallFit is the strongest sum of shifted traces for a rate.
type wallFit struct{ rate, zero, power, semblance float64 }

// wallAt adds up the traces of the pairs for a rate, and returns the strongest part of the sum, two
// periods long, of those with a time zero in the range.
func (a *assessment) wallAt(pairs []int, times []float64, rate, first float64, zero Gate) wallFit {
	c := a.capture
	w := cut(c, Gate{zero.From + rate*first, zero.To + rate*first})
	length := max(2, a.samples(2/c.Array.CentreFrequency))
	sum, square := make([]float64, w.length()+length), make([]float64, w.length()+length)
	for _, p := range pairs {
		trace, offset := c.Trace(p), float64(a.report.Traces[p].Offset)
		shift := rate * (times[p] - first) * c.SampleRate
		whole := int(math.Floor(shift))
		part := shift - float64(whole)
		for k := range sum {
			i := w.first - length/2 + k + whole
			if i < 0 || i+1 >= len(trace) {
				continue
			}
			v := (1-part)*float64(trace[i]) + part*float64(trace[i+1]) - offset
			sum[k] += v
			square[k] += v * v
		}
	}
	for k := range sum {
		sum[k] *= sum[k]
	}
	sums, squares := running(sum), running(square)
	fit := wallFit{rate: rate}
	for k := range w.length() {
		power := sums[k+length] - sums[k]
		if power > fit.power {
			fit.power = power
			fit.semblance = power / (float64(len(pairs)) * (squares[k+length] - squares[k]))
			fit.zero = c.Time(w.first+k) - rate*first
		}
	}
	return fit
}

// running returns the sums of the first k values, for k from 0 to all.
func running(v []float64) []float64 {
	sums := make([]float64, len(v)+1)
	for k, x := range v {
		sums[k+1] = sums[k] + x
	}
	return sums
}

// initialTime returns the time in s of the initial pulse, the median over the own traces of the
// middle of the samples above half of the largest one before the given time.
func (a *assessment) initialTime(before float64) (at float64, ok bool) {
	c := a.capture
	var middles []float64
	for e := range a.near {
		p, ok := a.ends.at[fmc.Pair{Tx: e, Rx: e}]
		w := cut(c, Gate{math.Inf(-1), before})
		if !ok || w.length() < 2 || c.FirstSample > -a.pulse()/4 {
			continue
		}
		x, offset := c.Trace(p)[w.first:w.end], float64(a.report.Traces[p].Offset)
		largest := 0.0
		for _, v := range x {
			largest = max(largest, math.Abs(float64(v)-offset))
		}
		loud := func(v float32) bool { return math.Abs(float64(v)-offset) > largest/2 }
		from := slices.IndexFunc(x, loud)
		to := from
		for k := from; k < min(len(x), from+a.samples(3*a.pulse())); k++ {
			if loud(x[k]) {
				to = k
			}
		}
		if largest > 2*float64(a.report.EchoPeak) {
			middles = append(middles, c.Time(w.first+from)/2+c.Time(w.first+to)/2)
		}
	}
	if len(middles) < 3 {
		return 0, false
	}
	return median(middles), true
}

// judgeWall judges rate and time zero. The rate is wrong if it is off by more than the limit and
// by more than its error.
func (a *assessment) judgeWall(l Limits) {
	r := a.report
	if v := math.Abs(float64(r.Rate - 1)); v > l.Rate && v > float64(r.RateError) {
		r.add(Finding{Kind: WrongRate, Value: v, Limit: l.Rate})
	}
}
