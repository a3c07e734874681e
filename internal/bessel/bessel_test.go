// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package bessel

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// series returns J of order n at z by its power series.
func series(n int, z float64) float64 {
	term, sum := 1.0, 0.0
	for k := 1; k <= n; k++ {
		term *= z / 2 / float64(k)
	}
	for k := 1; k < 60; k++ {
		sum += term
		term *= -z * z / 4 / float64(k*(k+n))
	}
	return sum
}

// TestBessel compares with the power series for small arguments, also at a zero of the order 0, and
// with the functions of the standard library for large arguments.
func TestBessel(t *testing.T) {
	j := make([]float64, 61)
	for _, z := range []float64{1e-7, 0.3, 1, 2.404825557695773, 5.520078110286311} {
		J(j, z)
		for n, got := range j {
			want := series(n, z)
			check.Within(t, "J", got, want, 3e-15+1e-13*math.Abs(want))
		}
	}
	j = make([]float64, 381)
	for _, z := range []float64{20, 40, 120, 155, 320} {
		J(j, z)
		for n, got := range j {
			want := math.Jn(n, z)
			check.Within(t, "J", got, want, 2e-15+1e-12*math.Abs(want))
		}
	}
	J(j[:2], 3)
	check.Within(t, "J of order 1", j[1], math.J1(3), 0)
	h := make([]complex128, 41)
	for _, z := range []float64{60, 90, 3000} {
		Hankel(h, complex(z, 0))
		for n, got := range h {
			want := complex(math.Jn(n, z), math.Yn(n, z))
			check.Within(t, "H", cmplx.Abs(got-want), 0, 1e-12)
		}
	}
	// Above the real axis: the recurrence of the derivatives, H0' = -H1, by a difference.
	const step = 1e-4
	up, down := make([]complex128, 2), make([]complex128, 2)
	z := complex(50, 7)
	Hankel(h, z)
	Hankel(up, z+step)
	Hankel(down, z-step)
	slope := (up[0] - down[0]) / (2 * step)
	check.Within(t, "derivative of H0", cmplx.Abs(slope/h[1]+1), 0, 1e-8)
}
