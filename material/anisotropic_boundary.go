// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Medium is a medium on one side of an [AnisotropicBoundary]: [Isotropic], a solid or a fluid, or
// [Anisotropic].
type Medium interface {
	// Validate returns an error that names the first field outside its range.
	Validate() error
	halfSpace() halfSpace
}

// An AnisotropicBoundary is a plane between two media, at least one of them usually anisotropic, or
// the free surface of one medium. It gives the plane waves that leave the boundary when a plane
// wave falls on it from either side. Make it with [NewAnisotropicBoundary]. It does not change
// afterwards, and goroutines may share it.
//
// # Waves
//
// The boundary is the plane z = 0. The axis z points from the upper medium (z < 0) into the lower
// medium (z > 0). The elastic constants of both media are on the axes x, y, z; see
// [Stiffness.Rotate]. All waves share the time factor exp(−iωt) and the slowness (px, py) along the
// boundary. Each wave is
//
//	A·g·exp(iω(px·x + py·y + q·z − t))
//
// with the amplitude A, the polarisation g and the normal slowness q. In a solid, q and g satisfy
// Christoffel's equation
//
//	(Q + q(R + Rᵀ) + q²T − ρ)·g = 0
//	Q_ik = c_iakb pa pb,  R_ik = c_iakz pa,  T_ik = c_izkz,  a and b are x and y
//
// where c is the stiffness and ρ the density. This is an equation of sixth degree for q (A. N.
// Stroh, Steady state problems in anisotropic elasticity, Journal of Mathematics and Physics 41,
// 1962, from memory). Three of its roots belong to waves that go up, three to waves that go down. A
// wave with a real q goes where its energy goes, which is not always where its fronts go. A wave
// with a complex q is evanescent. Its amplitude falls with the distance from the boundary.
//
// The conditions at the boundary determine the amplitudes of the leaving waves (Auld, Acoustic
// Fields and Waves in Solids, vol. 2, 1973, chapter 9; S. I. Rokhlin, T. K. Bolland and L. Adler,
// Reflection and refraction of elastic waves on a plane interface between two generally anisotropic
// media, Journal of the Acoustical Society of America 79(4), 1986; both from memory).
//
// The densities of the two media may have a ratio up to 1e5, all their speeds a ratio up to 100.
type AnisotropicBoundary struct {
	upper, lower halfSpace // lower is the zero value for a vacuum
	welded       bool      // otherwise the shear stress is zero on both sides
}

// halfSpace is one side of an AnisotropicBoundary.
type halfSpace struct {
	density   float64
	stiffness Stiffness
	isotropic Isotropic // the zero value for an anisotropic medium
	fluid     bool      // carries only the longitudinal wave
}

func (m Isotropic) halfSpace() halfSpace {
	k, g := m.Density*m.Longitudinal*m.Longitudinal, m.Density*m.Transverse*m.Transverse
	return halfSpace{m.Density, Cubic{C11: k, C12: k - 2*g, C44: g}.Stiffness(), m, m.Fluid()}
}

func (m Anisotropic) halfSpace() halfSpace {
	h := halfSpace{density: m.Density}
	for i := range h.stiffness {
		for j := range h.stiffness {
			h.stiffness[i][j] = m.Stiffness.at(i, j)
		}
	}
	return h
}

// The largest ratios of two densities, and of two speeds, at an AnisotropicBoundary. If a medium is
// much faster than another, its waves are strongly evanescent and nearly the same wave, and digits
// are lost. The tests measure the energy up to the limits.
const (
	densityContrast = 1e5
	speedContrast   = 1e2
)

// NewAnisotropicBoundary returns the boundary between two media. A nil lower medium stands for a
// vacuum. The error names an invalid medium, an unknown contact, or two densities or speeds with a
// ratio that is too large.
func NewAnisotropicBoundary(upper, lower Medium, contact Contact) (*AnisotropicBoundary, error) {
	if contact > LiquidFilm {
		return nil, fmt.Errorf("material: contact %d: want Welded (%d) or LiquidFilm (%d)",
			contact, Welded, LiquidFilm)
	}
	if upper == nil {
		return nil, errors.New("material: upper medium is missing: want one; only the lower may be a vacuum")
	}
	if err := upper.Validate(); err != nil {
		return nil, fmt.Errorf("%w, in the upper medium", err)
	}
	b := &AnisotropicBoundary{upper: upper.halfSpace()}
	least, greatest, err := b.upper.speeds()
	if err != nil {
		return nil, fmt.Errorf("%w, in the upper medium", err)
	}
	if lower != nil {
		if err := lower.Validate(); err != nil {
			return nil, fmt.Errorf("%w, in the lower medium", err)
		}
		b.lower = lower.halfSpace()
		r := b.lower.density / b.upper.density
		if !(r >= 1/densityContrast && r <= densityContrast) {
			return nil, fmt.Errorf("material: densities %v and %v kg/m³ at a boundary: want a ratio up to %g",
				b.upper.density, b.lower.density, densityContrast)
		}
		slow, fast, err := b.lower.speeds()
		if err != nil {
			return nil, fmt.Errorf("%w, in the lower medium", err)
		}
		least, greatest = min(least, slow), max(greatest, fast)
		b.welded = contact == Welded && !b.upper.fluid && !b.lower.fluid
	}
	if !(greatest/least <= speedContrast) {
		return nil, fmt.Errorf("material: wave speeds of %.4g to %.4g m/s at a boundary: want a ratio up to %g",
			least, greatest, speedContrast)
	}
	return b, nil
}

// speeds returns a lower and an upper limit of the speeds of the waves, in m/s. For an anisotropic
// solid they follow from the eigenvalues of the stiffness.
func (h *halfSpace) speeds() (least, greatest float64, err error) {
	if m := h.isotropic; m.Fluid() && m != (Isotropic{}) {
		return m.Longitudinal, m.Longitudinal, nil
	} else if m != (Isotropic{}) {
		return m.Transverse, m.Longitudinal, nil
	}
	e, err := h.stiffness.eigenvalues(h.largest())
	if err != nil {
		return 0, 0, err
	}
	// The eigenvalue of a pure shear strain is 2·ρ·cT².
	return math.Sqrt(e[0] / (2 * h.density)), math.Sqrt(e[5] / h.density), nil
}

// largest returns the largest diagonal element of the stiffness, in Pa.
func (h *halfSpace) largest() float64 {
	var v float64
	for i := range h.stiffness {
		v = max(v, h.stiffness[i][i])
	}
	return v
}

// A BoundaryWave is a plane wave at an [AnisotropicBoundary].
type BoundaryWave struct {
	Lower bool // in the lower medium

	// Normal is the normal slowness q in s/m. It is real for a wave that carries energy, and
	// complex for an evanescent wave.
	Normal complex128

	// Polarisation is the displacement of a wave of amplitude 1, on the axes x, y, z, with the
	// length 1. [AnisotropicBoundary.Scatter] defines the sign. It is real for a wave that carries
	// energy. For an evanescent wave it is complex, with a
	// phase that makes the sum of the squares of its components real and at least 0.
	Polarisation [3]complex128

	// Group is the group velocity in m/s: the velocity of the energy. It is 0 for an evanescent
	// wave.
	Group r3.Vec

	// Flux is the energy flux through the boundary of a wave of amplitude 1, divided by ω²/2, in
	// kg/(m²·s). It is ρ·Group.Z, which is ρ·c·cos θ in an isotropic medium.
	Flux float64
}

// Evanescent reports whether w carries no energy through the boundary.
func (w *BoundaryWave) Evanescent() bool { return w.Flux == 0 }

// An AnisotropicScattering holds the waves at an [AnisotropicBoundary] for one slowness along the
// boundary, and the coefficients of each incident wave.
type AnisotropicScattering struct {
	// Incident holds the waves that carry energy to the boundary, first from the upper medium.
	Incident []BoundaryWave
	// Leaving holds the waves that leave the boundary, first into the upper medium. In each medium
	// they are in the order of |Re q|, evanescent waves first: in an isotropic solid L, then the
	// two transverse waves, one of them horizontal.
	Leaving []BoundaryWave
	// Displacement[i][k] is the amplitude of leaving wave k for incident wave i of amplitude 1.
	Displacement [][]complex128
	// Energy[i][k] is the part of the energy of incident wave i that leaving wave k carries away,
	// from 0 to 1. The sum over k is 1.
	Energy [][]float64
}

// Scatter returns all waves with the given slowness (px, py) along the boundary in s/m, and their
// coefficients. No wave is incident if the slowness is too large for every medium.
//
// # Signs
//
// Let n be the direction of Re(px, py, q), and h the horizontal unit vector z × (px, py)/p. Let t
// be h × n for waves that go down, and n × h for waves that go up. The component of the real part
// of the polarisation along n, t or h that is largest is above 0. For isotropic media these signs
// are the signs of [Boundary]. If the slowness along the boundary is 0, x stands for its direction.
//
// # Accuracy
//
// The sum of the energies is 1 within 1e-10, also beyond critical angles and where two waves have
// the same speed. An incident wave at grazing incidence is the exception: if the cosine of its
// angle is below 1e-5, the error of the sum may be 1e-15 divided by the cosine. At a critical angle
// q is a double root. The result there belongs to a slowness that differs by a part of about 1e-15,
// which is a change of the coefficients by about 1e-8.
//
// The error names a slowness that is not finite, a slowness above 100 times the slowness of the
// fastest wave, or a zero boundary.
func (b *AnisotropicBoundary) Scatter(slowness r2.Vec) (*AnisotropicScattering, error) {
	if b.upper.density == 0 {
		return nil, errors.New("material: zero AnisotropicBoundary: want one made by NewAnisotropicBoundary")
	}
	if !number.Finite(slowness.X) || !number.Finite(slowness.Y) {
		return nil, fmt.Errorf("material: slowness %v s/m along a boundary: want finite components", slowness)
	}
	_, fastest, err := b.upper.speeds()
	if err != nil {
		return nil, err
	}
	if limit := speedContrast / fastest; !(math.Hypot(slowness.X, slowness.Y) <= limit) {
		return nil, fmt.Errorf("material: slowness %v s/m along a boundary: want at most %.4g s/m, %g times the slowness of the fastest wave",
			slowness, limit, speedContrast)
	}
	upper, err := b.upper.waves(slowness)
	if err != nil {
		return nil, err
	}
	var lower partialWaves
	if b.lower.density != 0 {
		if lower, err = b.lower.waves(slowness); err != nil {
			return nil, err
		}
	}
	return b.scatter(slowness, &upper, &lower)
}
