// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import "math"

// Level is where the edge of a beam is drawn: the amplitude of one pass of the
// beam, out or back, divided by that on its axis, from 0 to below 1. A probe
// that sends and receives squares it, so the same edge has twice as many
// decibels in pulse-echo: every constant of the textbooks belongs to one of the
// two, and taking it for the other is an error of a third or more.
//
// A Level outside the range makes every result NaN.
type Level float64

// The levels in common use.
const (
	FirstZero     Level = 0              // the edge of the main lobe, the same for both
	HalfOneWay    Level = 0.5            // half the amplitude of one pass ("−6 dB one-way"), a quarter in pulse-echo
	HalfPulseEcho Level = math.Sqrt2 / 2 // half the echo ("−6 dB pulse-echo", the 6 dB drop), one-way 0.707
)

// OneWay returns the level at which one pass of the beam has fallen by so many
// decibels, given with their sign: OneWay(-20).
func OneWay(decibels float64) Level { return Level(math.Pow(10, decibels/20)) }

// PulseEcho returns the level at which the echo, which passes the beam twice,
// has fallen by so many decibels, given with their sign: PulseEcho(-20) is the
// edge of the beam in the 20 dB drop method.
func PulseEcho(decibels float64) Level { return Level(math.Pow(10, decibels/40)) }

// firstCrossing returns the least x > 0 at which f, which is 1 at 0, falls to
// level, or NaN if it has not by limit. The step is well below the width of the
// lobes of every f of this package.
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

// positive reports whether every v is finite and above 0.
func positive(v ...float64) bool {
	for _, x := range v {
		if !(x > 0) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

// steered reports whether angle is one from the normal, in radians.
func steered(angle float64) bool { return math.Abs(angle) <= math.Pi/2 }
