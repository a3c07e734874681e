// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package thickness

import "math"

// wall is an echo behind the time zero.
type wall struct {
	echo
	depth float64 // half the distance that the wave travels since the time zero, m
}

// walls are the echoes of an A-scan that reach the threshold, in order of time.
type walls struct {
	reader *Reader
	list   []wall
	speed  float64 // m/s
	// quarter is a quarter of the wavelength at the middle of the band, m.
	quarter float64
}

// nearRepeat is how far the second back-wall echo may lie from twice the first, as a share of the
// first: by a coating, for example. In a wider range more pits would take the echo of the wall
// around them for their second echo.
const nearRepeat = 0.15

// read returns the reading without its uncertainty.
func (w *walls) read(zero echo) Reading {
	r := w.reader
	x := without(NoEcho, r.Method)
	at := w.first()
	if at < 0 {
		if n := len(w.list); n > 0 && w.list[n-1].depth > r.Most {
			x.State = OutOfGate
		}
		return x
	}
	first := w.list[at]
	x.Level, x.Speed = 20*math.Log10(first.height/r.Reference), w.speed
	if w.thinner(first) {
		x.State = OutOfGate
		return x
	}
	direct := math.Hypot(zero.noise, first.noise) * w.speed / 2
	if stronger := w.highest(first.depth, r.Most); stronger.height >= first.height && !first.repeats(stronger) {
		x.State, x.Method = TwoEchoes, w.direct()
		x.Thickness, x.Noise, x.Check = first.depth, direct, stronger.depth
		return x
	}
	second := w.highest(first.depth*(2-nearRepeat), first.depth*(2+nearRepeat))
	repeated := second.depth - first.depth // NaN without a second echo
	switch {
	case r.Method == EchoToEcho && second.height > 0:
		x.Thickness, x.Noise, x.Check = repeated, math.Hypot(first.noise, second.noise)*w.speed/2, first.depth
	case r.Method == EchoToEcho && !r.Fallback:
		x.State = NoRepeat
		return x
	default:
		x.Method = w.direct()
		x.Thickness, x.Noise, x.Check = first.depth, direct, repeated
	}
	x.State = Measured
	switch {
	case first.clipped:
		x.State = Clipped
	case math.Abs(x.Thickness-x.Check) > w.agreement():
		x.State = Disagree
	}
	return x
}

// agreement returns the largest difference of two thicknesses that agree, in m.
func (w *walls) agreement() float64 {
	switch {
	case w.reader.Agree > 0:
		return w.reader.Agree
	case w.reader.Method == EchoToEcho:
		return math.Inf(1)
	}
	return w.quarter
}

// direct returns the method that needs the first echo only.
func (w *walls) direct() Method {
	if w.reader.Method == EchoToEcho {
		return FirstEcho
	}
	return w.reader.Method
}

// first returns the index of the first echo in the gate, or -1.
func (w *walls) first() int {
	for i := range w.list {
		if d := w.list[i].depth; d >= w.reader.Least && d <= w.reader.Most {
			return i
		}
	}
	return -1
}

// highest returns the highest echo behind one depth and up to another, in m. Without an echo the
// height is 0 and the depth is NaN.
func (w *walls) highest(behind, to float64) wall {
	top := wall{depth: math.NaN()}
	for i := range w.list {
		if e := w.list[i]; e.depth > behind && e.depth <= to && e.height > top.height {
			top = e
		}
	}
	return top
}

// repeats reports whether other lies where the second back-wall echo lies.
func (e *wall) repeats(other wall) bool {
	return math.Abs(other.depth-2*e.depth) <= nearRepeat*e.depth
}

// thinner reports whether the first echo in the gate is a repetition of the echo of a wall that is
// thinner than Least. Repetition m then lies at m thicknesses, and one more thickness behind it
// lies the next repetition, at half the height or more.
func (w *walls) thinner(first wall) bool {
	for m := 2.0; first.depth/m < w.reader.Least && m <= 3; m++ {
		next := first.depth * (m + 1) / m
		if e := w.highest(next-w.quarter, next+w.quarter); e.height >= first.height/2 && e.height <= first.height {
			return true
		}
	}
	return false
}
