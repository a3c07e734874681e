// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// covariance is the covariance matrix of the parameters of a face.
type covariance [allParameters][allParameters]float64

// add adds the effect of an independent cause: the change of each parameter that the cause makes.
func (c *covariance) add(change [allParameters]float64) {
	for i := range c {
		for j := range c {
			c[i][j] += change[i] * change[j]
		}
	}
}

// along returns the standard uncertainty of the sum of the parameters times the
// given factors.
func (c *covariance) along(factors [allParameters]float64) float64 {
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
	c.Covariance = cov.of(c)
	for e := range f.elements {
		factors := [allParameters]float64{1, f.elements[e].X, f.elements[e].Y, 0}
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

// of returns the covariance of the values of a placement, in the order of [Placement.Covariance].
func (c *covariance) of(p *Placement) (out [5][5]float64) {
	order := [5]int{angleParameter, roofParameter, speedParameter, distanceParameter, offsetParameter}
	scale := [5]float64{1 / math.Cos(p.Angle.Value), 1 / math.Cos(p.Roof.Value), 1, 1, 1} // from sines
	for i, a := range order {
		for j, b := range order {
			out[i][j] = c[a][b] * scale[i] * scale[j]
		}
	}
	return out
}

// sine returns the standard uncertainty of an angle whose sine is a parameter.
func (c *covariance) sine(parameter int, p [allParameters]float64) float64 {
	s := p[parameter]
	return math.Sqrt(c[parameter][parameter] / ((1 - s) * (1 + s)))
}

// covariance combines the scatter of the times and the uncertainties of the given values.
func (f *faceFit) covariance(d *delayFit) (cov covariance, err error) {
	respond, err := f.response(f.used, equal(f.used))
	if err != nil {
		return cov, err
	}
	echoes := make([]echo, len(f.used))
	for j, k := range f.used {
		echoes[j] = f.echo(k)
	}
	// effect returns the change of the parameters that is caused by a change of the times of the
	// used arrivals.
	effect := func(times func(j int) float64) (change [allParameters]float64) {
		for i, p := range f.free {
			for j := range f.used {
				change[p] += respond.At(i, j) * times(j)
			}
		}
		return change
	}
	if d.noise > 0 {
		for j := range f.used {
			var change [allParameters]float64
			for i, p := range f.free {
				change[p] = respond.At(i, j) * d.noise
			}
			cov.add(change)
		}
	}
	// A delay is common to all arrivals of its element.
	late := make([][allParameters]float64, len(f.elements))
	for j, k := range f.used {
		for i, p := range f.free {
			late[f.arrivals[k].Transmit][p] += respond.At(i, j) * d.spread
			late[f.arrivals[k].Receive][p] += respond.At(i, j) * d.spread
		}
	}
	for _, change := range late {
		cov.add(change)
	}
	// A larger offset makes the times of the echoes smaller.
	shifted := effect(func(int) float64 { return -f.o.Offset.Uncertainty })
	shifted[offsetParameter] = f.o.Offset.Uncertainty
	cov.add(shifted)
	for _, p := range oblique {
		cov.add(effect(func(j int) float64 { return echoes[j].slope[p] * f.oblique }))
	}
	// Each given value has its own uncertainty, and an error in it shifts the values that were
	// found.
	for parameter, given := range [faceParameters]Estimate{distanceParameter: f.o.Distance, speedParameter: f.o.Speed} {
		if given.Value == 0 || given.Uncertainty == 0 {
			continue
		}
		change := effect(func(j int) float64 { return -echoes[j].slope[parameter] * given.Uncertainty })
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
