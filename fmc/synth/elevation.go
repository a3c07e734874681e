// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"context"
	"math"
	"math/cmplx"
	"slices"

	"github.com/isochron-imaging/isochron/internal/parallel"
)

// elevation tabulates the beam of an element along the scan, at right angles to the imaging plane.
// The package documentation gives the formulas, under "The beam along the scan". Both tables are
// functions of two numbers:
//
//	b   √(π·f·ℓ²/q): the square of b is π for each Fresnel zone of the element's length
//	V   f·ℓ·κ: the argument of the sinc of the far field
//
// The tables hold smooth functions: the phase exp(2iaU²) of the longer path is left out.
type elevation struct {
	least, step float64 // of b, from row to row
	spacing     float64 // of V, from column to column
	columns     int
	edge        []complex128 // weight of the end of a flaw, -½ at V = 0
	point       []complex128 // weight of a point
}

// The tables end at steepest: there an echo is below -80 dB. Interpolation with rowStep is exact to
// about 1e-4 of the echo of an endless flaw.
const (
	steepest = 12.0
	rowStep  = 0.02
	// margin is the number of rows and columns beyond the range, for the interpolation.
	margin = 3
)

// newElevation returns the tables for b from least to largest.
func newElevation(ctx context.Context, least, largest float64, spread parallel.Options) (
	*elevation, error) {
	e := &elevation{step: rowStep, spacing: min(1.0/32, least/20)}
	e.least = least
	e.columns = int(steepest/e.spacing) + margin
	rows := int((largest-least)/e.step) + 1 + margin
	e.edge = make([]complex128, rows*e.columns)
	e.point = make([]complex128, rows*e.columns)
	err := parallel.Do(ctx, rows, spread, func() func(int) error {
		var p profile
		return func(i int) error {
			b := least + float64(i)*e.step
			at := i * e.columns
			p.set(b*b, steepest+2*margin*e.spacing)
			p.sample(e.spacing, e.edge[at:at+e.columns], e.point[at:at+e.columns])
			return nil
		}
	})
	return e, err
}

// profile is the beam for one value of a = b², on a fine grid of U = u/ℓ, the distance from the
// middle of the beam in lengths of the element.
type profile struct {
	a        float64
	step     float64      // of U
	wave     []complex128 // exp(iaU²)
	integral []complex128 // of wave from 0 to U: an odd function
	field    []complex128 // F(U)² of the transmitter and the receiver
	sum      []complex128 // integral of field from 0 to U
	whole    complex128   // integral of field over all U
	alone    complex128   // overlap of the elements
}

// set makes p the profile for a, up to the argument V of the sinc.
func (p *profile) set(a, steep float64) {
	farthest := math.Pi * steep / a
	half := int(math.Ceil(8 * a * (farthest + 0.5))) // steps of half a length, 0.25 rad each
	p.a, p.step = a, 0.5/float64(half)
	n := int(farthest/p.step) + 2
	p.setWave(n + half + 1)
	p.field, p.sum = resized(p.field, n), resized(p.sum, n)
	var before complex128 // slope of field
	for j := range p.field {
		f := p.toward(j+half) - p.toward(j-half)
		slope := 2 * f * (p.wave[j+half] - p.wave[max(j-half, half-j)])
		p.field[j] = f * f
		p.sum[j] = 0
		if j > 0 {
			p.sum[j] = p.sum[j-1] + p.trapezoid(p.field[j-1]+p.field[j], before-slope)
		}
		before = slope
	}
	p.alone = overlap(a)
	p.whole = cmplx.Sqrt(complex(0, math.Pi/(2*a))) * p.alone
}

// setWave sets n values of the wave and of its integral.
func (p *profile) setWave(n int) {
	p.wave, p.integral = resized(p.wave, n), resized(p.integral, n)
	const run = 64 // values from one exact phase to the next
	bend := p.a * p.step * p.step
	var turn complex128 // from value to value
	turns := cmplx.Rect(1, 2*bend)
	for j := range p.wave {
		u := float64(j) * p.step
		if j%run == 0 {
			p.wave[j], turn = cmplx.Rect(1, p.a*u*u), cmplx.Rect(1, bend*float64(2*j+1))
		} else {
			p.wave[j] = p.wave[j-1] * turn
			turn *= turns
		}
		p.integral[j] = 0
		if j > 0 {
			slopes := complex(0, 2*p.a) * (p.wave[j-1]*complex(u-p.step, 0) - p.wave[j]*complex(u, 0))
			p.integral[j] = p.integral[j-1] + p.trapezoid(p.wave[j-1]+p.wave[j], slopes)
		}
	}
}

// toward returns the integral of the wave from 0 to step j, which may be below 0.
func (p *profile) toward(j int) complex128 {
	if j < 0 {
		return -p.integral[-j]
	}
	return p.integral[j]
}

// resized returns n values, in the memory of s if it is large enough.
func resized(s []complex128, n int) []complex128 { return slices.Grow(s[:0], n)[:n] }

// trapezoid returns the integral over one step: the trapezoidal rule with the correction for the
// slopes at both ends (Euler and Maclaurin). It takes the sum of both values, and the slope at the
// start less the slope at the end.
func (p *profile) trapezoid(values, slopes complex128) complex128 {
	return values*complex(p.step/2, 0) + slopes*complex(p.step*p.step/12, 0)
}

// overlap returns the mean of exp(ia(h - h')²/2) over all h and h' from -½ to ½. It is the echo of
// a reflector that is endless along the scan, relative to small elements.
func overlap(a float64) complex128 {
	// The difference v of h and h' has the density 1 - |v|.
	n := 64 + int(4*a)
	var sum complex128
	for j := range n { // the rule of Simpson
		v := float64(j) / float64(n)
		for _, at := range [...]struct{ v, weight float64 }{
			{v, 1}, {v + 0.5/float64(n), 4}, {v + 1/float64(n), 1},
		} {
			sum += cmplx.Rect(at.weight*(1-at.v), a*at.v*at.v/2)
		}
	}
	return sum * complex(2/(6*float64(n)), 0)
}

// sample writes both weights at V = 0, spacing, 2·spacing, …
func (p *profile) sample(spacing float64, edge, point []complex128) {
	for k := range edge {
		u := math.Pi * float64(k) * spacing / p.a
		j := min(int(u/p.step), len(p.sum)-2)
		x := u/p.step - float64(j)
		back := cmplx.Rect(1, -2*p.a*u*u)
		edge[k] = (p.reached(j, x)/p.whole - 0.5) * back
		point[k] = p.between(j, x) / p.alone * back
	}
}

// reached returns the integral of the field up to the fraction x of step j: a cubic polynomial with
// the values and the slopes of both ends.
func (p *profile) reached(j int, x float64) complex128 {
	y0, y1 := p.sum[j], p.sum[j+1]
	s0, s1 := p.field[j]*complex(p.step, 0), p.field[j+1]*complex(p.step, 0)
	rest := 1 - x
	return y0*complex(rest*rest*(1+2*x), 0) + s0*complex(rest*rest*x, 0) +
		y1*complex(x*x*(3-2*x), 0) - s1*complex(x*x*rest, 0)
}

// between returns the field at the fraction x of step j, by a parabola through three values.
func (p *profile) between(j int, x float64) complex128 {
	if j == 0 {
		j, x = 1, x-1
	}
	return p.field[j-1]*complex(x*(x-1)/2, 0) + p.field[j]*complex(1-x*x, 0) +
		p.field[j+1]*complex(x*(x+1)/2, 0)
}

// weights writes the values of a table at the frequencies f, for b = zones·√f and V = steep·f. It
// interpolates, linear in b and cubic in V. Beyond steepest the values are 0.
func (e *elevation) weights(dst, table []complex128, zones, steep float64, frequencies, roots []float64) {
	perColumn, perRow, firstRow := steep/e.spacing, zones/e.step, e.least/e.step
	for k, f := range frequencies {
		x := perColumn * f
		column := max(int(x), 1)
		if column > e.columns-margin {
			clear(dst[k:])
			return
		}
		x -= float64(column)
		y := max(0, perRow*roots[k]-firstRow)
		row := int(y)
		y -= float64(row)
		at := row*e.columns + column - 1
		near, next := table[at:at+4:at+4], table[at+e.columns:][:4:4]
		p, q := x*(x-1), (x+1)*(x-2) // the cubic polynomial of Lagrange through -1, 0, 1 and 2
		w0, w1, w2, w3 := -p*(x-2)/6, q*(x-1)/2, -q*x/2, (x+1)*p/6
		re0 := w0*real(near[0]) + w1*real(near[1]) + w2*real(near[2]) + w3*real(near[3])
		im0 := w0*imag(near[0]) + w1*imag(near[1]) + w2*imag(near[2]) + w3*imag(near[3])
		re1 := w0*real(next[0]) + w1*real(next[1]) + w2*real(next[2]) + w3*real(next[3])
		im1 := w0*imag(next[0]) + w1*imag(next[1]) + w2*imag(next[2]) + w3*imag(next[3])
		dst[k] = complex(re0+y*(re1-re0), im0+y*(im1-im0))
	}
}
