// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
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

// The doubt of a time zero at a known rate.
const (
	wallBlocks = 8 // of pairs, whose time zeros are compared
	// pulseShare is the systematic part, as a share of the pulse length 1/(B·f). The envelope of an
	// echo is shifted by other waves that overlap with it, such as a lateral wave, and where the
	// phase of the reflection changes with the angle. The largest shift of the captures sdh32 and
	// pipe32 is 0.084 of the pulse length.
	pulseShare = 0.1
)

// measureWall finds the rate and the time zero at which the traces, each shifted to the time of
// the wall's echo, add up to the strongest echo. The initial pulses, where they are recorded,
// limit the time zero. Without them, only the change of the time with the distance separates rate
// and time zero. This change is small: an error of the rate moves the time zero by the same share
// of the time of the echo. So the time zero is taken at the stated rate unless the echo disproves
// the stated rate.
func (a *assessment) measureWall(times []float64) {
	r := a.report
	r.Rate, r.RateError, r.TimeZero, r.TimeZeroError = unknown, unknown, unknown, unknown
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
	within := Gate{zero - play, zero + play}
	var powers []float64
	best := wallFit{}
	for rate := slowestRate; rate <= fastestRate; rate += rateStep {
		fit := a.wallAt(pairs, times, rate, first, within)
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
	r.Rate, r.RateError = Number(best.rate), Number(rateStep*float64(1+high-low)/2)
	moved := float64(r.RateError) * first // the time zero, by an error of the rate, s
	if math.Abs(best.rate-1) <= float64(r.RateError) {
		best, moved = a.wallAt(pairs, times, 1, first, within), 0
	}
	r.TimeZero = Number(best.zero)
	r.TimeZeroError = Number(moved + a.zeroError(pairs, times, best, first))
}

// zeroError returns the half-width in s of the range in which the time zero of a fit lies with a
// probability of 95 % or more, if its rate is right. Blocks of the pairs give time zeros of their
// own. Their scatter, the interval of the samples and a share of the pulse length add as squares.
func (a *assessment) zeroError(pairs []int, times []float64, all wallFit, first float64) float64 {
	c, n := a.capture, len(pairs)
	period := 1 / c.Array.CentreFrequency
	var zeros []float64
	for b := range wallBlocks {
		block := pairs[b*n/wallBlocks : (b+1)*n/wallBlocks]
		fit := a.wallAt(block, times, all.rate, first, Gate{all.zero - period, all.zero + period})
		if fit.semblance > coherent { // not if the elements of the block are dead
			zeros = append(zeros, fit.zero)
		}
	}
	return math.Hypot(math.Hypot(halfWidth(zeros), 1/c.SampleRate), pulseShare*a.pulse())
}

// halfWidth returns the half-width of the range around the mean of values that holds the mean of
// their Gaussian distribution with a probability of 95 %. It is NaN for fewer than two values.
func halfWidth(values []float64) float64 {
	n := float64(len(values))
	if n < 2 {
		return math.NaN()
	}
	student := distuv.StudentsT{Sigma: 1, Nu: n - 1}
	return student.Quantile(0.975) * stat.StdDev(values, nil) / math.Sqrt(n)
}

// wallFit is the strongest sum of shifted traces for a rate. Its time zero is the middle of the
// strongest part.
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
	power := func(k int) float64 { return sums[k+length] - sums[k] }
	fit, at := wallFit{rate: rate}, 0
	for k := range w.length() {
		if power(k) > fit.power {
			fit.power, at = power(k), k
		}
	}
	if fit.power > 0 {
		fit.semblance = fit.power / (float64(len(pairs)) * (squares[at+length] - squares[at]))
	}
	middle := float64(at) + float64(length-1)/2 - float64(length/2)
	if at > 0 && at+1 < w.length() {
		offset, _ := number.Vertex(power(at-1), power(at), power(at+1))
		middle += offset
	}
	fit.zero = c.Time(w.first) + middle/c.SampleRate - rate*first
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
	return number.Median(middles), true
}

// judgeWall judges rate and time zero. The rate is wrong if it is off by more than the limit and
// by more than its error.
func (a *assessment) judgeWall(l Limits) {
	r := a.report
	if v := math.Abs(float64(r.Rate - 1)); v > l.Rate && v > float64(r.RateError) {
		r.add(Finding{Kind: WrongRate, Value: v, Limit: l.Rate})
	}
}
