// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"
)

// Isotropic is a homogeneous isotropic medium without loss.
type Isotropic struct {
	Density      float64 // kg/m³, finite and above 0
	Longitudinal float64 // speed of longitudinal waves in m/s, finite and above 0
	Transverse   float64 // speed of transverse waves in m/s; 0 for a fluid, else below Longitudinal·√3/2
}

// Validate reports the first field outside the range that its comment gives.
// The bound on Transverse is that of a positive bulk modulus.
func (m Isotropic) Validate() error {
	if !(m.Density > 0) || math.IsInf(m.Density, 0) {
		return fmt.Errorf("material: density %v kg/m³: want a finite value above 0", m.Density)
	}
	if !(m.Longitudinal > 0) || math.IsInf(m.Longitudinal, 0) {
		return fmt.Errorf("material: longitudinal speed %v m/s: want a finite value above 0", m.Longitudinal)
	}
	if limit := m.Longitudinal * math.Sqrt(3) / 2; !(m.Transverse >= 0 && m.Transverse < limit) {
		return fmt.Errorf("material: transverse speed %v m/s: want 0 (a fluid) up to, not including, %.6g m/s (√3/2 of the longitudinal speed)", m.Transverse, limit)
	}
	return nil
}

// Fluid reports whether m carries longitudinal waves only.
func (m Isotropic) Fluid() bool { return m.Transverse == 0 }

// Speed returns the speed of mode in m/s; it is 0 for T in a fluid, and NaN for a
// mode that is neither L nor T.
func (m Isotropic) Speed(mode Mode) float64 {
	switch mode {
	case L:
		return m.Longitudinal
	case T:
		return m.Transverse
	}
	return math.NaN()
}
