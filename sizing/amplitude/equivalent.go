// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package amplitude

import (
	"errors"
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material/beam"
	"github.com/isochron-imaging/isochron/sizing"
)

// ErrNoEquivalent is wrapped by the error of an echo that no disc returns.
var ErrNoEquivalent = errors.New("no disc has this echo")

// Known is a reference reflector at a distance.
type Known struct {
	Reflector Reflector
	Distance  float64 // m, see [Echo]
}

// EquivalentDisc returns the diameter in m of the flat-bottomed hole with the echo of an indication
// at a distance in m. The hole lies on the axis of the probe, its bottom at right angles to it. The
// level is the level of the indication in dB relative to the echo of the reference, at equal gain
// and corrected for nothing. The transfer t accounts for the surfaces and the attenuation of the
// block with the reference and of the part; nil stands for one lossless piece.
//
// The distance must be at least 0.7 near-field lengths (common practice, no source). If the echo is
// as high as the echo of a disc as wide as the beam, the error wraps [ErrNoEquivalent]. The
// indication is then large, and a disc says nothing about it.
//
// An equivalent disc is no size. A real flaw is rough, tilted or curved, and almost always larger.
func EquivalentDisc(probe beam.Disc, level float64, reference Known, distance float64, t *Transfer) (float64, error) {
	a, err := near(probe, distance)
	if err != nil {
		return 0, err
	}
	const least = 0.7
	if !(a >= least) {
		return 0, fmt.Errorf("amplitude: distance %v m of the indication: want at least %v m, %v near-field lengths", distance, least*probe.NearField(), least)
	}
	if !number.Finite(level) {
		return 0, fmt.Errorf("amplitude: level %v dB: want a finite value", level)
	}
	known, err := Echo(probe, reference.Reflector, reference.Distance)
	if err != nil {
		return 0, fmt.Errorf("amplitude: reference: %w", err)
	}
	if t != nil {
		if err := t.check(); err != nil {
			return 0, err
		}
		level += t.SurfaceDB + 2*t.PartAttenuation*distance - 2*t.BlockAttenuation*reference.Distance
	}
	want := known * sizing.Ratio(level)
	// The echo of a disc grows to a maximum at the first Fresnel zone of the beam.
	low, high := 0.0, 0.0
	for step, echo := 1.0/64, 0.0; ; high += step {
		next := discEcho(a, high+step)
		if next < echo || high+step > 2 {
			return 0, fmt.Errorf("amplitude: level of %.3g dB at %v m is above a disc as wide as the beam: %w", level, distance, ErrNoEquivalent)
		}
		if next >= want {
			low, high = high, high+step
			break
		}
		echo = next
	}
	for range 40 {
		if g := (low + high) / 2; discEcho(a, g) < want {
			low = g
		} else {
			high = g
		}
	}
	return (low + high) / 2 * probe.Diameter, nil
}

// equivalence is (√2/π)^½: equal echoes of a disc and of a side-drilled hole far from the probe
// give the diameter of the disc as equivalence·√(λ·√(hole·distance)). ISO 16811 prints 0.67 (from
// memory).
var equivalence = math.Sqrt(math.Sqrt2 / math.Pi)

// FlatHole returns the flat-bottomed hole with the same echo at the same distance in m, far from
// the probe. Its diameter is 0.671·√(λ·√(d·s)), with the diameter d of the side-drilled hole, the
// distance s and the wavelength λ in m.
//
// The relation wants d of at least 2λ, and s of at least 5d (ISO 16811, from memory). It does not
// depend on the probe, and holds from about three near-field lengths on.
func (h SideHole) FlatHole(distance, wavelength float64) (FlatHole, error) {
	if !number.Positive(wavelength) {
		return FlatHole{}, fmt.Errorf("amplitude: wavelength %v m: want a finite value above 0", wavelength)
	}
	if err := h.check(wavelength); err != nil {
		return FlatHole{}, err
	}
	if !(distance >= 5*h.Diameter) || math.IsInf(distance, 0) {
		return FlatHole{}, fmt.Errorf("amplitude: distance %v m: want at least %v m, five diameters, and finite", distance, 5*h.Diameter)
	}
	return FlatHole{equivalence * math.Sqrt(wavelength*math.Sqrt(h.Diameter*distance))}, nil
}

// SideHole returns the side-drilled hole with the same echo as a flat-bottomed hole: the inverse of
// [SideHole.FlatHole], with the same limits.
func (h FlatHole) SideHole(distance, wavelength float64) (SideHole, error) {
	if !number.Positive(h.Diameter) {
		return SideHole{}, fmt.Errorf("amplitude: flat-bottomed hole of %v m: want a finite diameter above 0", h.Diameter)
	}
	square := h.Diameter / equivalence
	square *= square
	side := SideHole{square / wavelength * square / wavelength / distance}
	if _, err := side.FlatHole(distance, wavelength); err != nil {
		return SideHole{}, err
	}
	return side, nil
}
