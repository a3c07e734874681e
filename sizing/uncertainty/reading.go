// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/sizing"
)

// Reading is a position that was read in an image.
type Reading struct {
	Place *Place
	// SNRDB is the signal-to-noise ratio of the indication in dB, above 0 ([sizing.Indication]).
	// The noise then moves the peak ([quality.Peak.Scatter]). +Inf stands for a picture without
	// noise, or for noise that Method contains.
	SNRDB float64
	// Grid is the largest error in m along x and along z that the pixels cause: at least 0. It is
	// half a step if the position is the centre of a pixel. It is 0.01 of a step for the peaks of
	// [sizing.Find] with at least 3 pixels across the 6 dB width. 0 stands for none.
	Grid float64
	// Method is the standard uncertainty in m, in every direction, of the method: how well the
	// position stands for the reflector. It is at least 0. Examples are the place of a tip in its
	// spot (tips.End.Uncertainty), and the face of a hole of unknown radius.
	Method float64
}

// check reports the first field that is out of range.
func (r *Reading) check() error {
	switch {
	case r == nil || r.Place == nil || r.Place.peak == nil:
		return fmt.Errorf("uncertainty: reading without a place: want a place of Model.At")
	case !(r.SNRDB > 0):
		return fmt.Errorf("uncertainty: signal-to-noise ratio of a reading %v dB: want above 0, or +Inf for no noise", r.SNRDB)
	case !(r.Grid >= 0) || math.IsInf(r.Grid, 1):
		return fmt.Errorf("uncertainty: error by the grid of a reading %v m: want a finite value, at least 0", r.Grid)
	case !(r.Method >= 0) || math.IsInf(r.Method, 1):
		return fmt.Errorf("uncertainty: uncertainty of the method of a reading %v m: want a finite value, at least 0", r.Method)
	}
	return nil
}

// contributions returns what noise, grid and method add to a result whose gradient over the
// position is g. The suffix tells readings apart.
func (r *Reading) contributions(g r3.Vec, suffix string) []Contribution {
	size := math.Hypot(g.X, g.Z)
	noise := 0.0
	if !math.IsInf(r.SNRDB, 1) && size > 0 {
		xx, xz, zz := r.Place.peak.Scatter(r.SNRDB)
		noise = sqrt0(xx*g.X*g.X+2*xz*g.X*g.Z+zz*g.Z*g.Z) / size
	}
	return []Contribution{
		{Quantity: Quantity{Name: "noise" + suffix, Uncertainty: noise}, Sensitivity: size},
		{Quantity: Limits("grid"+suffix, 0, r.Grid, Rectangular), Sensitivity: size},
		{Quantity: Quantity{Name: "method" + suffix, Uncertainty: r.Method}, Sensitivity: size},
	}
}

// Inputs are the input quantities of readings: what is known of the set-up.
type Inputs struct {
	// Parameters are the parameters of the set-up that may be in error. Each parameter that moves
	// a reading must be there, also if its uncertainty is 0, so that none is forgotten. Its Value
	// and its Name have no effect. The units are the units of [Parameter].
	Parameters map[Parameter]Quantity
	// Grains are the parameters of the family of parts of [NewGrainModel], by their names. All of
	// them must be there. Their Value and their Name have no effect.
	Grains map[string]Quantity
	// Correlations are correlations of parameters, by the names of [Parameter.String], or of the
	// parameters of the family.
	Correlations []Correlation
}

// Of returns the budget of a result that follows from the positions of readings in m: f of these
// positions, finite and smooth around them. Errors of the set-up move all readings together.
// Errors of noise, grid and method are independent from reading to reading. Readings of several
// views can be mixed, if the set-up is the same.
func (in *Inputs) Of(name, unit string, f func(at []r3.Vec) float64, readings ...*Reading) (*Budget, error) {
	return in.measure(name, unit, f, 0, readings)
}

// measure is Of, with the derivative of f over the thickness of the part for given positions.
func (in *Inputs) measure(name, unit string, f func(at []r3.Vec) float64, thickness float64, readings []*Reading) (*Budget, error) {
	switch {
	case in == nil:
		return nil, fmt.Errorf("uncertainty: inputs of %s, nil: want some", name)
	case f == nil:
		return nil, fmt.Errorf("uncertainty: function of %s, nil: want one", name)
	case len(readings) == 0:
		return nil, fmt.Errorf("uncertainty: %s of no readings: want at least one", name)
	}
	for q := range in.Parameters {
		if int(q) >= parameters {
			return nil, fmt.Errorf("uncertainty: unknown parameter %d: want %v to %v", q, Parameter(0), TimeZero)
		}
	}
	at := make([]r3.Vec, len(readings))
	for i, r := range readings {
		if err := r.check(); err != nil {
			return nil, err
		}
		at[i] = r.Place.At
	}
	value := f(at)
	gradient := make([]r3.Vec, len(readings))
	for i := range at {
		gradient[i] = gradientOf(f, at, i)
		if !number.Finite(value) || !finite(gradient[i]) {
			return nil, fmt.Errorf("uncertainty: %s is %v, with the gradient %v over reading %d: want finite values", name, value, gradient[i], i)
		}
	}
	var contributions []Contribution
	for q := range Parameter(parameters) {
		c := sensitivity(q, gradient, readings, thickness)
		quantity, found := in.Parameters[q]
		if !found {
			if c != 0 {
				return nil, fmt.Errorf("uncertainty: no %v among the parameters, but an error of it changes %s: want it, with the uncertainty 0 if it is exact", q, name)
			}
			continue
		}
		quantity.Name = q.String()
		contributions = append(contributions, Contribution{Quantity: quantity, Sensitivity: c})
	}
	grains, err := in.grainContributions(name, gradient, readings)
	if err != nil {
		return nil, err
	}
	contributions = append(contributions, grains...)
	for i, r := range readings {
		suffix := ""
		if len(readings) > 1 {
			suffix = fmt.Sprintf(" %d", i+1)
		}
		contributions = append(contributions, r.contributions(gradient[i], suffix)...)
	}
	return Combine(name, unit, value, contributions, in.Correlations)
}

// sensitivity returns the derivative of a result over a parameter: the root of the sum of squares
// over the independent errors of the parameter.
func sensitivity(q Parameter, gradient []r3.Vec, readings []*Reading, thickness float64) float64 {
	const rounding = 1e-9 // of the terms: what remains of terms that cancel
	sum := 0.0
	for k := range readings[0].Place.shifts[q] {
		part, size := 0.0, 0.0
		for i, r := range readings {
			shift := r.Place.shifts[q][k]
			part += r3.Dot(gradient[i], shift)
			size += r3.Norm(gradient[i]) * r3.Norm(shift)
		}
		if math.Abs(part) <= rounding*size {
			part = 0
		}
		if q == Thickness {
			part += thickness
		}
		if q != ElementPositions {
			return part
		}
		sum = math.Hypot(sum, part)
	}
	return sum
}

// gradientOf returns the gradient of f over position i by central differences. It leaves at as it
// was. Positions are centimetres with 16 digits, so the rounding of a micrometre is 1e-12.
func gradientOf(f func([]r3.Vec) float64, at []r3.Vec, i int) r3.Vec {
	const step = 1e-6 // m
	p := at[i]
	along := func(d r3.Vec) float64 {
		at[i] = r3.Add(p, d)
		high := f(at)
		at[i] = r3.Sub(p, d)
		low := f(at)
		at[i] = p
		return (high - low) / (2 * step)
	}
	return r3.Vec{X: along(r3.Vec{X: step}), Z: along(r3.Vec{Z: step})}
}

// X returns the budget of the x of a reading, in m.
func (in *Inputs) X(r *Reading) (*Budget, error) {
	return in.Of("x", "m", func(at []r3.Vec) float64 { return at[0].X }, r)
}

// Z returns the budget of the z of a reading, in m: in a flat plate it is the depth.
func (in *Inputs) Z(r *Reading) (*Budget, error) {
	return in.Of("z", "m", func(at []r3.Vec) float64 { return at[0].Z }, r)
}

// Length returns the budget of the distance of two readings in m, such as the length of a flaw
// between its tips. Errors that move both ends alike cancel. The readings must be several standard
// uncertainties of their distance apart.
func (in *Inputs) Length(a, b *Reading) (*Budget, error) {
	return in.Of("length", "m", func(at []r3.Vec) float64 { return math.Hypot(at[1].X-at[0].X, at[1].Z-at[0].Z) }, a, b)
}

// Tilt returns the budget of the angle of the line through two readings from the vertical, in
// radians. It is positive where the upper end, of smaller z, leans to +x.
func (in *Inputs) Tilt(a, b *Reading) (*Budget, error) {
	if a != nil && b != nil && a.Place != nil && b.Place != nil && b.Place.At.Z < a.Place.At.Z {
		a, b = b, a
	}
	return in.Of("tilt", "rad", func(at []r3.Vec) float64 { return math.Atan2(at[0].X-at[1].X, at[1].Z-at[0].Z) }, a, b)
}

// Remaining returns the budget of the distance of a reading from the far surface of a wall, in m:
// the ligament, or the height of a flaw that stands on this surface. The place of the far surface
// follows from the stated thickness of the part, and is uncertain with it.
func (in *Inputs) Remaining(wall sizing.Wall, r *Reading) (*Budget, error) {
	return in.measure("remaining", "m", func(at []r3.Vec) float64 { return wall.Place(at[0]).Remaining }, 1, []*Reading{r})
}
