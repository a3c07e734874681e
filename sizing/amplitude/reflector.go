// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package amplitude

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material/beam"
)

// Reflector is a reference reflector: [Wall], [FlatHole], [SideHole], [Rectangle] or [Notch].
type Reflector interface {
	// echo returns the amplitude for a distance in m that is a near-field lengths.
	echo(probe beam.Disc, distance, a float64) (float64, error)
}

// Echo returns the amplitude of the echo of a reflector on the axis of a probe at a distance in m.
// The amplitude is the mean pressure on the probe, relative to the pressure at the face of the
// probe. A wall at the face has 1. The distance is finite and at least 0.1 near-field lengths. It
// ends at the nearest point of the reflector.
//
// The probe is a disc in an ideal, lossless medium. For a square probe take the disc with the
// same near-field length. Attenuation and coupling are left out, see [Transfer]. The waves have one
// frequency; a pulse smooths the amplitudes nearer than about one near-field length.
func Echo(probe beam.Disc, r Reflector, distance float64) (float64, error) {
	a, err := near(probe, distance)
	if err != nil {
		return 0, err
	}
	if r == nil {
		return 0, fmt.Errorf("amplitude: reflector is missing")
	}
	return r.echo(probe, distance, a)
}

// Wall is a plane wall at right angles to the beam, larger than the beam: a back wall, or the far
// face of a block.
type Wall struct{}

func (Wall) echo(_ beam.Disc, _, a float64) (float64, error) { return wallEcho(a), nil }

// FlatHole is a flat-bottomed hole along the beam: a disc at right angles to the beam.
type FlatHole struct {
	Diameter float64 // m, above 0, at most twice the diameter of the probe
}

func (h FlatHole) echo(probe beam.Disc, _, a float64) (float64, error) {
	g := h.Diameter / probe.Diameter
	if !(g > 0 && g <= 2) {
		return 0, fmt.Errorf("amplitude: flat-bottomed hole of %v m: want a diameter above 0, at most %v m", h.Diameter, 2*probe.Diameter)
	}
	return discEcho(a, g), nil
}

// SideHole is a side-drilled hole across the beam, longer than the beam is wide. The law is the
// curvature of its face: the echo of a wall times √(r/(r + s)), with the radius r and the distance
// s to the face. It wants a distance of at least one near-field length.
//
// The law is within 0.1 dB of exact elastic scattering for longitudinal pulses in steel and holes
// of two and four wavelengths (TestLawsOfSynthesis). Transverse waves creep around a hole: at one
// frequency the exact solution is 1.3 dB below the law for 5.8 wavelengths (independent
// calculation). For thinner holes the law means nothing: it wants two wavelengths.
type SideHole struct {
	Diameter float64 // m, finite, at least two wavelengths
}

func (h SideHole) echo(probe beam.Disc, distance, a float64) (float64, error) {
	if err := h.check(probe.Wavelength); err != nil {
		return 0, err
	}
	if !(a >= 1) {
		return 0, fmt.Errorf("amplitude: side-drilled hole at %v m: want at least the near-field length %v m", distance, probe.NearField())
	}
	r := h.Diameter / 2
	return wallEcho(a) * math.Sqrt(r/(r+distance)), nil
}

// check returns an error unless the hole is so thick that its face reflects.
func (h SideHole) check(wavelength float64) error {
	if !(h.Diameter >= 2*wavelength) || math.IsInf(h.Diameter, 0) {
		return fmt.Errorf("amplitude: side-drilled hole of %v m: want at least %v m, two wavelengths, and finite", h.Diameter, 2*wavelength)
	}
	return nil
}

// Rectangle is a plane rectangular reflector at right angles to the beam, such as a face of lack of
// fusion that is met squarely. Its echo is the echo of a wall times the shares of both directions:
// e·√(2/(λs)) each while the side e is small, 1 for a long side (Kirchhoff's approximation, far
// from the probe). It wants a distance of at least one near-field length. A side that is not small
// relative to the beam must be longer than the beam: take math.Inf(1).
type Rectangle struct {
	Height, Length float64 // m, above 0; math.Inf(1) stands for longer than the beam
}

func (r Rectangle) echo(probe beam.Disc, distance, a float64) (float64, error) {
	switch {
	case !(r.Height > 0):
		return 0, fmt.Errorf("amplitude: height %v m of the rectangle: want above 0", r.Height)
	case !(r.Length > 0):
		return 0, fmt.Errorf("amplitude: length %v m of the rectangle: want above 0", r.Length)
	case !(a >= 1):
		return 0, fmt.Errorf("amplitude: rectangle at %v m: want at least the near-field length %v m", distance, probe.NearField())
	}
	return wallEcho(a) * fresnelZone(r.Height, distance, probe.Wavelength) * fresnelZone(r.Length, distance, probe.Wavelength), nil
}

// Notch is a notch at right angles into a wall, which returns the beam by its corner with the wall.
// Both reflections together work as a rectangle at right angles to the beam, twice the projected
// height: 2·h·sin θ with the height h and the angle θ.
type Notch struct {
	Height float64 // m, above 0, finite
	Length float64 // m, above 0; math.Inf(1) stands for longer than the beam
	// Angle is the angle in rad between the beam and the normal of the wall, above 0, below π/2.
	Angle float64
	// Corner is the product of the reflection coefficients of the wall and of the notch, above 0,
	// at most 1. It is 1 for transverse waves in steel from 33° to 57°, and far below 1 outside
	// (package material, Boundary).
	Corner float64
}

func (n Notch) echo(probe beam.Disc, distance, a float64) (float64, error) {
	switch {
	case !number.Positive(n.Height):
		return 0, fmt.Errorf("amplitude: height %v m of the notch: want a finite value above 0", n.Height)
	case !(n.Angle > 0 && n.Angle < math.Pi/2):
		return 0, fmt.Errorf("amplitude: angle %v rad at the notch: want above 0 and below π/2", n.Angle)
	case !(n.Corner > 0 && n.Corner <= 1):
		return 0, fmt.Errorf("amplitude: reflection %v at the corner of the notch: want above 0, at most 1", n.Corner)
	}
	face := Rectangle{Height: 2 * n.Height * math.Sin(n.Angle), Length: n.Length}
	v, err := face.echo(probe, distance, a)
	return n.Corner * v, err
}
