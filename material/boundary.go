// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"errors"
	"fmt"
	"math"
)

// A Contact is the mechanical contact of two solids at a [Boundary]. If one side is a fluid, both
// kinds of contact are the same.
type Contact uint8

const (
	// Welded solids move together: displacement and stress are continuous.
	Welded Contact = iota

	// LiquidFilm is a liquid layer, thin relative to the wavelength, on which the two solids slip.
	// The displacement and the stress normal to the boundary are continuous. The shear stress is
	// zero on both sides. This is the contact of a wedge with couplant on a part.
	LiquidFilm
)

// A Boundary is a plane between two half-spaces, or the free surface of one half-space. It gives
// the plane waves that leave the boundary when a plane wave falls on it from the upper medium. Make
// a Boundary with [NewBoundary] or [NewFreeSurface]. It does not change afterwards, and goroutines
// may share it. Two boundaries made from the same arguments are equal (==).
//
// # Waves
//
// The axis x lies along the boundary. The axis z points from the upper medium (z < 0) into the
// lower medium (z > 0). The incident wave travels towards +x and +z at the angle θ from the normal.
// All waves share the time factor exp(−iωt) and the slowness p = sin θ/c along x. Each wave is
//
//	A·d·exp(iω(p·x ± q·z − t)),   p² + q² = 1/c²
//
// with the amplitude A, the polarisation d and the speed c. A wave with a speed above 1/p is
// evanescent: its cosine c·q is imaginary, +i√(c²p² − 1), and its amplitude falls with the distance
// from the boundary. With the other time factor, exp(+iωt), every coefficient is the complex
// conjugate.
//
// T is polarised in the plane of incidence (vertically polarised, SV). The horizontally polarised
// transverse wave, which does not convert, is not covered.
//
// # Signs
//
// The polarisations are the polarisations of Aki and Richards, Quantitative Seismology, 2nd ed.
// 2002, section 5.2. Every d has unit length, and the positive displacement of every wave has a
// component towards +x:
//
//	       downwards          upwards
//	L   ( sin, +cos)       (sin, −cos)     along the direction of travel
//	T   ( cos, −sin)       (cos, +sin)
//
// At normal incidence, the reflection by a harder medium is therefore positive for L and negative
// for T. Books that turn the sign of T with its direction of travel have the opposite sign for the
// reflected T. Amplitudes and energies are the same. Evanescent waves keep these formulas, with the
// complex cosine.
//
// # Special cases
//
//   - The coefficients of a wave that does not exist are 0: T in a fluid, and every wave in a
//     vacuum.
//   - An evanescent wave carries no energy through the boundary. Its energy coefficient is 0, its
//     amplitude is not 0.
//   - At grazing incidence, θ = 90°, the result is the limit for θ → 90°. Unless the media match,
//     the reflected wave cancels the incident wave, and the other coefficients are 0. The
//     reflection coefficient is −1 for L and, with the signs above, +1 for T.
//   - At a critical angle the result is the common limit from both sides.
//   - Rays towards −x are the mirror image: use |θ|.
//
// The theory holds for plane waves and media without attenuation. It does not include the spread of
// the beam, the displacement of the beam along the surface near the Rayleigh angle, a film that is
// not thin, and surface roughness.
type Boundary struct {
	upper, lower Isotropic // lower is the zero value for a vacuum
	contact      Contact
}

// boundaryContrast is the largest ratio of two densities, and of two speeds, at a boundary. For air
// and metals these ratios stay below 2·10⁴ and 40. Far above the limit float64 would overflow.
const boundaryContrast = 1e9

// NewBoundary returns the boundary between two media. The error names an invalid medium, an unknown
// contact, or two media whose densities or wave speeds have a ratio above 1e9.
func NewBoundary(upper, lower Isotropic, contact Contact) (Boundary, error) {
	if contact > LiquidFilm {
		return Boundary{}, fmt.Errorf("material: contact %d: want Welded (%d) or LiquidFilm (%d)",
			contact, Welded, LiquidFilm)
	}
	if err := upper.Validate(); err != nil {
		return Boundary{}, fmt.Errorf("%w, in the upper medium", err)
	}
	if err := lower.Validate(); err != nil {
		return Boundary{}, fmt.Errorf("%w, in the lower medium", err)
	}
	if r := lower.Density / upper.Density; !(r >= 1/boundaryContrast && r <= boundaryContrast) {
		return Boundary{}, fmt.Errorf(
			"material: densities %v and %v kg/m³ at a boundary: want a ratio up to %g",
			upper.Density, lower.Density, boundaryContrast)
	}
	if err := checkContrast(upper, lower); err != nil {
		return Boundary{}, err
	}
	return Boundary{upper, lower, contact}, nil
}

// NewFreeSurface returns the boundary between a medium and a vacuum. It is a good approximation for
// a gas: at normal incidence water loses 0.1 % of the energy to air, and a solid loses less. The
// error names an invalid medium, or wave speeds with a ratio above 1e9.
func NewFreeSurface(medium Isotropic) (Boundary, error) {
	if err := medium.Validate(); err != nil {
		return Boundary{}, err
	}
	if err := checkContrast(medium, medium); err != nil {
		return Boundary{}, err
	}
	return Boundary{upper: medium}, nil
}

// checkContrast returns an error for wave speeds with a ratio above boundaryContrast.
func checkContrast(a, b Isotropic) error {
	least := min(a.Longitudinal, b.Longitudinal)
	for _, m := range [2]Isotropic{a, b} {
		if !m.Fluid() {
			least = min(least, m.Transverse)
		}
	}
	greatest := max(a.Longitudinal, b.Longitudinal)
	if !(greatest/least <= boundaryContrast) {
		return fmt.Errorf(
			"material: wave speeds of %v to %v m/s at a boundary: want a ratio up to %g",
			least, greatest, boundaryContrast)
	}
	return nil
}

// Scatter returns the waves that leave b when a wave of the given mode falls on it at angle from
// the normal, in radians, 0 ≤ angle ≤ π/2. It allocates no memory. The error names an angle outside
// its range, an unknown mode, T incident in a fluid, or a zero Boundary.
func (b Boundary) Scatter(incident Mode, angle float64) (Scattering, error) {
	w, err := b.wavesAt(incident, angle)
	if err != nil {
		return Scattering{}, err
	}
	d := w.solve(incident)
	return Scattering{
		Displacement: d,
		Pressure:     b.pressure(d, incident),
		Energy:       w.energy(d, incident),
	}, nil
}

// wavesAt checks its arguments and returns the waves for them.
func (b Boundary) wavesAt(incident Mode, angle float64) (boundaryWaves, error) {
	if err := b.checkIncident(incident); err != nil {
		return boundaryWaves{}, err
	}
	if !(angle >= 0 && angle <= math.Pi/2) {
		return boundaryWaves{}, fmt.Errorf("material: angle of incidence %v rad: want 0 to π/2",
			angle)
	}
	sin, cos := math.Sincos(angle)
	return b.waves(incident, sin, cos), nil
}

// checkIncident returns an error for a wave that the upper medium does not carry.
func (b Boundary) checkIncident(m Mode) error {
	switch {
	case b.upper.Density == 0:
		return errors.New("material: zero Boundary: want one made by NewBoundary or NewFreeSurface")
	case m > T:
		return fmt.Errorf("material: incident mode %v: want L or T", m)
	case m == T && b.upper.Fluid():
		return errors.New("material: incident mode T in a fluid: want L")
	}
	return nil
}
