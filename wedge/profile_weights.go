// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

// weights returns the derivative of the depth z at x (m) with respect to the depth of each point
// of the profile. The spline is linear in the depths: z(x) = Σ weight·depth. The weights add up
// to 1. Away from x they alternate in sign. At equal distances of the points they shrink by the
// factor 0.27 from one point to the next. If x is not finite, the weights next to x are NaN.
func (p *profile) weights(x float64) []float64 {
	n := len(p.x)
	weights := make([]float64, n)
	b := basisAt(p.x, x)
	weights[b.first], weights[b.first+1] = b.factors[0][0], b.factors[0][2]
	// The slopes m at the points solve a symmetric system S·m = r. The system says that the second
	// derivative is continuous, and 0 at both ends. A span of length h adds 3·(difference of z)/h²
	// to the right side r at both of its points. The slopes enter z(x) as g·m with the factors g of
	// the Hermite basis. Since g·m = (S⁻¹·g)·r, one solution a = S⁻¹·g, the adjoint, gives the
	// weights of all depths.
	adjoint, diagonal := make([]float64, n), make([]float64, n)
	adjoint[b.first], adjoint[b.first+1] = b.factors[0][1], b.factors[0][3]
	for i := range p.final {
		inverse := 1 / (p.x[i+1] - p.x[i])
		diagonal[i] += 2 * inverse
		diagonal[i+1] = 2 * inverse
		share := inverse / diagonal[i]
		diagonal[i+1] -= share * inverse
		adjoint[i+1] -= share * adjoint[i]
	}
	adjoint[p.final] /= diagonal[p.final]
	for i := p.final - 1; i >= 0; i-- {
		inverse := 1 / (p.x[i+1] - p.x[i])
		adjoint[i] = (adjoint[i] - inverse*adjoint[i+1]) / diagonal[i]
		step := 3 * inverse * inverse * (adjoint[i] + adjoint[i+1])
		weights[i] -= step
		weights[i+1] += step
	}
	return weights
}
