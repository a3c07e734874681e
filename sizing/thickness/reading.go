// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package thickness

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/sizing/uncertainty"
)

// Method is the way to read a thickness from the echoes of an A-scan.
type Method uint8

// The methods.
const (
	// FirstEcho counts from the time zero of the A-scan to the first back-wall echo. It needs the
	// time zero and the delay of the coupling, but only one echo.
	FirstEcho Method = iota
	// FromInterface counts from the echo of the entry surface to the first back-wall echo, for an
	// array in water or on a delay line. The length of the water path does not matter.
	FromInterface
	// EchoToEcho counts from the first to the second back-wall echo. Time zero, couplant and
	// coating do not matter.
	EchoToEcho
)

var methods = [...]string{"first echo", "from interface", "echo to echo"}

// String returns the name of the method.
func (m Method) String() string {
	if int(m) >= len(methods) {
		return fmt.Sprintf("Method(%d)", uint8(m))
	}
	return methods[m]
}

// State says what became of a reading.
type State uint8

// The states. Only [Measured] and [TwoEchoes] count as a thickness.
const (
	NotScanned State = iota // there was no A-scan
	Measured
	// TwoEchoes: an echo at least as strong follows the first echo in the gate. The pit is smaller
	// than the beam, or an inclusion lies before the wall. The thickness is the lesser one.
	TwoEchoes
	// Disagree: the first echo and the distance of the echoes give different thicknesses.
	Disagree
	NoEcho      // no echo reaches the threshold: the wall may be rough, steep, or shadowed
	NoRepeat    // there is no second back-wall echo for [EchoToEcho]
	NoInterface // there is no echo of the entry surface for [FromInterface]
	OutOfGate   // the echo belongs to a wall that is thinner than Least or thicker than Most
	Clipped     // the receiver clipped at the first echo (FullScale of the options of package ascan)
	RecordEnds  // no echo was found, but the record or the beam ends within the gate
)

var states = [...]string{
	"not scanned", "measured", "two echoes", "disagree", "no echo", "no second echo", "no interface", "out of gate", "clipped", "record ends",
}

// String returns the name of the state.
func (s State) String() string {
	if int(s) >= len(states) {
		return fmt.Sprintf("State(%d)", uint8(s))
	}
	return states[s]
}

// MarshalText returns the name of the state.
func (s State) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// Counts reports whether a reading in this state counts as a thickness.
func (s State) Counts() bool { return s == Measured || s == TwoEchoes }

// Reading is the thickness at one place.
type Reading struct {
	State  State
	Method Method // by which Thickness was read
	// Thickness is in m. It is NaN unless State counts, or is [Disagree] or [Clipped].
	Thickness float64
	// Uncertainty is the standard uncertainty of Thickness in m ([Reader.Budget]).
	Uncertainty float64
	// Check is a second thickness in m from the same A-scan: of the stronger echo for [TwoEchoes],
	// otherwise by the other method. It is NaN if there is none.
	Check float64
	Level float64 // of the first back-wall echo relative to [Reader].Reference in dB; NaN without one
	Noise float64 // standard uncertainty of Thickness by noise alone, m
	Speed float64 // wave speed in the part in m/s
}

// without returns a reading without an echo.
func without(s State, m Method) Reading {
	nan := math.NaN()
	return Reading{s, m, nan, nan, nan, nan, nan, nan}
}

// Budget returns the budget of a reading in m. The reading has a thickness, and comes from r.
func (r *Reader) Budget(x Reading) (*uncertainty.Budget, error) {
	list := []uncertainty.Contribution{
		{Quantity: uncertainty.Quantity{Name: "wave speed", Value: x.Speed, Uncertainty: r.Errors.Speed}, Sensitivity: x.Thickness / x.Speed},
		{Quantity: uncertainty.Quantity{Name: "noise", Uncertainty: x.Noise}, Sensitivity: 1},
		{Quantity: uncertainty.Quantity{Name: "back wall", Uncertainty: r.Errors.Wall}, Sensitivity: 1},
		{Quantity: uncertainty.Quantity{Name: "method", Uncertainty: r.Errors.Method}, Sensitivity: 1},
	}
	if x.Method == FirstEcho {
		zero := uncertainty.Quantity{Name: "time zero", Uncertainty: r.Errors.Delay}
		list = append(list, uncertainty.Contribution{Quantity: zero, Sensitivity: x.Speed / 2})
	}
	return uncertainty.Combine("thickness", "m", x.Thickness, list, nil)
}

// combined returns the combined standard uncertainty of the budget, without its list.
func (r *Reader) combined(x *Reading) float64 {
	u := math.Hypot(x.Thickness/x.Speed*r.Errors.Speed, x.Noise)
	u = math.Hypot(u, math.Hypot(r.Errors.Wall, r.Errors.Method))
	if x.Method == FirstEcho {
		u = math.Hypot(u, x.Speed/2*r.Errors.Delay)
	}
	return u
}
