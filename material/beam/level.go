// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import "math"

// Level defines the edge of a beam: the amplitude of one pass (out or back) divided by the
// amplitude on the axis, from 0 to below 1. The echo of a probe that sends and receives falls by
// the square, so the same edge has twice as many decibels in pulse-echo. Every textbook constant
// holds either for one pass or for pulse-echo. Using the wrong one of the two is an error of a
// third or more.
//
// A Level outside the range makes every result NaN.
type Level float64

// The levels in common use.
const (
	// FirstZero is the edge of the main lobe, the same for one pass and for the echo.
	FirstZero Level = 0

	// HalfOneWay is half the amplitude of one pass ("−6 dB one-way"), a quarter of the echo.
	HalfOneWay Level = 0.5

	// HalfPulseEcho is half the echo ("−6 dB pulse-echo", the 6 dB drop), 0.707 of one pass.
	HalfPulseEcho Level = math.Sqrt2 / 2
)

// OneWay returns the level at which one pass of the beam has the given level in dB relative to the
// axis, at or below 0: OneWay(-20).
func OneWay(decibels float64) Level { return Level(math.Pow(10, decibels/20)) }

// PulseEcho returns the level at which the echo, which passes the beam twice, has the given level
// in dB relative to the axis, at or below 0. PulseEcho(-20) is the edge in the 20 dB drop method.
func PulseEcho(decibels float64) Level { return Level(math.Pow(10, decibels/40)) }

// firstCrossing returns the smallest x > 0 at which f falls to level. f(0) is 1. The result is NaN
// if f stays above level up to limit. The step is well below the width of the lobes of every f
// here.
func firstCrossing(f func(x float64) float64, level Level, limit float64) float64 {
	if !(level >= 0 && level < 1) {
		return math.NaN()
	}
	const step = 1.0 / 16
	low, high := 0.0, step
	for f(high) > float64(level) {
		low, high = high, high+step
		if high > limit {
			return math.NaN()
		}
	}
	for {
		middle := low + (high-low)/2
		if middle <= low || middle >= high {
			return high
		}
		if f(middle) > float64(level) {
			low = middle
		} else {
			high = middle
		}
	}
}

// steered reports whether angle, in radians from the normal, lies within ±π/2.
func steered(angle float64) bool { return math.Abs(angle) <= math.Pi/2 }
