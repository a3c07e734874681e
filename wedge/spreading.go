// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/spatial/r3"
)

// spreading describes the cross-section of the ray tube at the end of a ray. The tube holds the
// rays that leave the start in nearby directions. Its size is stated as a length: in a homogeneous
// medium all lengths are the length of the ray.
//
// In the plane, rays with directions dθ apart arrive inPlane·dθ apart. In space, the rays of a
// solid angle dΩ arrive on an area radius²·dΩ. The amplitude is proportional to 1/√inPlane for a
// line source and to 1/radius for a point source.
type spreading struct {
	// inPlane and outOfPlane are the lengths for directions in the section of constant y and across
	// it, in m. They are NaN for a ray that does not stay in a section.
	inPlane, outOfPlane float64
	// radius is the length in space, in m. In a section it is √(inPlane·outOfPlane).
	radius float64
	// causticsInPlane and caustics are the numbers of caustics that the ray has touched, among the
	// rays of the section and among the rays in space. At each caustic the tube turns inside out,
	// and the phase of the wave advances by π/2. The numbers are also the numbers of directions in
	// which the time through the crossings is a maximum, so they are 0 for a ray of least time.
	causticsInPlane, caustics int
}

// spreading returns the spreading of a ray of p, from its start to its end. The lengths are 0 if
// the end lies on a caustic, where ray theory has no amplitude. They are NaN if a leg has no
// length. The error is the error of [Path.Derivatives].
//
// The matrix M holds the second derivatives of the time with respect to the coordinates of the
// start s and of the end e, across the ray. It gives the area
//
//	dS/dΩ = 1/(c²·|det M|)
//
// with the speed c at the start (e.g. V. Červený, Seismic Ray Theory, 2001, on relative geometrical
// spreading, from memory). The time F(s, u, e) through crossings with the parameters u satisfies
// F_u = 0 at the ray, so M = F_se - F_su·F_uu⁻¹·F_ue in closed form. F_uu holds the curvature of
// the surfaces. The number of its negative eigenvalues is the number of caustics (Morse's index of
// a path of stationary time).
func (p *Path) spreading(r *Ray) (spreading, error) {
	if err := p.checkRay(r); err != nil {
		return spreading{}, err
	}
	nan := math.NaN()
	s := spreading{inPlane: nan, outOfPlane: nan, radius: nan}
	t, ok := newTube(p, r)
	if !ok {
		return s, nil
	}
	m := t.mixed()
	first, last := t.legs[0], t.legs[len(t.legs)-1]
	speed := p.legs[0].Speed
	entry := func(a, b r3.Vec) float64 {
		if m == nil {
			return math.Inf(1)
		}
		return r3.Dot(a, m.MulVec(b))
	}
	if p.inSection(r) {
		y := r3.Vec{Y: 1}
		s.inPlane = 1 / math.Abs(speed*entry(r3.Cross(y, first.direction), r3.Cross(y, last.direction)))
		s.outOfPlane = 1 / math.Abs(speed*entry(y, y))
		s.causticsInPlane = t.maxima(1)
	}
	s.caustics = t.maxima(2)
	if m == nil {
		s.radius = 0
		return s, nil
	}
	a1, a2 := across(first.direction)
	b1, b2 := across(last.direction)
	det := entry(a1, b1)*entry(a2, b2) - entry(a1, b2)*entry(a2, b1)
	s.radius = 1 / (speed * math.Sqrt(math.Abs(det)))
	return s, nil
}

// inSection reports whether a ray of p stays in a section of constant y that all surfaces have in
// common.
func (p *Path) inSection(r *Ray) bool {
	return p.extruded() && r.Points[0].Y == r.Points[len(r.Points)-1].Y
}

// across returns two unit vectors that are at right angles to each other and to the unit vector d.
func across(d r3.Vec) (a, b r3.Vec) {
	axis := r3.Vec{Y: 1}
	if math.Abs(d.Y) > 0.8 {
		axis = r3.Vec{X: 1}
	}
	a = r3.Unit(r3.Cross(axis, d))
	return a, r3.Cross(d, a)
}

// tube holds the terms of the second derivatives of the time of a ray.
type tube struct {
	legs    []tubeLeg
	patches []Patch // at the crossings
}

// tubeLeg is a leg of length ℓ along the unit vector d with the slowness s. Its matrix spread, s·(I
// - d·dᵀ)/ℓ, holds the second derivatives of its time with respect to one of its ends.
type tubeLeg struct {
	direction r3.Vec
	slowness  float64
	spread    *r3.Mat
}

// newTube returns the tube of a ray, and reports whether all legs of the ray have a length.
func newTube(p *Path, r *Ray) (t *tube, ok bool) {
	t = &tube{}
	for k, leg := range p.legs {
		d := r3.Sub(r.Points[k+1], r.Points[k])
		length := r3.Norm(d)
		if !(length > tolerance) {
			return nil, false
		}
		d = r3.Scale(1/length, d)
		spread := r3.Eye()
		outer := r3.NewMat(nil)
		outer.Outer(1, d, d)
		spread.Sub(spread, outer)
		spread.Scale(1/(leg.Speed*length), spread)
		t.legs = append(t.legs, tubeLeg{d, 1 / leg.Speed, spread})
	}
	for k, c := range p.crossings {
		t.patches = append(t.patches, c.Surface.At(c.Surface.Locate(r.Points[k+1])))
	}
	return t, true
}

// mixed returns the second derivatives of the time with respect to the coordinates of the start
// (row) and of the end (column), in s/m². It returns nil on a caustic, where they are infinite.
func (t *tube) mixed() *r3.Mat {
	m := r3.NewMat(nil)
	first, last := t.legs[0].spread, t.legs[len(t.legs)-1].spread
	if len(t.patches) == 0 {
		m.Scale(-1, first)
		return m
	}
	n := 2 * len(t.patches)
	// Only the first and the last crossing share a leg with an end.
	start, end := mat.NewDense(3, n, nil), mat.NewDense(n, 3, nil)
	one, other := t.patches[0], t.patches[len(t.patches)-1]
	for i, axis := range [...]r3.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
		start.Set(i, 0, -r3.Dot(axis, first.MulVec(one.U)))
		start.Set(i, 1, -r3.Dot(axis, first.MulVec(one.V)))
		end.Set(n-2, i, -r3.Dot(other.U, last.MulVec(axis)))
		end.Set(n-1, i, -r3.Dot(other.V, last.MulVec(axis)))
	}
	var shift, product mat.Dense
	var condition mat.Condition
	if err := shift.Solve(t.hessian(), end); errors.As(err, &condition) && math.IsInf(float64(condition), 1) {
		return nil
	}
	product.Mul(start, &shift)
	for i := range 3 {
		for j := range 3 {
			m.Set(i, j, -product.At(i, j))
		}
	}
	return m
}

// hessian returns the second derivatives of the time with respect to the parameters of the
// crossings: u and v of each crossing in turn.
func (t *tube) hessian() *mat.SymDense {
	h := mat.NewSymDense(2*len(t.patches), nil)
	for k, p := range t.patches {
		in, out := t.legs[k], t.legs[k+1]
		along := [2]r3.Vec{p.U, p.V}
		bend := [2][2]r3.Vec{{p.UU, p.UV}, {p.UV, p.VV}}
		// A leg that ends here grows along its direction. A leg that begins here shrinks.
		pull := r3.Sub(r3.Scale(in.slowness, in.direction), r3.Scale(out.slowness, out.direction))
		for i, a := range along {
			for j, b := range along[:i+1] {
				h.SetSym(2*k+i, 2*k+j,
					r3.Dot(a, in.spread.MulVec(b))+r3.Dot(a, out.spread.MulVec(b))+r3.Dot(pull, bend[i][j]))
			}
			if k > 0 {
				before := t.patches[k-1]
				h.SetSym(2*k+i, 2*k-2, -r3.Dot(a, in.spread.MulVec(before.U)))
				h.SetSym(2*k+i, 2*k-1, -r3.Dot(a, in.spread.MulVec(before.V)))
			}
		}
	}
	return h
}

// maxima returns the number of directions in which the time through the crossings is a maximum, for
// one parameter u per crossing or for two parameters.
func (t *tube) maxima(parameters int) int {
	n := parameters * len(t.patches)
	if n == 0 {
		return 0
	}
	full := t.hessian()
	h := mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			h.SetSym(i, j, full.At(2/parameters*i, 2/parameters*j))
		}
	}
	// The signs do not depend on the scale, but the decomposition fails for values far from 1.
	if scale := max(mat.Max(h), -mat.Min(h)); scale > 0 && scale <= math.MaxFloat64 {
		h.ScaleSym(1/scale, h)
	}
	var eigen mat.EigenSym
	if !eigen.Factorize(h, false) {
		return 0
	}
	count := 0
	for _, v := range eigen.Values(nil) {
		if v < 0 {
			count++
		}
	}
	return count
}
