// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// Estimate is a value with its standard uncertainty, in the same unit: the
// standard deviation of what the value may be in truth. An expanded uncertainty
// for about 95 % is twice that.
type Estimate struct{ Value, Uncertainty float64 }

// Arrival is an echo that was measured between two elements, or one and the
// same: the time of the maximum of its envelope.
type Arrival struct {
	Transmit, Receive int     // elements
	Time              float64 // s, from the centre of the transmitted pulse
	// Amplitude weighs the arrival against the others of the same pair when it
	// is not clear which of them is the echo looked for. Zero or above, in any
	// unit; where all are zero they weigh the same.
	Amplitude float64
}

// Facing tells how a face may stand to the array.
type Facing uint8

const (
	// Inclined: at an angle to be found, as the floor of a wedge, or the surface
	// of a part under water.
	Inclined Facing = iota
	// Parallel to the array, as the back wall of a plate under an array in
	// contact.
	Parallel
)

// CalibrateOptions says what is known before [Calibrate] begins. Nil stands for
// the zero value.
type CalibrateOptions struct {
	// Speed is that of the wave between the array and the face, in m/s. A value of
	// zero asks for it: it is found from the arrivals between elements far apart.
	// Give it where it is known: through a wedge those arrivals say little of it,
	// so that errors of 1 ns that are the same for all make 0.5 % of the speed and
	// 0.2° of the angle.
	Speed Estimate
	// Distance is that of a Parallel face, in m, such as the thickness of a
	// calibration block. A value of zero asks for it.
	Distance Estimate
	// Offset is what the instrument adds to every time, in s. It cannot be found
	// from one echo, and goes unnoticed into the heights: half of it times the
	// speed.
	Offset Estimate
	Facing Facing
	// Tolerance is the largest deviation, in s, from the times of a flat face at
	// which an arrival may still be its echo. Zero stands for 0.1 µs; half a
	// period of the centre frequency is a good choice.
	Tolerance float64
	// MaxIncidence is the angle of incidence at the face, in radians below π/2, up
	// to which arrivals between different elements are used. Near and beyond a
	// critical angle the echo merges with a head wave. Zero stands for 10° if the
	// speed is known, and for 35° if it is to be found.
	MaxIncidence float64
}

const (
	defaultTolerance      = 0.1e-6
	knownSpeedIncidence   = 10 * math.Pi / 180
	unknownSpeedIncidence = 35 * math.Pi / 180
)

// ErrCalibration is wrapped by the errors of [Calibrate] that tell that the
// arrivals do not determine what was asked for.
var ErrCalibration = errors.New("no calibration")

// Calibration is where an array stands over a flat face, found from the echoes
// of that face.
type Calibration struct {
	// Angle is that between the array's x axis and the face, in radians, in
	// (-π/2, π/2): the wedge angle, above 0 where the heights grow with x, so that
	// the array fires towards +x. Roof is that of the y axis, 0 with no uncertainty
	// for an array of one row, which cannot tell it.
	Angle, Roof Estimate
	// Speed is that of the wave between array and face, in m/s: the one given, or
	// the one found.
	Speed Estimate
	// Distance is the height of the array's middle (the mean of its elements)
	// over the face, in m: for a Parallel face the thickness.
	Distance Estimate
	Heights  []Estimate // of each element over the face, m
	// Delays are the deviations of each element, one way, in s, above 0 for an
	// element that is late: what its pairs have in common after the fit. An offset
	// common to all elements, and a trend along the array, cannot be told from a
	// height and an angle and are not in them. They are NaN for an element
	// without a pulse-echo arrival, their uncertainty is NaN where no arrivals
	// between different elements tell a delay from noise.
	Delays []Estimate
	// Residuals holds for each arrival the measured time less that of the fit, in
	// s, before the delays are taken away. It is NaN for arrivals that had no part
	// in the fit: other echoes, outliers, and those beyond MaxIncidence.
	Residuals []float64
	Used      int     // arrivals with a part in the fit
	RMS       float64 // of their residuals, s

	placed []r3.Vec
}

// Elements returns a copy of the positions of the elements over the face, in m:
// the face is z = 0, x runs along it the way the array's own x axis does, and
// the origin is where the ray along the normal of the array leaves from its
// middle. For a wedge that is the exit point.
func (c *Calibration) Elements() []r3.Vec { return append([]r3.Vec(nil), c.placed...) }

// Calibrate finds how an array stands over a flat face from the echoes of that
// face in pulse-echo and between elements: the angle of a wedge and the height
// of its elements from the echoes of its floor, of which the surface below a
// column of water is a case; or, in contact, the thickness of a plate and the
// speed of waves in it from the echoes of the back wall. With each result comes
// its standard uncertainty.
//
// Elements are the positions in the array's own frame, in m: in the plane z = 0,
// with x along the array. Arrivals are measured times; arrivals of one pair are
// alternatives, of which one at the most is the echo of the face, so that there
// is no need to know beforehand which of the echoes in a trace that is.
// Arrivals, in package tfm, picks them from a capture.
//
// # Method
//
// An element at height h above the face has its mirror image as far below it.
// The echo between two elements, Δ apart, takes the time
//
//	t = √(Δ² + 4·h₁·h₂)/c,   h = h₀ + x·sin(Angle) + y·sin(Roof).
//
// The flat face with which most pulse-echo arrivals agree, each weighed by its
// share of the strongest of its trace, is found by trying the faces through
// each few of them. From there the squared deviations are minimised by
// Gauss-Newton steps, reweighted by Tukey's biweight at 4.685 robust standard
// deviations (from the median of the deviations; from memory of P. J. Huber,
// Robust Statistics, 1981). At the end those within 4 robust standard deviations
// count fully and the others not at all, so that arrivals gone astray change
// neither the result nor its uncertainty. The delays are fitted in the same way to
// what is left.
//
// # Uncertainty
//
// The uncertainties hold the scatter of the times, in which the delay of an
// element is common to all its pairs, and the uncertainties of what was given,
// by their derivatives, as the Guide to the expression of uncertainty in
// measurement (JCGM 100) combines them. What they cannot hold are faults
// common to all times that nobody named: state an uncertainty of Offset, at
// least some share of a sampling interval.
//
// A calibration does not replace the checks of probe and instrument that the
// applicable code asks for.
//
// # Errors
//
// The error names an argument out of range: elements that are not in the plane
// z = 0 or coincide, an arrival of an element that does not exist. It wraps
// [ErrCalibration] if the arrivals do not determine the face: when less than
// half of the elements with a pulse-echo arrival agree on one, or when the speed
// is asked for without arrivals between different elements.
func Calibrate(elements []r3.Vec, arrivals []Arrival, options *CalibrateOptions) (*Calibration, error) {
	var o CalibrateOptions
	if options != nil {
		o = *options
	}
	if err := o.complete(); err != nil {
		return nil, err
	}
	if err := checkArrayFrame(elements); err != nil {
		return nil, err
	}
	for i, a := range arrivals {
		if err := a.validate(len(elements)); err != nil {
			return nil, fmt.Errorf("wedge: arrival %d: %w", i, err)
		}
	}
	f := newFaceFit(elements, arrivals, &o)
	if err := f.begin(); err != nil {
		return nil, err
	}
	if err := f.refine(); err != nil {
		return nil, err
	}
	return f.calibration()
}

// complete replaces zeros by defaults and reports the first field out of range.
func (o *CalibrateOptions) complete() error {
	for _, e := range []struct {
		name, unit string
		estimate   Estimate
		least      float64
	}{
		{"speed", "m/s", o.Speed, 0},
		{"distance", "m", o.Distance, 0},
		{"offset", "s", o.Offset, math.Inf(-1)},
	} {
		if v := e.estimate.Value; !(v >= e.least) || math.IsInf(v, 0) {
			return fmt.Errorf("wedge: %s of the calibration %v %s: want a finite value, or zero", e.name, v, e.unit)
		}
		if u := e.estimate.Uncertainty; !(u >= 0) || math.IsInf(u, 0) {
			return fmt.Errorf("wedge: uncertainty of the %s of the calibration %v %s: want a finite value of 0 or above", e.name, u, e.unit)
		}
	}
	if o.Facing > Parallel {
		return fmt.Errorf("wedge: facing %d of the calibration: want Inclined or Parallel", o.Facing)
	}
	if o.Distance.Value > 0 && o.Facing != Parallel {
		return errors.New("wedge: distance of the calibration is given for an inclined face: want it for a Parallel one only")
	}
	if o.Distance.Value > 0 && o.Speed.Value > 0 {
		return errors.New("wedge: both speed and distance of the calibration are given: want at most one")
	}
	if o.Tolerance == 0 {
		o.Tolerance = defaultTolerance
	}
	if err := checkPositive("tolerance of the calibration", o.Tolerance, "s"); err != nil {
		return err
	}
	if o.MaxIncidence == 0 {
		o.MaxIncidence = knownSpeedIncidence
		if o.Speed.Value == 0 {
			o.MaxIncidence = unknownSpeedIncidence
		}
	}
	if !(o.MaxIncidence > 0 && o.MaxIncidence < math.Pi/2) {
		return fmt.Errorf("wedge: largest incidence of the calibration %v rad: want above 0 and below π/2", o.MaxIncidence)
	}
	return nil
}

// checkArrayFrame reports elements that are not distinct points of the plane
// z = 0.
func checkArrayFrame(elements []r3.Vec) error {
	if len(elements) == 0 {
		return errors.New("wedge: calibration of 0 elements: want at least 1")
	}
	at := make(map[r3.Vec]int, len(elements))
	for i, e := range elements {
		if err := checkFinite(fmt.Sprintf("element %d of the calibration", i), e); err != nil {
			return err
		}
		if e.Z != 0 {
			return fmt.Errorf("wedge: element %d of the calibration at z = %v m: want 0, in the array's own frame", i, e.Z)
		}
		if first, taken := at[e]; taken {
			return fmt.Errorf("wedge: elements %d and %d of the calibration are both at %v m: want distinct positions", first, i, e)
		}
		at[e] = i
	}
	return nil
}

func (a Arrival) validate(elements int) error {
	if a.Transmit < 0 || a.Transmit >= elements || a.Receive < 0 || a.Receive >= elements {
		return fmt.Errorf("elements %d and %d: want 0 to %d", a.Transmit, a.Receive, elements-1)
	}
	if math.IsNaN(a.Time) || math.IsInf(a.Time, 0) {
		return fmt.Errorf("time %v s: want a finite value", a.Time)
	}
	if !(a.Amplitude >= 0) || math.IsInf(a.Amplitude, 0) {
		return fmt.Errorf("amplitude %v: want a finite value of 0 or above", a.Amplitude)
	}
	return nil
}
