// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/interp"
	"gonum.org/v1/gonum/spatial/r3"
)

// profile is a natural cubic spline z(x), the same in every section of constant y.
type profile struct {
	x           []float64
	z, dz       []float64 // value and slope at x
	bend, dbend []float64 // second derivative at x, and its slope up to the next x
	final       int
	density     float64 // mean number of points along x, 1/m
	low, high   float64 // the least and the largest z between the end points
	steep       float64 // the largest slope, without its sign
	stretch     float64 // the largest ratio of a distance along z from the curve to the true distance
}

// NewProfile returns the measured surface through the points (x, z) in metres: the natural cubic
// spline z(x), the same in every section of constant y. There must be at least two points, in
// ascending order of x, with y = 0. The far side is below (+z). Beyond the end points the surface
// continues straight. The spline meets this straight line without a change of slope or curvature.
//
// The parameters are the coordinates: u = x and v = y. The surface should not be so steep that u
// differs much from a length along the surface. Where several points are nearest to a point,
// Locate returns one of them. For a point that is not finite it returns NaN or infinity.
func NewProfile(points []r3.Vec) (Surface, error) {
	p, err := newProfile(points)
	if err != nil {
		return nil, err
	}
	return p, nil
}

func newProfile(points []r3.Vec) (*profile, error) {
	if len(points) < 2 {
		return nil, fmt.Errorf("wedge: profile of %d points: want at least 2", len(points))
	}
	n := len(points)
	p := &profile{final: n - 1}
	for i, q := range points {
		if err := checkFinite(fmt.Sprintf("point %d of the profile", i), q); err != nil {
			return nil, err
		}
		if q.Y != 0 {
			return nil, fmt.Errorf("wedge: point %d of the profile at y = %v m: want 0", i, q.Y)
		}
		if i > 0 && !(q.X > points[i-1].X) {
			return nil, fmt.Errorf("wedge: point %d of the profile at x = %v m: want more than the %v m of the point before",
				i, q.X, points[i-1].X)
		}
		p.x = append(p.x, q.X)
		p.z = append(p.z, q.Z)
	}
	var spline interp.NaturalCubic
	if err := spline.Fit(p.x, p.z); err != nil {
		return nil, fmt.Errorf("wedge: profile: %w", err)
	}
	p.dz, p.bend, p.dbend = make([]float64, n), make([]float64, n), make([]float64, n)
	for i, x := range p.x {
		p.dz[i] = spline.PredictDerivative(x)
	}
	for i := range n - 1 {
		// The values and slopes of a cubic at both ends determine its other derivatives.
		h := p.x[i+1] - p.x[i]
		chord := (p.z[i+1] - p.z[i]) / h
		p.bend[i] = 2 * (3*chord - 2*p.dz[i] - p.dz[i+1]) / h
		p.dbend[i] = 6 * (p.dz[i] + p.dz[i+1] - 2*chord) / (h * h)
	}
	for i := range n {
		if math.IsInf(p.x[n-1]-p.x[0], 0) || !finite(r3.Vec{X: p.dz[i], Y: p.bend[i], Z: p.dbend[i]}) {
			return nil, fmt.Errorf("wedge: profile at point %d, x = %v m: want points through which a curve of finite slope and curvature leads",
				i, p.x[i])
		}
	}
	p.density = float64(p.final) / (p.x[p.final] - p.x[0])
	p.low, p.high = slices.Min(p.z), slices.Max(p.z)
	for i := range p.final {
		for _, t := range quadraticRoots(p.dbend[i]/2, p.bend[i], p.dz[i]) {
			if t > 0 && p.x[i]+t < p.x[i+1] {
				z, _, _ := p.curve(p.x[i] + t)
				p.low, p.high = min(p.low, z), max(p.high, z)
			}
		}
	}
	p.steep = p.steepest()
	p.stretch = math.Hypot(1, p.steep)
	return p, nil
}

// steepest returns the largest slope of the curve.
func (p *profile) steepest() float64 {
	steep := math.Abs(p.dz[p.final])
	for i := range p.final {
		steep = max(steep, math.Abs(p.dz[i]))
		if t := -p.bend[i] / p.dbend[i]; t > 0 && t < p.x[i+1]-p.x[i] {
			steep = max(steep, math.Abs(p.dz[i]+t*p.bend[i]/2))
		}
	}
	return steep
}

// before returns the last point before x, or -1. It guesses the point, which is right where the
// points are evenly spaced, and searches otherwise.
func (p *profile) before(x float64) int {
	if share := (x - p.x[0]) * p.density; share >= 0 && share < float64(p.final) {
		if i := int(share); p.x[i] < x && x <= p.x[i+1] {
			return i
		}
	}
	return sort.SearchFloat64s(p.x, x) - 1
}

// curve returns z and its first two derivatives at x.
func (p *profile) curve(x float64) (z, dz, ddz float64) {
	i := p.before(x)
	switch {
	case i < 0:
		return p.z[0] + p.dz[0]*(x-p.x[0]), p.dz[0], 0
	case i >= p.final:
		return p.z[p.final] + p.dz[p.final]*(x-p.x[p.final]), p.dz[p.final], 0
	}
	t := x - p.x[i]
	ddz = p.bend[i] + t*p.dbend[i]
	dz = p.dz[i] + t*(p.bend[i]+t*p.dbend[i]/2)
	z = p.z[i] + t*(p.dz[i]+t*(p.bend[i]/2+t*p.dbend[i]/6))
	return z, dz, ddz
}

func (p *profile) At(u, v float64) Patch {
	z, dz, ddz := p.curve(u)
	return Patch{
		P:  r3.Vec{X: u, Y: v, Z: z},
		U:  r3.Vec{X: 1, Z: dz},
		V:  r3.Vec{Y: 1},
		UU: r3.Vec{Z: ddz},
	}
}

func (p *profile) Locate(q r3.Vec) (u, v float64) { return p.nearest(q), q.Y }

func (p *profile) Depth(q r3.Vec) float64 {
	u := p.nearest(q)
	z, _, _ := p.curve(u)
	above, _, _ := p.curve(q.X)
	return math.Copysign(math.Hypot(q.X-u, q.Z-z), q.Z-above)
}

// atLeast returns a depth of q that is at most the distance from the curve, with its sign.
func (p *profile) atLeast(q r3.Vec) float64 {
	// No search for the span where q lies beyond all points of the curve.
	between := q.X >= p.x[0] && q.X <= p.x[p.final]
	switch {
	case between && q.Z > p.high:
		return (q.Z - p.high) / p.stretch
	case between && q.Z < p.low:
		return (q.Z - p.low) / p.stretch
	}
	z, _, _ := p.curve(q.X)
	return (q.Z - z) / p.stretch
}

func (p *profile) Extruded() bool { return true }

// distanceRounding bounds the rounding of a distance between two points, relative to the sum of
// the distance and the distance of the points from the origin. Close to the nearest point of a
// surface the distance hardly changes: a step of 1e-11 m changes a distance of 2 mm by less than
// its rounding.
const distanceRounding = 1e-15

// nearest returns the x of the point of the curve that is nearest to q. It starts from the nearest
// measured point, or from the point straight above or below q. Newton steps improve it. A step is
// taken only if it leads nearer, or if the distance changes by less than its rounding.
func (p *profile) nearest(q r3.Vec) float64 {
	distance := func(x float64) float64 {
		z, _, _ := p.curve(x)
		return math.Hypot(x-q.X, z-q.Z)
	}
	best := q.X
	least := distance(best)
	// A point of the curve within this distance of q lies within it along x.
	from := sort.SearchFloat64s(p.x, q.X-least)
	square := least * least
	for i := from; i < len(p.x) && p.x[i] <= q.X+least; i++ {
		x, z := p.x[i]-q.X, p.z[i]-q.Z
		if d := x*x + z*z; d < square {
			best, square, least = p.x[i], d, math.Sqrt(d)
		}
	}
	for range 50 {
		z, dz, ddz := p.curve(best)
		slope := (best - q.X) + (z-q.Z)*dz // half the derivative of the squared distance
		bend := 1 + dz*dz + (z-q.Z)*ddz
		if bend <= 0 {
			bend = 1 + dz*dz
		}
		step := -slope / bend
		if math.Abs(step) <= 1e-15+1e-15*math.Abs(best) {
			break
		}
		limit := least + distanceRounding*(math.Abs(best)+least)
		for d := distance(best + step); !(d <= limit); d = distance(best + step) {
			// The step is infinite if q is so far away that its distance overflows.
			if step /= 2; !(math.Abs(step) > 1e-15) || math.IsInf(step, 0) {
				return best
			}
		}
		best += step
		least = distance(best)
	}
	return best
}
