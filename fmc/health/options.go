// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
)

// Options modifies [Assess]. Nil stands for the zero value.
type Options struct {
	// Noise is where the record holds no echo. The zero value stands for the quietest eighth of the
	// record. It is one of 15 windows that overlap by half and lie outside the initial pulse. Its
	// mean square is least, by the 0.85 quantile of the pairs. In a record full of echoes,
	// reverberation counts as noise.
	Noise Gate
	// Echo is where the echoes lie that the elements are compared by. The zero value
	// stands for the part from 3.6/(B·f) after time 0 on, where the power of the pairs of one
	// distance, without the noise, first and last reaches a hundredth of its greatest value. Set it
	// to a back-wall echo where there is one.
	Echo Gate
	// Coupling is where an echo lies that passes the coupling of each element: the echo of a wedge
	// floor, of the surface or of the back wall. The zero value stands for Echo.
	Coupling Gate
	// FullScale is the modulus of a sample at which the receiver clips, above 0. The zero
	// value stands for the largest modulus in the record, which counts as clipping
	// only where a trace stays at it for three samples or more.
	FullScale float64
	// FastestWave is the speed of the fastest wave from one element to another in m/s, above 0. It
	// crosses the array within the record, and in no less than a sample. Signals that arrive
	// earlier count as cross-talk. The zero value stands for 6500 m/s, above the longitudinal waves
	// of steel and aluminium. In water 1600 m/s lets more pairs be judged.
	FastestWave float64
	// Wall holds the time in s at which the echo of a known wall should reach each pair, in the
	// order of the capture, NaN for a pair that does not hear it. Nil stands for no known
	// wall. See [WallTimes].
	Wall []float64
	// References is the number of first frames with which a [Watch] compares, at least 1; 0 stands
	// for 5. A Watch does not find an element that is bad in these frames: [Assess] finds it.
	// Assess does not use the field.
	References int
	// Limits are the limits that the findings are judged by.
	Limits Limits
}

// Gate is a window of time in s, both ends included, From < To. A limit beyond the record stands
// for the end of the record.
type Gate struct{ From, To float64 }

// Limits bound what counts as healthy. Each is above 0; zero stands for its default, +Inf for no
// judgement. The defaults are common practice, no source. A procedure or a standard in force takes
// precedence over them.
type Limits struct {
	Dead        float64 // loss of one end against the median element in dB, default 12
	Weak        float64 // loss of one end against its neighbours in dB, default 4
	Uncoupled   float64 // loss of the coupling echo, both ends, against the neighbours in dB, default 8
	Spread      float64 // spread of the two-way sensitivity of the remaining elements in dB, default 12
	Reversed    float64 // likeness to the others with the opposite sign, at most 1, default 0.3; noise has some 0.15
	Drift       float64 // modulus of the error of the time zero in periods of the centre frequency, default 0.25
	Noisy       float64 // noise of a receiver above the median receiver in dB, default 6
	Offset      float64 // modulus of the offset as a share of the median echo, default 0.05
	Saturated   float64 // share of clipped samples in the echo gate of a trace, default 1e-9: any
	CrossTalk   float64 // signal before the fastest wave as a share of the median echo, default 0.32 (-10 dB)
	Reciprocity float64 // difference of reciprocal traces as a share of their mean, default 0.3
	SNR         float64 // least median signal-to-noise ratio of the capture in dB, default 12
	Frequency   float64 // deviation of the centre frequency, as a share of the array's, default 0.2
	Bandwidth   float64 // least bandwidth as a share of the array's, default 0.6
	// Interference is the level of a steady tone as a share of the median echo, default
	// 0.02 (-34 dB). A tone below the limit is taken away all the same.
	Interference float64
	// LostShots is the share of the traces that one end has lost, default 0.05. In a capture
	// without reciprocal pairs at least 0.15 counts.
	LostShots float64
	Jitter    float64 // standard deviation of the time zero of one end in periods, default 0.06
	Spike     float64 // modulus of a sample that nothing around explains, as a share of the median echo, default 0.5
	Exchanged float64 // gain of the fit of two elements in each other's place, as Channel.Order tells it, default 0.12
	Rate      float64 // deviation of the sample rate as a share of it, where a wall is known, default 0.05
	GainDrift float64 // change of gain against the first frames in dB, by Watch, default 2
	Lost      float64 // two-way loss of an element against the first frames in dB, by Watch, default 12
	Step      float64 // step of a receiver's numbers as a share of the median echo, default 0.04
}

// limit is a field of Limits with its name and default.
type limit struct {
	name     string
	value    *float64
	standard float64
}

func (l *Limits) fields() []limit {
	return []limit{
		{"dead", &l.Dead, 12},
		{"weak", &l.Weak, 4},
		{"uncoupled", &l.Uncoupled, 8},
		{"spread", &l.Spread, 12},
		{"reversed", &l.Reversed, 0.3},
		{"drift", &l.Drift, 0.25},
		{"noisy", &l.Noisy, 6},
		{"offset", &l.Offset, 0.05},
		{"saturated", &l.Saturated, 1e-9},
		{"cross-talk", &l.CrossTalk, 0.32},
		{"reciprocity", &l.Reciprocity, 0.3},
		{"signal-to-noise", &l.SNR, 12},
		{"frequency", &l.Frequency, 0.2},
		{"bandwidth", &l.Bandwidth, 0.6},
		{"interference", &l.Interference, 0.02},
		{"lost shots", &l.LostShots, 0.05},
		{"jitter", &l.Jitter, 0.06},
		{"spike", &l.Spike, 0.5},
		{"step", &l.Step, 0.04},
		{"gain drift", &l.GainDrift, 2},
		{"lost", &l.Lost, 12},
		{"rate", &l.Rate, 0.05},
		{"exchanged", &l.Exchanged, 0.12},
	}
}

// complete returns the limits with defaults in place of zeros.
func (l Limits) complete() (Limits, error) {
	for _, f := range l.fields() {
		if *f.value == 0 {
			*f.value = f.standard
		}
		if !(*f.value > 0) {
			return Limits{}, fmt.Errorf("health: %s limit %v: want a value above 0, or 0 for the default", f.name, *f.value)
		}
	}
	return l, nil
}

// window is a range of samples, the last one excluded.
type window struct{ first, end int }

func (w window) length() int { return w.end - w.first }

// cut returns the samples of the gate, which may be none.
func cut(c *fmc.Capture, g Gate) window {
	first, end := c.SampleRange(g.From, g.To)
	return window{first, end}
}

// gate returns the times of a window's first and last sample.
func (w window) gate(c *fmc.Capture) Gate { return Gate{c.Time(w.first), c.Time(w.end - 1)} }

// waveSpeeds returns the least and the greatest speed in m/s that the record can judge:
// of a wave that crosses the array until the last sample, and in one sample. All speeds
// are possible for a single element, and the least is 0 if the record ends too early.
func waveSpeeds(c *fmc.Capture) (slowest, fastest float64) {
	across := 0.0
	for _, e := range c.Array.Elements {
		across = max(across, r3.Norm(r3.Sub(e, c.Array.Elements[0])))
	}
	if across == 0 {
		return 0, math.Inf(1)
	}
	if last := c.Time(c.Samples - 1); last > 0 {
		slowest = across / last
	}
	return slowest, across * c.SampleRate
}

func (o *Options) validate(c *fmc.Capture) error {
	for _, g := range []struct {
		name string
		gate Gate
	}{{"noise", o.Noise}, {"echo", o.Echo}, {"coupling", o.Coupling}} {
		if g.gate == (Gate{}) {
			continue
		}
		if !(g.gate.From < g.gate.To) || cut(c, g.gate).length() < 2 {
			return fmt.Errorf("health: %s gate from %v to %v s: want from < to, and two samples of %v to %v s between them",
				g.name, g.gate.From, g.gate.To, c.FirstSample, c.Time(c.Samples-1))
		}
	}
	if !(o.FullScale >= 0) || math.IsInf(o.FullScale, 1) {
		return fmt.Errorf("health: full scale %v: want a finite value above 0, or 0 for the largest sample", o.FullScale)
	}
	if !(o.FastestWave >= 0) || math.IsInf(o.FastestWave, 1) {
		return fmt.Errorf("health: fastest wave %v m/s: want a finite value above 0, or 0 for 6500 m/s", o.FastestWave)
	}
	if slowest, fastest := waveSpeeds(c); o.FastestWave != 0 && (o.FastestWave < slowest || o.FastestWave > fastest) {
		return fmt.Errorf("health: fastest wave %v m/s: want %.4g to %.4g m/s, at which the wave crosses the array within the record and in a sample or more", o.FastestWave, slowest, fastest)
	}
	return validateWall(c, o.Wall)
}
