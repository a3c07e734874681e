// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// covariance is the covariance matrix of the parameters of a face.
type covariance [faceParameters][faceParameters]float64

// add adds the effect of an independent cause: the change of each parameter that the cause makes.
func (c *covariance) add(change [faceParameters]float64) {
	for i := range c {
		for j := range c {
			c[i][j] += change[i] * change[j]
		}
	}
}

// along returns the standard uncertainty of the sum of the parameters times the
// given factors.
func (c *covariance) along(factors [faceParameters]float64) float64 {
	variance := 0.0
	for i := range c {
		for j := range c {
			variance += c[i][j] * factors[i] * factors[j]
		}
	}
	return math.Sqrt(max(0, variance))
}

// placement returns the result of a fit that has converged.
func (f *faceFit) placement() (*Placement, error) {
	d, err := f.fitDelays()
	if err != nil {
		return nil, err
	}
	cov, err := f.covariance(d)
	if err != nil {
		return nil, err
	}
	f.widen(d, &cov)
	p := f.params
	c := &Placement{
		Angle:     Estimate{math.Asin(p[angleParameter]), cov.sine(angleParameter, p)},
		Roof:      Estimate{math.Asin(p[roofParameter]), cov.sine(roofParameter, p)},
		Speed:     Estimate{p[speedParameter], math.Sqrt(cov[speedParameter][speedParameter])},
		Distance:  Estimate{p[distanceParameter], math.Sqrt(cov[distanceParameter][distanceParameter])},
		Delays:    d.delays,
		Residuals: make([]float64, len(f.arrivals)),
		Used:      len(f.used),
		placed:    f.place(),
	}
	for e := range f.elements {
		factors := [faceParameters]float64{1, f.elements[e].X, f.elements[e].Y, 0}
		c.Heights = append(c.Heights, Estimate{f.height(e), cov.along(factors)})
	}
	for k := range c.Residuals {
		c.Residuals[k] = math.NaN()
	}
	sum := 0.0
	for _, k := range f.used {
		c.Residuals[k] = f.residuals[k]
		sum += f.residuals[k] * f.residuals[k]
	}
	c.RMS = math.Sqrt(sum / float64(len(f.used)))
	return c, nil
}

// sine returns the standard uncertainty of an angle whose sine is a parameter.
func (c *covariance) sine(parameter int, p [faceParameters]float64) float64 {
	s := p[parameter]
	return math.Sqrt(c[parameter][parameter] / ((1 - s) * (1 + s)))
}

// covariance combines the scatter of the times and the uncertainties of the given values.
func (f *faceFit) covariance(d *delayFit) (cov covariance, err error) {
	respond, err := f.response(f.used, equal(f.used))
	if err != nil {
		return cov, err
	}
	// effect returns the change of the parameters that is caused by a change of the times of the
	// used arrivals.
	effect := func(times func(i, k int) float64) (change [faceParameters]float64) {
		for i, p := range f.free {
			for j, k := range f.used {
				change[p] += respond.At(i, j) * times(j, k)
			}
		}
		return change
	}
	if d.noise > 0 {
		for j := range f.used {
			var change [faceParameters]float64
			for i, p := range f.free {
				change[p] = respond.At(i, j) * d.noise
			}
			cov.add(change)
		}
	}
	// A delay is common to all arrivals of its element.
	late := make([][faceParameters]float64, len(f.elements))
	for j, k := range f.used {
		for i, p := range f.free {
			late[f.arrivals[k].Transmit][p] += respond.At(i, j) * d.spread
			late[f.arrivals[k].Receive][p] += respond.At(i, j) * d.spread
		}
	}
	for _, change := range late {
		cov.add(change)
	}
	cov.add(effect(func(int, int) float64 { return f.o.Offset.Uncertainty }))
	// Each given value has its own uncertainty, and an error in it shifts the values that were
	// found.
	for parameter, given := range [faceParameters]Estimate{distanceParameter: f.o.Distance, speedParameter: f.o.Speed} {
		if given.Value == 0 || given.Uncertainty == 0 {
			continue
		}
		change := effect(func(_, k int) float64 { return -f.echo(k).slope[parameter] * given.Uncertainty })
		change[parameter] = given.Uncertainty
		cov.add(change)
	}
	return cov, nil
}

// place returns the positions of the elements over the face for [Placement.Elements].
func (f *faceFit) place() []r3.Vec {
	a, b := f.params[angleParameter], f.params[roofParameter]
	// In the array's frame the heights fall along the normal of the face.
	normal := r3.Vec{X: -a, Y: -b, Z: math.Sqrt(1 - a*a - b*b)}
	x := r3.Unit(r3.Sub(r3.Vec{X: 1}, r3.Scale(normal.X, normal)))
	y := r3.Cross(normal, x)
	exit := r3.Vec{Z: f.params[distanceParameter] / normal.Z}
	placed := make([]r3.Vec, len(f.elements))
	for i, e := range f.elements {
		d := r3.Sub(e, exit)
		placed[i] = r3.Vec{X: r3.Dot(d, x), Y: r3.Dot(d, y), Z: r3.Dot(d, normal)}
	}
	return placed
}
