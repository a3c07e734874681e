// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"
	"strings"
)

// DecibelsPerNeper is 20·log10(e): an amplitude that falls by 1 Np (by the
// factor e) falls by so many dB. A coefficient in Np/m times it is one in dB/m.
const DecibelsPerNeper = 20 / math.Ln10

// A PowerLaw is an attenuation coefficient that goes with a power of the
// frequency:
//
//	α(f) = Alpha·(f/Frequency)^Exponent
//
// The exponent is 2 for the losses of simple fluids and for stochastic
// scattering at grains, 4 for Rayleigh scattering, and near 1 for the
// hysteresis losses of metals and plastics.
type PowerLaw struct {
	Alpha     float64 // coefficient of amplitude at Frequency in Np/m, finite, 0 or above
	Frequency float64 // reference frequency in Hz, finite and above 0
	Exponent  float64 // finite, 0 or above
}

// Attenuation is the law by which a plane wave of one mode loses amplitude: a
// sum of power laws, as measurements on solids are fitted (Ono, Appl. Sci. 10,
// 2020, 2230 and 5265: terms f, f², f³ and f⁴). A nil law is a medium without
// loss. It may be shared between goroutines that only read it.
//
// Attenuation holds for the spreading-free amplitude of a plane wave; beam
// spread and the losses at boundaries come on top of it.
type Attenuation []PowerLaw

// Validate reports the first term and field out of its range.
func (a Attenuation) Validate() error {
	for i, term := range a {
		switch {
		case !(term.Alpha >= 0) || math.IsInf(term.Alpha, 0):
			return fmt.Errorf("material: attenuation term %d: coefficient %v Np/m: want a finite value, 0 or above", i, term.Alpha)
		case !(term.Frequency > 0) || math.IsInf(term.Frequency, 0):
			return fmt.Errorf("material: attenuation term %d: reference frequency %v Hz: want a finite value above 0", i, term.Frequency)
		case !(term.Exponent >= 0) || math.IsInf(term.Exponent, 0):
			return fmt.Errorf("material: attenuation term %d: exponent %v: want a finite value, 0 or above", i, term.Exponent)
		}
	}
	return nil
}

// Nepers returns the attenuation coefficient of amplitude at frequency (Hz,
// finite, 0 or above), in Np/m. It is NaN for a frequency out of range.
func (a Attenuation) Nepers(frequency float64) float64 {
	if !(frequency >= 0) || math.IsInf(frequency, 0) {
		return math.NaN()
	}
	var sum float64
	for _, term := range a {
		if term.Alpha == 0 {
			continue // whatever the power of the frequency, an infinite one too
		}
		sum += term.Alpha * math.Pow(frequency/term.Frequency, term.Exponent)
	}
	return sum
}

// Decibels returns the attenuation coefficient at frequency (Hz, finite, 0 or
// above), in dB/m. It is NaN for a frequency out of range.
func (a Attenuation) Decibels(frequency float64) float64 {
	return DecibelsPerNeper * a.Nepers(frequency)
}

// Amplitude returns the fraction of the amplitude that is left at frequency (Hz)
// after a path of so many metres, exp(−α·path): the whole way out and back for
// an echo. The fraction of the energy is its square. It is NaN for a frequency
// or a path that is not finite or below 0.
func (a Attenuation) Amplitude(frequency, path float64) float64 {
	if !(path >= 0) || math.IsInf(path, 0) {
		return math.NaN()
	}
	return math.Exp(-a.Nepers(frequency) * path)
}

// String returns the law in dB/m and MHz, such as "0.22 dB/m (f/1 MHz)^2".
func (a Attenuation) String() string {
	if len(a) == 0 {
		return "0 dB/m"
	}
	terms := make([]string, len(a))
	for i, term := range a {
		terms[i] = fmt.Sprintf("%.3g dB/m (f/%.3g MHz)^%.3g", DecibelsPerNeper*term.Alpha, term.Frequency/1e6, term.Exponent)
	}
	return strings.Join(terms, " + ")
}
