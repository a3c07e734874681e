// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"errors"
	"fmt"
	"math"
)

// A Contact is the way in which two solids hold on to each other at a
// [Boundary]. Where a side is a fluid, both kinds are the same.
type Contact uint8

const (
	// Welded solids move as one: displacement and stress are continuous.
	Welded Contact = iota

	// LiquidFilm is a layer of liquid, thin against the wavelength, between
	// two solids that slip on it: the displacement and the stress normal to
	// the boundary are continuous, the shear stress is zero on either side.
	// This is how a contact wedge with couplant stands on a part.
	LiquidFilm
)

// String returns "welded" or "liquid film".
func (c Contact) String() string {
	switch c {
	case Welded:
		return "welded"
	case LiquidFilm:
		return "liquid film"
	}
	return fmt.Sprintf("Contact(%d)", uint8(c))
}

// A Boundary is a plane between two half-spaces, or the free surface of one. It
// says which plane waves leave when a plane wave falls on it from the upper
// medium. It is made by [NewBoundary] or [NewFreeSurface], cannot change, and
// may be shared between goroutines; two are equal (==) when made of the same.
//
// # Waves
//
// The axis x lies along the boundary, z points from the upper medium (z < 0)
// into the lower (z > 0). The incident wave travels towards +x and +z under an
// angle θ from the normal. All waves share the time factor exp(−iωt) and the
// slowness p = sin θ/c along x, so that each is
//
//	A·d·exp(iω(p·x ± q·z − t)),   p² + q² = 1/c²
//
// with the polarisation d. A wave whose speed is above 1/p is evanescent: its
// cosine c·q is imaginary, +i√(c²p² − 1), so that it dies away from the
// boundary. With the other time factor, exp(+iωt), every coefficient is the
// complex conjugate.
//
// T is polarised in the plane of incidence (vertically polarised, SV). The
// horizontally polarised transverse wave, which never converts, is not covered.
//
// # Signs
//
// Polarisations are those of Aki and Richards, Quantitative Seismology, 2nd ed.
// 2002, section 5.2, which make every d of unit length and point every wave's
// positive displacement towards +x:
//
//	       downwards          upwards
//	L   ( sin, +cos)       (sin, −cos)     along the direction of travel
//	T   ( cos, −sin)       (cos, +sin)
//
// As a consequence the reflection of L by a harder medium at normal incidence
// is positive, that of T negative. Books that let the sign of T turn with its
// direction of travel have the opposite sign for the reflected T; amplitudes
// and energies are the same. Evanescent waves keep these formulas, with the
// complex cosine.
//
// # Special cases
//
//   - The coefficients of a wave that does not exist, T in a fluid and
//     everything in a vacuum, are 0.
//   - An evanescent wave carries no energy through the boundary: its energy
//     coefficient is 0, its amplitude is not.
//   - At grazing incidence, θ = 90°, the result is the limit for θ → 90°. Unless
//     the media match, the reflected wave then cancels the incident one (the
//     coefficient is −1 for L and, given the signs above, +1 for T) and the
//     others are 0.
//   - At a critical angle the result is the common limit from both sides.
//   - Rays towards −x are the mirror image: use |θ|.
//
// The theory is that of plane waves and media without loss: it leaves out the
// beam's spread, its displacement along the surface near the Rayleigh angle, and
// a film or a surface roughness that is not small against the wavelength.
type Boundary struct {
	upper, lower Isotropic // lower is the zero value for a vacuum
	contact      Contact
}

// boundaryContrast is the largest ratio of two densities and of two speeds at a
// boundary. Air against metals stays below 2·10⁴ and 40; far beyond the
// limit, float64 would overflow.
const boundaryContrast = 1e9

// NewBoundary returns the boundary between two media. The error is that of an
// invalid medium, of an unknown contact, or of media so different that the
// ratio of their densities or of any two wave speeds is beyond 1e9.
func NewBoundary(upper, lower Isotropic, contact Contact) (Boundary, error) {
	if contact > LiquidFilm {
		return Boundary{}, fmt.Errorf("material: contact %d: want Welded (%d) or LiquidFilm (%d)", contact, Welded, LiquidFilm)
	}
	if err := upper.Validate(); err != nil {
		return Boundary{}, fmt.Errorf("%w, in the upper medium", err)
	}
	if err := lower.Validate(); err != nil {
		return Boundary{}, fmt.Errorf("%w, in the lower medium", err)
	}
	if r := lower.Density / upper.Density; !(r >= 1/boundaryContrast && r <= boundaryContrast) {
		return Boundary{}, fmt.Errorf("material: densities %v and %v kg/m³ at a boundary: want a ratio up to %g", upper.Density, lower.Density, boundaryContrast)
	}
	if err := checkContrast(upper, lower); err != nil {
		return Boundary{}, err
	}
	return Boundary{upper, lower, contact}, nil
}

// NewFreeSurface returns the boundary of a medium with a vacuum, which stands
// well for a gas: at normal incidence water loses 0.1 % of the energy to air, and
// a solid less. The error is that of an invalid medium or of wave speeds with a
// ratio beyond 1e9.
func NewFreeSurface(medium Isotropic) (Boundary, error) {
	if err := medium.Validate(); err != nil {
		return Boundary{}, err
	}
	if err := checkContrast(medium, medium); err != nil {
		return Boundary{}, err
	}
	return Boundary{upper: medium}, nil
}

// checkContrast reports speeds whose ratio is beyond boundaryContrast.
func checkContrast(a, b Isotropic) error {
	least := min(a.Longitudinal, b.Longitudinal)
	for _, m := range [2]Isotropic{a, b} {
		if !m.Fluid() {
			least = min(least, m.Transverse)
		}
	}
	greatest := max(a.Longitudinal, b.Longitudinal)
	if !(greatest/least <= boundaryContrast) {
		return fmt.Errorf("material: wave speeds of %v to %v m/s at a boundary: want a ratio up to %g", least, greatest, boundaryContrast)
	}
	return nil
}

// Scatter returns the waves that leave b when a wave of the given mode falls on
// it at angle from the normal, in radians, 0 ≤ angle ≤ π/2. It allocates
// nothing. The error names an angle out of range, an unknown mode, T incident
// in a fluid, or a b not made by a constructor.
func (b Boundary) Scatter(incident Mode, angle float64) (Scattering, error) {
	w, err := b.wavesAt(incident, angle)
	if err != nil {
		return Scattering{}, err
	}
	return b.scattering(&w, incident), nil
}

// ScatterSlowness is [Boundary.Scatter] for the slowness p = sin(angle)/speed
// along the boundary in s/m, the number that all waves of a ray share. It
// ranges from 0 to 1/speed of the incident wave; beyond that, a rounding error
// up to 1e-12 of it is taken as grazing incidence.
func (b Boundary) ScatterSlowness(incident Mode, p float64) (Scattering, error) {
	if err := b.checkIncident(incident); err != nil {
		return Scattering{}, err
	}
	c := b.upper.Speed(incident)
	sin := p * c
	if !(sin >= 0 && sin <= 1+1e-12) {
		return Scattering{}, fmt.Errorf("material: slowness %v s/m along the boundary: want 0 to %.6g (grazing incidence)", p, 1/c)
	}
	sin = min(sin, 1)
	w := b.waves(incident, sin, math.Sqrt((1-sin)*(1+sin)))
	return b.scattering(&w, incident), nil
}

// wavesAt checks the arguments of a call and returns the geometry of its waves.
func (b Boundary) wavesAt(incident Mode, angle float64) (boundaryWaves, error) {
	if err := b.checkIncident(incident); err != nil {
		return boundaryWaves{}, err
	}
	if !(angle >= 0 && angle <= math.Pi/2) {
		return boundaryWaves{}, fmt.Errorf("material: angle of incidence %v rad: want 0 to π/2", angle)
	}
	sin, cos := math.Sincos(angle)
	return b.waves(incident, sin, cos), nil
}

// checkIncident reports a wave that the upper medium does not carry.
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

// scattering solves for the waves that leave b.
func (b Boundary) scattering(w *boundaryWaves, incident Mode) Scattering {
	d := w.solve(incident)
	return Scattering{
		Displacement: d,
		Pressure:     d.Pressure(b, incident),
		Energy:       w.energy(d, incident),
	}
}
