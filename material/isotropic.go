// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Isotropic is a homogeneous isotropic medium without attenuation.
type Isotropic struct {
	Density      float64 // kg/m³, finite and above 0
	Longitudinal float64 // speed of longitudinal waves in m/s, finite and above 0
	Transverse   float64 // speed of transverse waves in m/s, below Longitudinal·√3/2; 0 for a fluid
}

// Validate returns an error that names the first field outside its range. The upper limit of
// Transverse follows from a bulk modulus above 0.
func (m Isotropic) Validate() error {
	if err := checkDensity(m.Density); err != nil {
		return err
	}
	if !number.Positive(m.Longitudinal) {
		return fmt.Errorf("material: longitudinal speed %v m/s: want a finite value above 0",
			m.Longitudinal)
	}
	limit := m.Longitudinal * math.Sqrt(3) / 2
	if !(m.Transverse >= 0 && m.Transverse < limit) {
		return fmt.Errorf("material: transverse speed %v m/s: "+
			"want 0 (a fluid) up to, not including, %.6g m/s (√3/2 of the longitudinal speed)",
			m.Transverse, limit)
	}
	return nil
}

// checkDensity returns an error for a density in kg/m³ that is not finite and above 0.
func checkDensity(density float64) error {
	if !number.Positive(density) {
		return fmt.Errorf("material: density %v kg/m³: want a finite value above 0", density)
	}
	return nil
}

// Fluid reports whether m carries longitudinal waves only.
func (m Isotropic) Fluid() bool { return m.Transverse == 0 }

// Speed returns the speed of mode in m/s. The speed of T in a fluid is 0. The speed of a mode other
// than L and T is NaN.
func (m Isotropic) Speed(mode Mode) float64 {
	switch mode {
	case L:
		return m.Longitudinal
	case T:
		return m.Transverse
	}
	return math.NaN()
}
