// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// DecibelsPerNeper is 20·log10(e), the fall in dB of an amplitude that falls by the factor e (by
// 1 Np). A coefficient in Np/m times DecibelsPerNeper is the coefficient in dB/m.
const DecibelsPerNeper = 20 / math.Ln10

// A PowerLaw is an attenuation coefficient that is a power of the frequency f:
//
//	α(f) = Alpha·(f/Frequency)^Exponent
//
// The exponent is 2 for the losses of simple fluids and for stochastic scattering by grains. It is
// 4 for Rayleigh scattering, and near 1 for the hysteresis losses of metals and plastics.
type PowerLaw struct {
	Alpha     float64 // coefficient of amplitude at Frequency in Np/m, finite, 0 or above
	Frequency float64 // reference frequency in Hz, finite and above 0
	Exponent  float64 // finite, 0 or above
}

// Attenuation is the law by which the amplitude of a plane wave of one mode falls along its path.
// It is a sum of power laws, because measurements on solids are fitted by such sums (Ono, Appl.
// Sci. 10, 2020, 2230 and 5265: terms f, f², f³ and f⁴). A nil law is a medium without
// attenuation. Goroutines may share an Attenuation that none of them changes.
//
// The law leaves out beam spread and the losses at boundaries.
type Attenuation []PowerLaw

// Validate returns an error that names the first term and field outside its range.
func (a Attenuation) Validate() error {
	for i, term := range a {
		var fault string
		switch {
		case !(term.Alpha >= 0) || math.IsInf(term.Alpha, 0):
			fault = fmt.Sprintf("coefficient %v Np/m: want a finite value, 0 or above", term.Alpha)
		case !number.Positive(term.Frequency):
			fault = fmt.Sprintf("reference frequency %v Hz: want a finite value above 0",
				term.Frequency)
		case !(term.Exponent >= 0) || math.IsInf(term.Exponent, 0):
			fault = fmt.Sprintf("exponent %v: want a finite value, 0 or above", term.Exponent)
		}
		if fault != "" {
			return fmt.Errorf("material: attenuation term %d: %s", i, fault)
		}
	}
	return nil
}

// Nepers returns the attenuation coefficient of amplitude in Np/m at frequency (Hz, finite, 0 or
// above). It is NaN for a frequency outside its range.
func (a Attenuation) Nepers(frequency float64) float64 {
	if !(frequency >= 0) || math.IsInf(frequency, 0) {
		return math.NaN()
	}
	var sum float64
	for _, term := range a {
		if term.Alpha == 0 {
			continue // the power of the frequency may be infinite, and 0 times infinity is NaN
		}
		sum += term.Alpha * math.Pow(frequency/term.Frequency, term.Exponent)
	}
	return sum
}

// Decibels returns the attenuation coefficient in dB/m, a positive number, at frequency (Hz,
// finite, 0 or above). It is NaN for a frequency outside its range.
func (a Attenuation) Decibels(frequency float64) float64 {
	return DecibelsPerNeper * a.Nepers(frequency)
}

// Amplitude returns the remaining fraction exp(−α·path) of the amplitude, at frequency (Hz) after
// path (m). For an echo, path is the way out and back. The remaining fraction of the energy is the
// square of the result. The result is NaN for a frequency or a path that is not finite or is below
// 0.
func (a Attenuation) Amplitude(frequency, path float64) float64 {
	if !(path >= 0) || math.IsInf(path, 0) {
		return math.NaN()
	}
	return math.Exp(-a.Nepers(frequency) * path)
}
