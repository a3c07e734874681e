// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// A Sheet is one of the three waves of an anisotropic solid in a given phase direction, in the
// order of phase speed. It is also the sheet of the slowness surface on which the wave lies.
//
// Where the two quasi-transverse sheets meet (see [PlaneWave.Degenerate]), the names follow the
// order of speed and not the polarisation. In a transversely isotropic solid, for example, the wave
// polarised across the axis is QT1 in some directions and QT2 in others.
type Sheet uint8

// The sheets, the fastest first.
const (
	QL  Sheet = iota // quasi-longitudinal: the fastest wave
	QT1              // the faster quasi-transverse wave
	QT2              // the slower quasi-transverse wave
)

// String returns the name of s: "qL", "qT1" or "qT2".
func (s Sheet) String() string {
	switch s {
	case QL:
		return "qL"
	case QT1:
		return "qT1"
	case QT2:
		return "qT2"
	}
	return fmt.Sprintf("Sheet(%d)", uint8(s))
}

// A PlaneWave is one of the three plane waves that travel in a phase direction.
type PlaneWave struct {
	Sheet        Sheet
	Normal       r3.Vec  // phase direction, the unit normal of the wave fronts
	Speed        float64 // phase speed along Normal, m/s
	Polarisation r3.Vec  // unit vector of the displacement; [Christoffel.Phase] defines its sign
	Group        r3.Vec  // group velocity, the velocity of the energy and of the ray, m/s

	// Degenerate reports that another wave of this phase direction has the same speed, to rounding:
	// Normal is an acoustic axis. Polarisation is then one of many possible polarisations in a
	// plane, and the waves of equal speed hold an orthonormal set. Group is the mean over all these
	// polarisations.
	//
	// If the sheets touch tangentially, as on a cube edge or on an axis of transverse isotropy, the
	// mean is the group velocity of each wave. The sheets may meet in a point like two cones, as on
	// the body diagonal of a cubic crystal. Then the group velocities of the polarisations form a
	// cone (internal conical refraction), and Group is the axis of the cone.
	Degenerate bool

	// Caustic reports that the slowness surface is flat at this wave in at least one direction:
	// neighbouring phase directions have the same group direction. Examples are the edge of a fold
	// of the wave surface, and a ring of phase directions about an axis of symmetry. Ray theory
	// then gives no finite amplitude. Only [GroupSolver.Arrivals] sets Caustic.
	Caustic bool
}

// Slowness returns the slowness vector of w, Normal divided by Speed, in s/m.
func (w PlaneWave) Slowness() r3.Vec { return r3.Scale(1/w.Speed, w.Normal) }

// GroupSpeed returns the length of Group in m/s. It is Speed or above.
func (w PlaneWave) GroupSpeed() float64 { return r3.Norm(w.Group) }

// Skew returns the angle between Normal and Group, in radians from 0 to π/2.
func (w PlaneWave) Skew() float64 {
	return math.Atan2(r3.Norm(r3.Cross(w.Normal, w.Group)), r3.Dot(w.Normal, w.Group))
}

// Christoffel calculates the plane waves of one anisotropic solid. Make it with [NewChristoffel].
// It does not change afterwards, and goroutines may share it. [Christoffel.Phase] allocates no
// memory.
//
// With the stiffness divided by density a = c/ρ, the phase direction n, the polarisation p and the
// phase speed v, a plane wave satisfies Christoffel's equation
//
//	Γ p = v² p,   Γ_ik = a_ijkl n_j n_l
//
// and its group velocity is
//
//	V_j = a_ijkl p_i p_k n_l / v
//
// V is the gradient of v as a homogeneous function of n. It is normal to the slowness surface, and
// V·n = v (Auld, Acoustic Fields and Waves in Solids, vol. 1, 1973, chapter 7; Musgrave, Crystal
// Acoustics, 1970, chapters 7 and 8).
type Christoffel struct {
	// a is the fourth-order tensor as a symmetric matrix. Row ik and column jl, both in Voigt
	// order, hold (a_ijkl + a_ilkj)/2. See between.
	a [6][6]float64
}

// NewChristoffel returns the Christoffel of m. The error is the error of [Anisotropic.Validate].
func NewChristoffel(m Anisotropic) (*Christoffel, error) {
	if err := m.Validate(); err != nil {
		return nil, err
	}
	c := new(Christoffel)
	for row, ik := range voigtPair {
		for col, jl := range voigtPair {
			i, k, j, l := ik[0], ik[1], jl[0], jl[1]
			straight := m.Stiffness.at(voigtIndex[i][j], voigtIndex[k][l])
			crossed := m.Stiffness.at(voigtIndex[i][l], voigtIndex[k][j])
			c.a[row][col] = (straight/2 + crossed/2) / m.Density
		}
	}
	return c, nil
}

// between returns the matrix S with S_ik = a_ijkl (u_j w_l + w_j u_l)/2. The symmetries of a give
// the matrix two uses. With directions u and w it acts on polarisations: between(n, n) is Γ. With
// polarisations it acts on directions: between(p, p)·n is v·V.
func (c *Christoffel) between(u, w r3.Vec) symmetric3 {
	xx, yy, zz := u.X*w.X, u.Y*w.Y, u.Z*w.Z
	yz := u.Y*w.Z + u.Z*w.Y
	xz := u.X*w.Z + u.Z*w.X
	xy := u.X*w.Y + u.Y*w.X
	var s symmetric3
	for i := range s {
		r := &c.a[i]
		s[i] = r[0]*xx + r[1]*yy + r[2]*zz + r[3]*yz + r[4]*xz + r[5]*xy
	}
	return s
}

// degenerateGap is the smallest difference of two squared speeds, as a fraction of the largest, for
// which two waves count as distinct. It is slightly above the rounding of the eigenvalues, because
// the error of a polarisation is the rounding divided by the difference.
const degenerateGap = 1e-14

// Phase returns the three plane waves whose fronts travel along n. Wave s is element s, so the
// fastest wave comes first. Only the direction of n matters. The error names a zero vector, or a
// vector that is not finite.
//
// The error of a speed is about 1e-15 of the fastest speed. The sign of a polarisation p makes p·n
// > 0. If p·n is 0 to rounding, the largest component of p is above 0. Near an acoustic axis
// polarisations and group velocities are less accurate: for two waves whose squared speeds differ
// by the fraction g, the error is about 1e-16/g.
func (c *Christoffel) Phase(n r3.Vec) ([3]PlaneWave, error) {
	u, err := unitDirection("phase direction", n)
	if err != nil {
		return [3]PlaneWave{}, err
	}
	return c.phase(u), nil
}

// phase is [Christoffel.Phase] for a unit vector.
func (c *Christoffel) phase(n r3.Vec) [3]PlaneWave {
	squares, p := c.between(n, n).eigen()
	var waves [3]PlaneWave
	for s := range waves {
		v := math.Sqrt(squares[s])
		from, to := cluster(&squares, s)
		waves[s] = PlaneWave{
			Sheet:        Sheet(s),
			Normal:       n,
			Speed:        v,
			Polarisation: forward(p[s], n),
			Group:        r3.Scale(1/v, c.meanForm(p[from:to], n)),
			Degenerate:   to-from > 1,
		}
	}
	return waves
}

// cluster returns the range from, to of the eigenvalues that are equal to number s within
// degenerateGap.
func cluster(squares *[3]float64, s int) (from, to int) {
	gap := degenerateGap * squares[0]
	from, to = s, s+1
	for from > 0 && squares[from-1]-squares[from] <= gap {
		from--
	}
	for to < 3 && squares[to-1]-squares[to] <= gap {
		to++
	}
	return from, to
}

// meanForm returns the mean of v·V over the orthonormal polarisations p. It is half the gradient of
// v² at q.
func (c *Christoffel) meanForm(p []r3.Vec, q r3.Vec) r3.Vec {
	var sum r3.Vec
	for _, e := range p {
		s := c.between(e, e)
		sum = r3.Add(sum, s.mulVec(q))
	}
	return r3.Scale(1/float64(len(p)), sum)
}

// forward returns p with the sign that the documentation of [Christoffel.Phase] gives.
func forward(p, n r3.Vec) r3.Vec {
	sign := r3.Dot(p, n)
	if math.Abs(sign) < 1e-12 {
		sign = p.X
		if math.Abs(p.Y) > math.Abs(sign) {
			sign = p.Y
		}
		if math.Abs(p.Z) > math.Abs(sign) {
			sign = p.Z
		}
	}
	if sign < 0 {
		return r3.Scale(-1, p)
	}
	return p
}

// unitDirection returns v at unit length. The error calls v by the name what.
func unitDirection(what string, v r3.Vec) (r3.Vec, error) {
	scale := max(math.Abs(v.X), math.Abs(v.Y), math.Abs(v.Z)) // NaN if a component is NaN
	if !(scale > 0) || math.IsInf(scale, 0) {
		return r3.Vec{}, fmt.Errorf("material: %s %v: want a finite vector other than 0", what, v)
	}
	// Divisions, because the reciprocal of a subnormal number overflows.
	return r3.Unit(r3.Vec{X: v.X / scale, Y: v.Y / scale, Z: v.Z / scale}), nil
}

// normalised returns v at unit length. It serves inner loops, for vectors whose squares do not
// overflow. r3.Unit guards against overflow and takes several times as long.
func normalised(v r3.Vec) r3.Vec { return r3.Scale(1/math.Sqrt(r3.Norm2(v)), v) }

// planeAcross returns two unit vectors e1 and e2 across the unit vector n; e1, e2, n is
// right-handed.
func planeAcross(n r3.Vec) (e1, e2 r3.Vec) {
	// The axis furthest from n gives the longest product.
	axis := r3.Vec{X: 1}
	if math.Abs(n.Y) < math.Abs(n.X) {
		axis = r3.Vec{Y: 1}
	}
	if math.Abs(n.Z) < min(math.Abs(n.X), math.Abs(n.Y)) {
		axis = r3.Vec{Z: 1}
	}
	e1 = normalised(r3.Cross(axis, n))
	return e1, r3.Cross(n, e1)
}
