// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// Surface is an entry surface that was found in a capture. It is immutable and safe for concurrent
// use. Lengths are in m, in the coordinates of the elements.
type Surface struct {
	Shape Shape // Plane, Circle or Profile
	// Lit is the range of x in which the surface mirrors echoes into the array. Nothing is known of
	// the surface outside of it.
	Lit wedge.Interval
	// StandOff is the least distance between the middle of the array and the surface.
	StandOff calibrate.Estimate
	// Tilt is the slope dz/dx of the surface below the middle of the array, as an angle in rad.
	Tilt calibrate.Estimate
	// Radius is the radius of a Circle, above 0, and CentreX and CentreZ its centre. Concave says
	// that the centre lies on the side of the array. They are 0 for other shapes.
	Radius, CentreX, CentreZ calibrate.Estimate
	Concave                  bool
	// Deviation is the largest distance along z between the surface and the Profile that fits the
	// same echoes best. Probability is the probability of so large a misfit by chance, if the true
	// surface has the Shape: a low value, such as 0.01, says that it has not. For a Profile they
	// are 0 and 1.
	Deviation, Probability float64
	// Used is the number of echoes, with both directions of a pair as one. RMS is the root mean
	// square of their deviations along z, which is half of the path, after the delays of elements.
	Used int
	RMS  float64

	curve      curve
	covariance *mat.SymDense
	common     float64 // standard uncertainty of all distances, m
	scale      float64 // relative standard uncertainty of all distances
	above      r3.Vec  // the middle of the array
	normal     float64 // distance of the surface below the middle, along the normal
}

// surface returns the result of a fit.
func (f *finder) surface(shape Shape, r *fitted) (*Surface, error) {
	s := &Surface{
		Shape: shape, Lit: wedge.Interval{Min: r.lit[0], Max: r.lit[1]},
		Deviation: r.deviation, Probability: 1, Used: len(r.echoes), RMS: r.rms / 2,
		curve: r.curve, covariance: r.covariance,
		common: f.o.Offset.Uncertainty * f.speed.Value / 2,
		scale:  f.speed.Uncertainty / f.speed.Value,
	}
	if shape != Profile {
		s.Probability = r.probability
	}
	first, last := f.elements[f.order[0]], f.elements[f.order[len(f.order)-1]]
	s.above = r3.Scale(0.5, r3.Add(first, last))
	below, ok := reflect(s.curve, s.above, s.above, s.above.X)
	if !ok {
		return nil, fmt.Errorf("adapt: %w: the surface that fits the echoes does not lie below the array", ErrUndetermined)
	}
	s.normal = below.length / 2
	z, slope, _ := s.curve.at(below.x)
	s.StandOff = calibrate.Estimate{Value: s.normal, Uncertainty: s.spread(below.x, z) / math.Hypot(1, slope)}
	s.Tilt = calibrate.Estimate{Value: math.Atan(slope), Uncertainty: s.slopeSpread(below.x) / (1 + slope*slope)}
	if shape == Circle {
		s.circle()
	}
	return s, nil
}

// spread returns the standard uncertainty of the depth z at x.
func (s *Surface) spread(x, z float64) float64 {
	gradient := make([]float64, s.curve.size())
	s.curve.gradient(x, gradient)
	g := mat.NewVecDense(len(gradient), gradient)
	random := mat.Inner(g, s.covariance, g)
	_, slope, _ := s.curve.at(x)
	normal := math.Hypot(1, slope) // a shift along the normal, as a shift along z
	common, scale := s.common*normal, s.scale*(z-s.above.Z)*normal
	return math.Sqrt(random + common*common + scale*scale)
}

// slopeSpread returns the standard uncertainty of the slope at x.
func (s *Surface) slopeSpread(x float64) float64 {
	n := s.curve.size()
	before, after := make([]float64, n), make([]float64, n)
	const step = 1e-6
	s.curve.gradient(x-step, before)
	s.curve.gradient(x+step, after)
	for i := range after {
		after[i] = (after[i] - before[i]) / (2 * step)
	}
	g := mat.NewVecDense(n, after)
	return math.Sqrt(mat.Inner(g, s.covariance, g))
}

// circle fills in the radius and the centre. Their uncertainties follow from the uncertainties of
// depth, slope and curvature.
func (s *Surface) circle() {
	a := s.curve.(*arc)
	x, z := a.centre()
	values := func() [3]float64 {
		x, z := a.centre()
		return [3]float64{math.Abs(1 / a.p[2]), x, z}
	}
	var slopes [3][]float64
	for i := range a.p {
		kept := a.p[i]
		step := 1e-6 * max(math.Abs(kept), 1e-3)
		a.p[i] = kept + step
		after := values()
		a.p[i] = kept - step
		before := values()
		a.p[i] = kept
		for k := range slopes {
			slopes[k] = append(slopes[k], (after[k]-before[k])/(2*step))
		}
	}
	var u [3]float64
	for k := range u {
		g := mat.NewVecDense(3, slopes[k])
		u[k] = math.Sqrt(mat.Inner(g, s.covariance, g))
	}
	s.Concave = a.p[2] < 0
	r := math.Abs(1 / a.p[2])
	s.Radius = calibrate.Estimate{Value: r, Uncertainty: math.Hypot(u[0], s.scale*r)}
	s.CentreX = calibrate.Estimate{Value: x, Uncertainty: u[1]}
	s.CentreZ = calibrate.Estimate{Value: z, Uncertainty: math.Hypot(u[2], math.Hypot(s.common, s.scale*(z-s.above.Z)))}
}

// Depth returns the depth z of the surface at x, in m, with its standard uncertainty. Outside of
// the lit range both are NaN.
func (s *Surface) Depth(x float64) calibrate.Estimate {
	if !(x >= s.Lit.Min && x <= s.Lit.Max) || s.curve == nil {
		return calibrate.Estimate{Value: math.NaN(), Uncertainty: math.NaN()}
	}
	z, _, _ := s.curve.at(x)
	return calibrate.Estimate{Value: z, Uncertainty: s.spread(x, z)}
}

// Entry returns the surface for the Entry of a [wedge.Setup]. A Profile continues straight outside
// of the lit range.
func (s *Surface) Entry() (wedge.Surface, error) { return s.parallel(0) }

// Wall returns the back wall of a plate or a pipe of a constant thickness in m. It is the plane
// parallel to a Plane, or the circle about the centre of a Circle. A Profile says nothing about the
// back wall, which is an error.
func (s *Surface) Wall(thickness float64) (wedge.Surface, error) {
	if !number.Positive(thickness) {
		return nil, fmt.Errorf("adapt: thickness %v m: want a finite value above 0", thickness)
	}
	if s.Shape == Profile {
		return nil, fmt.Errorf("adapt: wall parallel to a profile: want the back wall of the part")
	}
	if s.Shape == Circle && !s.Concave && thickness >= s.Radius.Value {
		return nil, fmt.Errorf("adapt: thickness %v m: want less than the radius %v m", thickness, s.Radius.Value)
	}
	return s.parallel(thickness)
}

// parallel returns the surface at a distance below the found surface.
func (s *Surface) parallel(below float64) (wedge.Surface, error) {
	if s.curve == nil {
		return nil, errors.New("adapt: surface without echoes: want one of FindSurface")
	}
	switch s.Shape {
	case Plane:
		a := s.curve.(*arc)
		nx, nz := a.normal()
		normal := r3.Vec{X: nx, Z: nz}
		return wedge.NewPlane(r3.Add(r3.Vec{X: a.x0, Z: a.p[0]}, r3.Scale(below, normal)), normal)
	case Circle:
		centre, along := r3.Vec{X: s.CentreX.Value, Z: s.CentreZ.Value}, r3.Vec{Y: 1}
		if s.Concave {
			return wedge.NewCylinder(centre, along, s.Radius.Value+below, wedge.Concave)
		}
		return wedge.NewCylinder(centre, along, s.Radius.Value-below, wedge.Convex)
	}
	k := s.curve.(*spline)
	n := max(8, int(math.Ceil(4*(s.Lit.Max-s.Lit.Min)/k.spacing)))
	var points []r3.Vec
	for i := range n + 1 {
		x := s.Lit.Min + float64(i)/float64(n)*(s.Lit.Max-s.Lit.Min)
		z, _, _ := k.at(x)
		points = append(points, r3.Vec{X: x, Z: z})
	}
	return wedge.NewProfile(points)
}

// Setup returns a copy of a set-up with the found surface as its entry surface. The set-up says
// what couples the array, what the part consists of, and where its back wall is ([Surface.Wall]).
// Its Entry is not read.
//
// Through a Profile rays enter the part only in the lit range: the rest of the surface becomes
// gaps. A Plane and a Circle continue beyond the lit range.
func (s *Surface) Setup(like wedge.Setup) (*wedge.Setup, error) {
	entry, err := s.Entry()
	if err != nil {
		return nil, err
	}
	like.Entry = entry
	if s.Shape == Profile {
		like.EntryGaps = append([]wedge.Interval{
			{Min: math.Inf(-1), Max: s.Lit.Min}, {Min: s.Lit.Max, Max: math.Inf(1)}}, like.EntryGaps...)
	}
	return &like, like.Validate()
}
