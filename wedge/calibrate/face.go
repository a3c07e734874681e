// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Estimate is a value with its standard uncertainty, in the same unit. The standard uncertainty is
// the standard deviation of the possible true values. Twice the standard uncertainty is the
// expanded uncertainty for about 95 %.
type Estimate struct{ Value, Uncertainty float64 }

// Arrival is a measured echo from one element to another element, or to the same element.
type Arrival struct {
	Transmit, Receive int     // indices of the elements
	Time              float64 // of the maximum of the envelope, s, from the centre of the transmitted pulse
	// Amplitude is the amplitude of the arrival, 0 or above, in any unit. It is the weight of the
	// arrival among the arrivals of the same pair. If all amplitudes of a pair are 0, all its
	// arrivals have the same weight.
	Amplitude float64
}

// Facing is the orientation of the face relative to the array.
type Facing uint8

const (
	// Inclined is a face at an unknown angle: the floor of a wedge, or the surface of a part in
	// water.
	Inclined Facing = iota
	// Parallel is a face parallel to the array: the back wall of a plate under an array in contact.
	Parallel
)

// Options holds what is known before [Face] begins. Nil stands for the zero value.
type Options struct {
	// Each value that is given has an uncertainty. A value with the uncertainty 0 gets a default,
	// because no value is exact. For a value that is exact give a tiny uncertainty, such as 1e-15.

	// Speed is the wave speed between the array and the face, m/s. The default uncertainty is 0.1
	// %. At 0 the speed is found from the arrivals between elements far apart. They determine it
	// badly (see the package documentation): give the speed where it is known.
	Speed Estimate
	// Distance is the distance of a Parallel face, m, such as the thickness of a calibration block.
	// The default uncertainty is 0.1 %. At 0 the distance is found.
	Distance Estimate
	// Offset is the time that the instrument adds to every arrival, s. One echo does not determine
	// it. An error of the offset shifts all heights by half the error times the speed. The default
	// uncertainty is a tenth of Tolerance.
	Offset Estimate
	// Oblique is the standard uncertainty of the delay of an echo at an angle of incidence of 20°
	// against an echo at normal incidence, s. The delay is zero at normal incidence and grows with
	// the square of the sine of the angle. It is at most Tolerance; 0 stands for a tenth of it.
	Oblique float64
	Facing  Facing
	// Tolerance is the largest deviation from the times of a flat face, s, at which an arrival may
	// still be the echo of the face. 0 stands for 0.1 µs. Half a period of the centre frequency is
	// a good choice.
	Tolerance float64
	// MaxIncidence is the largest angle of incidence at the face, rad, below π/2, at which arrivals
	// between different elements are used. Near a critical angle and beyond it the echo merges with
	// a head wave. 0 stands for 10° if the speed is given. If the speed is to be found, 0 stands
	// for 14° and, for a Parallel face, for 35°. Steel under water has its critical angle at 14.5°.
	MaxIncidence float64
}

const (
	defaultTolerance      = 0.1e-6
	defaultUncertainty    = 0.1  // of an offset and of the oblique delay, as a share of the tolerance
	exactness             = 1e-3 // default uncertainty of a given speed or distance, as a share
	knownSpeedIncidence   = 10 * math.Pi / 180
	unknownSpeedIncidence = 14 * math.Pi / 180
	parallelIncidence     = 35 * math.Pi / 180
)

// ErrUndetermined is wrapped by the errors of [Face] which say that the arrivals do not determine
// the result.
var ErrUndetermined = errors.New("no calibration")

// Placement is the position of an array over a flat face.
type Placement struct {
	// Angle is the angle between the x axis of the array and the face, rad, in (-π/2, π/2). It is
	// the wedge angle. It is above 0 where the heights grow with x, so that the array fires towards
	// +x.
	Angle Estimate
	// Roof is the angle between the y axis of the array and the face, rad. An array of one row does
	// not determine it: it is then 0, with an uncertainty of 0.
	Roof Estimate
	// Speed is the wave speed between array and face, m/s, as given or as found.
	Speed Estimate
	// Distance is the height of the mean of all element positions over the face, m. For a Parallel
	// face it is the thickness of the plate.
	Distance Estimate
	Heights  []Estimate // of each element over the face, m
	// Delays holds the one-way delay of each element, s. An offset common to all elements has the
	// same effect as a height, and a trend along the array has the same effect as an angle. So
	// neither is part of the delays. The delay of an element without a pulse-echo arrival is NaN.
	// If there are too few arrivals between different elements to distinguish a delay from noise,
	// the uncertainty of the offset stands for the noise.
	Delays []Estimate
	// Residuals holds the measured time minus the fitted time of each arrival, s, before delays are
	// subtracted. It is NaN for an arrival that was not fitted: another echo, an outlier, or an
	// arrival beyond MaxIncidence.
	Residuals []float64
	// Covariance is the covariance matrix of Angle, Roof, Speed, Distance and [Options.Offset], in
	// this order, in rad, m/s, m and s. The standard uncertainties are the roots of its diagonal.
	// Values that stem from one fit are correlated: pass the correlations on to a budget.
	Covariance [5][5]float64
	Used       int     // number of fitted arrivals
	RMS        float64 // of the residuals of the fitted arrivals, s

	placed []r3.Vec
}

// Elements returns a copy of the positions of the elements over the face, m. The face is z = 0. The
// x axis runs along the face in the direction of the x axis of the array. The origin is where the
// central normal ray of the array meets the face: for a wedge, the exit point.
func (c *Placement) Elements() []r3.Vec { return slices.Clone(c.placed) }

// Face finds the position of an array over a flat face from the echoes of the face, in pulse-echo
// and between elements.
//
// Elements are positions in the frame of the array, m: in the plane z = 0, with x along the array.
// Arrivals are the measured echoes, for example from [Pick]. Arrivals of one pair are alternatives:
// at most one of them is the echo of the face.
//
// # Method
//
// An element at height h above the face has its mirror image at the same distance below the face.
// The echo between two elements, at a distance s from each other and at heights h₁ and h₂, takes
//
//	t = √(s² + 4·h₁·h₂)/c,   h = h₀ + x·sin(Angle) + y·sin(Roof),
//
// where h₀ is Distance, x and y are the coordinates of the element, and c is Speed.
//
// The first face is the flat face with which most pulse-echo arrivals agree. To find it, faces
// that follow from the arrivals of a few elements are tried. The weight of an arrival is its
// amplitude divided by the amplitude of the strongest arrival of its trace. Gauss-Newton steps
// then minimise the squared deviations. They are weighted by Tukey's biweight at 4.685 robust
// standard deviations, from the median of the deviations (from memory of P. J. Huber, Robust
// Statistics, 1981). In the end the arrivals within 4 robust standard deviations have the weight
// 1, and all others have the weight 0. An outlier therefore changes neither the result nor its
// uncertainty. The delays are fitted to the residuals in the same way.
//
// # Uncertainty
//
// The package documentation lists the causes of uncertainty. Their effects follow from the
// derivatives of the results (JCGM 100, Guide to the expression of uncertainty in measurement).
// Times without noise leave the uncertainties of the other causes.
//
// A calibration does not replace the checks of probe and instrument that the applicable code
// requires.
//
// # Errors
//
// An error names the argument that is out of range. Examples are elements that coincide or do not
// lie in z = 0, and an arrival of an element that does not exist. An error wraps [ErrNotFlat] if
// the arrivals follow a bent face. It wraps [ErrUndetermined] if too few elements have pulse-echo
// arrivals: fewer than four from an Inclined face, or fewer than five where both angles are sought.
// So few elements do not show how far the times scatter. It wraps ErrUndetermined too if fewer than
// half of the elements with a pulse-echo arrival, or of the pairs up to MaxIncidence, agree on a
// face. So it does if the speed is to be found from too few arrivals between different elements.
func Face(elements []r3.Vec, arrivals []Arrival, options *Options) (*Placement, error) {
	var o Options
	if options != nil {
		o = *options
	}
	if err := o.complete(); err != nil {
		return nil, err
	}
	if err := checkArrayFrame(elements); err != nil {
		return nil, err
	}
	if err := checkLine(elements); err != nil && o.Facing == Inclined {
		return nil, err
	}
	for i, a := range arrivals {
		if err := a.validate(len(elements)); err != nil {
			return nil, fmt.Errorf("calibrate: arrival %d: %w", i, err)
		}
	}
	f := newFaceFit(elements, arrivals, &o)
	if err := f.begin(); err != nil {
		return nil, err
	}
	if err := f.refine(); err != nil {
		return nil, err
	}
	if err := f.checkPairs(); err != nil {
		return nil, err
	}
	if err := f.checkFlat(); err != nil {
		return nil, err
	}
	return f.placement()
}

// complete replaces zeros by defaults and reports the first field out of range.
func (o *Options) complete() error {
	if err := o.checkGiven(); err != nil {
		return err
	}
	if o.Tolerance == 0 {
		o.Tolerance = defaultTolerance
	}
	if !number.Positive(o.Tolerance) {
		return fmt.Errorf("calibrate: tolerance of the calibration %v s: want a finite value above 0",
			o.Tolerance)
	}
	if o.MaxIncidence == 0 {
		o.MaxIncidence = knownSpeedIncidence
		if o.Speed.Value == 0 {
			o.MaxIncidence = unknownSpeedIncidence
			if o.Facing == Parallel {
				o.MaxIncidence = parallelIncidence
			}
		}
	}
	if !(o.MaxIncidence > 0 && o.MaxIncidence < math.Pi/2) {
		return fmt.Errorf("calibrate: largest incidence of the calibration %v rad: want above 0 and below π/2",
			o.MaxIncidence)
	}
	if o.Oblique == 0 {
		o.Oblique = o.Tolerance * defaultUncertainty
	}
	if !(o.Oblique > 0 && o.Oblique <= o.Tolerance) {
		return fmt.Errorf("calibrate: oblique delay of the calibration %v s: want above 0 and at most %v s, the tolerance",
			o.Oblique, o.Tolerance)
	}
	o.Speed.byDefault(exactness * o.Speed.Value)
	o.Distance.byDefault(exactness * o.Distance.Value)
	o.Offset.byDefault(defaultUncertainty * o.Tolerance)
	return nil
}

// checkGiven reports the first of the speed, the distance, the offset and the facing that is out of
// range or contradicts another.
func (o *Options) checkGiven() error {
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
			return fmt.Errorf("calibrate: %s of the calibration %v %s: want a finite value, or zero",
				e.name, v, e.unit)
		}
		if u := e.estimate.Uncertainty; !(u >= 0) || math.IsInf(u, 0) {
			return fmt.Errorf("calibrate: uncertainty of the %s of the calibration %v %s: want a finite value of 0 or above",
				e.name, u, e.unit)
		}
	}
	if o.Facing > Parallel {
		return fmt.Errorf("calibrate: facing %d of the calibration: want Inclined or Parallel",
			o.Facing)
	}
	if o.Distance.Value > 0 && o.Facing != Parallel {
		return errors.New("calibrate: distance of the calibration is given for an inclined face: want it for a Parallel one only")
	}
	if o.Distance.Value > 0 && o.Speed.Value > 0 {
		return errors.New("calibrate: both speed and distance of the calibration are given: want at most one")
	}
	return nil
}

// byDefault replaces an uncertainty of 0.
func (e *Estimate) byDefault(uncertainty float64) {
	if e.Uncertainty == 0 {
		e.Uncertainty = uncertainty
	}
}

// checkArrayFrame reports elements that are not distinct points of the plane
// z = 0.
func checkArrayFrame(elements []r3.Vec) error {
	if len(elements) == 0 {
		return errors.New("calibrate: calibration of 0 elements: want at least 1")
	}
	at := make(map[r3.Vec]int, len(elements))
	for i, e := range elements {
		if !number.Finite(e.X + e.Y + e.Z) {
			return fmt.Errorf("calibrate: element %d of the calibration %v: want finite coordinates",
				i, e)
		}
		if e.Z != 0 {
			return fmt.Errorf("calibrate: element %d of the calibration at z = %v m: want 0, in the array's own frame",
				i, e.Z)
		}
		if first, taken := at[e]; taken {
			return fmt.Errorf("calibrate: elements %d and %d of the calibration are both at %v m: want distinct positions",
				first, i, e)
		}
		at[e] = i
	}
	return nil
}

// straight is the share of the length of an array by which rounding, or a small turn, may move its
// elements off a line.
const straight = 1e-6

// widths reports whether an array has a width along x and along y.
func widths(elements []r3.Vec) (alongX, alongY bool) {
	low, high := elements[0], elements[0]
	for _, e := range elements {
		low = r3.Vec{X: min(low.X, e.X), Y: min(low.Y, e.Y)}
		high = r3.Vec{X: max(high.X, e.X), Y: max(high.Y, e.Y)}
	}
	x, y := high.X-low.X, high.Y-low.Y
	return x > straight*y, y > straight*x
}

// checkLine reports elements on one line that is neither the x axis nor the y axis: they determine
// one angle, but have a width along both axes.
func checkLine(elements []r3.Vec) error {
	if alongX, alongY := widths(elements); !alongX || !alongY {
		return nil
	}
	var along r3.Vec // to the farthest element
	for _, e := range elements {
		if d := r3.Sub(e, elements[0]); r3.Norm(d) > r3.Norm(along) {
			along = d
		}
	}
	for _, e := range elements {
		if r3.Norm(r3.Cross(along, r3.Sub(e, elements[0]))) > straight*r3.Norm2(along) {
			return nil
		}
	}
	return fmt.Errorf("calibrate: elements of the calibration on one line at %.3g° to the x axis: want them along the x or the y axis, or in several rows",
		math.Atan(along.Y/along.X)*180/math.Pi)
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
