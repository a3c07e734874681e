// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import "math"

// A curve is a line z(x) in the section, which depends linearly or nearly linearly on a few
// parameters.
type curve interface {
	size() int                         // number of parameters
	at(x float64) (z, dz, ddz float64) // depth and its first two derivatives
	// gradient writes the derivative of the depth at x with respect to each parameter.
	gradient(x float64, dst []float64)
	values() []float64   // of the parameters; the slice may be changed
	stiffness() *penalty // prior on the parameters; nil for none
}

// arc is a straight line or a circle through the point (x0, z): z, the slope there, and the
// curvature, which is positive where the centre lies at greater depth. The formulas hold for a
// curvature of 0 too.
type arc struct {
	x0 float64
	p  []float64 // depth in m, slope, and for a circle the curvature in 1/m
}

func (a *arc) size() int           { return len(a.p) }
func (a *arc) values() []float64   { return a.p }
func (a *arc) stiffness() *penalty { return nil }

func (a *arc) curvature() float64 {
	if len(a.p) < 3 {
		return 0
	}
	return a.p[2]
}

// normal returns the unit normal at x0, which points into the part.
func (a *arc) normal() (nx, nz float64) {
	w := math.Hypot(1, a.p[1])
	return -a.p[1] / w, 1 / w
}

// rise returns the offset (dx, dz) of the point at x from the point at x0. Beyond the end of the
// circle it returns NaN.
func (a *arc) rise(x float64) (dx, dz float64) {
	nx, nz := a.normal()
	dx = x - a.x0
	q := a.curvature()*dx*dx/2 - nx*dx
	return dx, 2 * q / (nz + math.Sqrt(nz*nz-2*a.curvature()*q))
}

// at uses the implicit form of the circle: n·d - κ|d|²/2 = 0 for the offset d.
func (a *arc) at(x float64) (z, dz, ddz float64) {
	nx, nz := a.normal()
	k := a.curvature()
	dx, rise := a.rise(x)
	fx, fz := nx-k*dx, nz-k*rise
	dz = -fx / fz
	return a.p[0] + rise, dz, k * (1 + dz*dz) / fz
}

func (a *arc) gradient(x float64, dst []float64) {
	_, nz := a.normal()
	k := a.curvature()
	dx, rise := a.rise(x)
	fz := nz - k*rise
	dst[0] = 1
	dst[1] = (dx + a.p[1]*rise) * nz * nz * nz / fz
	if len(a.p) > 2 {
		dst[2] = (dx*dx + rise*rise) / 2 / fz
	}
}

// centre returns the centre of the circle.
func (a *arc) centre() (x, z float64) {
	nx, nz := a.normal()
	return a.x0 + nx/a.p[2], a.p[0] + nz/a.p[2]
}

// spline is a cubic spline with equally spaced knots, as a sum of B-splines. Beyond both ends it
// continues straight.
type spline struct {
	from, spacing float64 // first knot and distance of the knots, m
	p             []float64
}

func (s *spline) size() int         { return len(s.p) }
func (s *spline) values() []float64 { return s.p }

// stiffness is the prior of P-splines: second differences of the coefficients are small (P. H. C.
// Eilers and B. D. Marx, Statistical Science 11 (1996) 89-121, from memory).
func (s *spline) stiffness() *penalty { return &penalty{differences: len(s.p) - 2} }

// end returns the last knot.
func (s *spline) end() float64 { return s.from + float64(len(s.p)-3)*s.spacing }

// basis returns the first of the four B-splines that are not 0 at x, with the values and the first
// two derivatives of the four.
func (s *spline) basis(x float64) (first int, value, slope, bend [4]float64) {
	inside := min(max(x, s.from), s.end())
	u := (inside - s.from) / s.spacing
	first = min(int(u), len(s.p)-4)
	u -= float64(first)
	h := s.spacing
	v := 1 - u
	value = [4]float64{v * v * v / 6, (3*u*u*u - 6*u*u + 4) / 6, (3*v*v*v - 6*v*v + 4) / 6, u * u * u / 6}
	slope = [4]float64{-v * v / (2 * h), (3*u*u - 4*u) / (2 * h), -(3*v*v - 4*v) / (2 * h), u * u / (2 * h)}
	if x == inside {
		bend = [4]float64{v / (h * h), (3*u - 2) / (h * h), (3*v - 2) / (h * h), u / (h * h)}
	}
	for i := range value {
		value[i] += (x - inside) * slope[i]
	}
	return first, value, slope, bend
}

func (s *spline) at(x float64) (z, dz, ddz float64) {
	first, value, slope, bend := s.basis(x)
	for i := range value {
		c := s.p[first+i]
		z, dz, ddz = z+c*value[i], dz+c*slope[i], ddz+c*bend[i]
	}
	return z, dz, ddz
}

func (s *spline) gradient(x float64, dst []float64) {
	clear(dst)
	first, value, _, _ := s.basis(x)
	copy(dst[first:], value[:])
}
