// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import "fmt"

// Anisotropic is a homogeneous anisotropic solid without attenuation.
type Anisotropic struct {
	Density   float64   // kg/m³, finite and above 0
	Stiffness Stiffness // Pa, valid by [Stiffness.Validate]
}

// The range of the largest stiffness divided by the density, in m²/s². Bulk waves in solids have
// speeds from 10 m/s to 2·10⁴ m/s. Far outside the range float64 would overflow.
const (
	leastSpeedSquared    = 1e-20
	greatestSpeedSquared = 1e20
)

// Validate returns an error that names the first field outside its range, or a ratio of the largest
// stiffness to the density outside 1e-20 to 1e20 m²/s².
func (m Anisotropic) Validate() error {
	if err := checkDensity(m.Density); err != nil {
		return err
	}
	if err := m.Stiffness.Validate(); err != nil {
		return err
	}
	c := m.Stiffness
	largest := max(c[0][0], c[1][1], c[2][2], c[3][3], c[4][4], c[5][5])
	if q := largest / m.Density; !(q >= leastSpeedSquared && q <= greatestSpeedSquared) {
		return fmt.Errorf(
			"material: stiffness %v Pa at density %v kg/m³: want a ratio of %g to %g m²/s²",
			largest, m.Density, leastSpeedSquared, greatestSpeedSquared)
	}
	return nil
}

// Anisotropic returns m in the form of an anisotropic solid. The error reports an invalid m, or a
// fluid, whose stiffness has eigenvalues 0.
func (m Isotropic) Anisotropic() (Anisotropic, error) {
	if err := m.Validate(); err != nil {
		return Anisotropic{}, err
	}
	c11 := m.Density * m.Longitudinal * m.Longitudinal
	c44 := m.Density * m.Transverse * m.Transverse
	a := Anisotropic{m.Density, Cubic{C11: c11, C12: c11 - 2*c44, C44: c44}.Stiffness()}
	return a, a.Validate()
}
