// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
)

// Assess judges a capture of any layout of elements that fire alone; the error of a
// capture of events wraps [fmc.ErrEvents]. It does not change the capture.
//
// It returns an error for an invalid capture and for an option outside its range. A capture that
// is bad but valid gives a report that says so: all zeros, for example, gives the finding
// [NoEcho], and numbers that are not known.
func Assess(c *fmc.Capture, options *Options) (*Report, error) {
	if options == nil {
		options = new(Options)
	}
	if c == nil {
		return nil, errors.New("health: no capture")
	}
	if err := c.Validate(); err != nil {
		return nil, fmt.Errorf("health: %w", err)
	}
	if c.Events != nil {
		return nil, fmt.Errorf("health: %w: want it decoded before it is judged", fmc.ErrEvents)
	}
	if n := len(c.Array.Elements); n > maxElements {
		return nil, fmt.Errorf("health: array of %d elements: want at most %d", n, maxElements)
	}
	if err := options.validate(c); err != nil {
		return nil, err
	}
	limits, err := options.Limits.complete()
	if err != nil {
		return nil, err
	}
	a := newAssessment(c, options)
	a.measurePairs(options.FullScale)
	for i := range a.report.Tones {
		t := &a.report.Tones[i]
		t.Level = min(t.Level/a.report.EchoPeak, 1e6)
	}
	a.measureEcho()
	a.compareNoise()
	a.measureElements()
	a.measureTraces()
	a.measureWall(options.Wall)
	a.judge(limits)
	return a.report, nil
}

// maxElements bounds the search for neighbours, whose time grows with the square of the number of
// elements.
const maxElements = 4096

// assessment is the work on one capture.
type assessment struct {
	capture  *fmc.Capture // without steady tones
	recorded *fmc.Capture
	report   *Report
	ends     ends
	class    []int   // of distance, of each pair
	near     [][]int // other elements, nearest first, of each

	noise, echo, coupling window
	receiver              []float64     // variance of the noise of each receiver
	variance              []float64     // of the noise of the receiver of each pair
	doubt                 []float64     // standard deviation of the square of the reciprocity error of each pair, by noise
	inBand                inBand        // the traces about the echo gate, to be correlated
	significance          float64       // of the energy of all pairs, standard deviations of the noise's
	fastest               float64       // m/s
	exchanged             [2][]exchange // on each side
}

func newAssessment(c *fmc.Capture, o *Options) *assessment {
	a := &assessment{capture: c, recorded: c, ends: newEnds(c), fastest: o.FastestWave}
	if a.fastest == 0 {
		a.fastest = 6500
	}
	a.near = neighbours(c.Array.Elements)
	a.class = a.classes()
	a.report = &Report{
		Separate: a.ends.separate,
		Traces:   make([]Trace, len(c.Pairs)),
		Elements: make([]Element, len(c.Array.Elements)),
	}
	a.capture, a.report.Tones = withoutTones(c, a.afterPulse())
	a.noise = a.quietest()
	if o.Noise != (Gate{}) {
		a.noise = cut(c, o.Noise)
	}
	for p := range c.Pairs {
		a.report.Traces[p] = a.noiseOf(p)
	}
	a.measureNoise()
	a.echo = a.strongest()
	if o.Echo != (Gate{}) {
		a.echo = cut(c, o.Echo)
	}
	a.coupling = a.echo
	if o.Coupling != (Gate{}) {
		a.coupling = cut(c, o.Coupling)
	}
	a.report.Noise, a.report.Echo, a.report.Coupling = a.noise.gate(c), a.echo.gate(c), a.coupling.gate(c)
	return a
}

// pulse returns the time 1/(B·f), the measure of the pulse's length, in s. A Gaussian
// pulse of that bandwidth is 31 dB down so far from its centre, and 45 dB at 1.2 of it.
func (a *assessment) pulse() float64 {
	return 1 / (a.capture.Array.Bandwidth * a.capture.Array.CentreFrequency)
}

// samples returns a time in s as a whole number of samples, at most the record.
func (a *assessment) samples(t float64) int {
	return int(math.Min(math.Ceil(t*a.capture.SampleRate), float64(a.capture.Samples)))
}

// measureNoise gives each pair the variance of its receiver, which is known better than the
// variance of a single trace. It is the mean over the pairs of the receiver, without pairs of more
// than four times the median.
func (a *assessment) measureNoise() {
	c, r := a.capture, a.report
	byReceiver := make([][]float64, len(r.Elements))
	single := make([]float64, len(c.Pairs))
	for p, pair := range c.Pairs {
		single[p] = float64(r.Traces[p].Noise)
		x := c.Trace(p)[a.noise.first:a.noise.end]
		byReceiver[pair.Rx] = append(byReceiver[pair.Rx], sumOfSquares(x, mean(x))/float64(max(1, len(x)-1)))
	}
	receiver := make([]float64, len(byReceiver))
	a.receiver = receiver
	for e, v := range byReceiver {
		middle := number.Median(v)
		v = slices.DeleteFunc(v, func(variance float64) bool { return variance > 4*middle })
		receiver[e] = stat.Mean(v, nil)
	}
	a.variance = make([]float64, len(c.Pairs))
	for p, pair := range c.Pairs {
		a.variance[p] = receiver[pair.Rx]
	}
	r.NoiseFloor = Number(number.Median(single))
}

// compareNoise compares the noise of each receiver with the median over the receivers that hear
// echoes. A dead receiver lacks the reverberation that the others have in the noise gate.
func (a *assessment) compareNoise() {
	var heard []float64
	for e, q := range a.report.Elements {
		if !(q.Receive.Level < -silence) {
			heard = append(heard, a.receiver[e])
		}
	}
	all, differences := number.Median(heard), a.noiseOfDifferences()
	for e := range a.report.Elements {
		noise := decibels(math.Sqrt(a.receiver[e]), math.Sqrt(all))
		if v := differences[e]; v < noise {
			noise = v
		}
		a.report.Elements[e].Noise = noise
	}
}

// noiseOfDifferences returns the noise of each receiver against the median receiver in dB, by the
// differences of reciprocal traces in the noise gate: reverberation cancels there. It is not known
// in a capture without reciprocal pairs.
func (a *assessment) noiseOfDifferences() []Number {
	n := len(a.near)
	noise := slices.Repeat([]Number{unknown}, n)
	if !a.ends.separate {
		return noise
	}
	squares := make([]float64, n) // the noise of the receiver and of a median partner
	for e := range squares {
		var values []float64
		for _, end := range a.ends.sides[1][e] {
			if end.partner == e {
				continue
			}
			twin := a.ends.at[a.capture.Pairs[end.pair].Reciprocal()]
			x, y := a.capture.Trace(end.pair)[a.noise.first:a.noise.end], a.capture.Trace(twin)[a.noise.first:a.noise.end]
			offset, sum := mean(x)-mean(y), 0.0
			for k, v := range x {
				d := float64(v) - float64(y[k]) - offset
				sum += d * d
			}
			values = append(values, sum)
		}
		squares[e] = number.Median(values)
	}
	half := number.Median(squares) / 2
	for e, v := range squares {
		if half > 0 && v > half {
			noise[e] = decibels(math.Sqrt(v-half), math.Sqrt(half))
		}
	}
	return noise
}

// decibels returns 20·log10(a/b) within ±120 dB, 0 for two zeros.
func decibels(a, b float64) Number {
	if a == b {
		return 0
	}
	return Number(max(-120, min(120, 20*math.Log10(a/b))))
}
