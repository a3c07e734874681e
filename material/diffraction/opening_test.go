// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package diffraction

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestTransforms compares with the integral of √(1 - u²)·U_m(u)·exp(-iζu), over π·(-i)^m, by a sum
// in the angle, which converges exponentially.
func TestTransforms(t *testing.T) {
	for _, zeta := range []float64{-7, -0.4, 0, 1e-12, 0.4, 7} {
		for m, got := range transforms(6, zeta) {
			const nodes = 64
			sum := complex128(0)
			for k := 1; k < nodes; k++ {
				angle := math.Pi * float64(k) / nodes
				value := math.Sin(angle) * math.Sin(float64(m+1)*angle) * math.Pi / nodes
				sum += cmplx.Rect(value, -zeta*math.Cos(angle))
			}
			want := sum / math.Pi * cmplx.Pow(1i, complex(float64(m), 0))
			check.Within(t, "transform", cmplx.Abs(complex(got, 0)-want), 0, 1e-12)
		}
	}
}
