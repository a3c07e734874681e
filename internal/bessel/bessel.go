// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package bessel computes Bessel functions of many orders at once. Function Jn of package math is
// wrong at the zeros of J0: for orders above the argument it divides by J0.
package bessel

import (
	"math"
	"math/cmplx"
)

// J sets dst to the Bessel functions J of the orders 0, 1, 2 and so on at z, for z of 0 or more and
// two orders or more.
//
// The recurrence over the orders is stable upwards as long as the order is below z. Above z, the
// ratio of neighbours is stable downwards, and J has no zero.
func J(dst []float64, z float64) {
	last := len(dst) - 1
	dst[0], dst[1] = math.J0(z), math.J1(z)
	turn := min(int(z)+1, last)
	for m := 1; m < turn; m++ {
		dst[m+1] = 2*float64(m)/z*dst[m] - dst[m-1]
	}
	// A ratio of 0 beyond these orders has no effect on orders that are above rounding.
	ratio := 0.0
	for m := max(last, turn+int(8*math.Cbrt(z))) + 16; m > turn; m-- {
		ratio = 1 / (2*float64(m)/z - ratio)
		if m <= last {
			dst[m] = ratio
		}
	}
	for m := turn + 1; m <= last; m++ {
		dst[m] *= dst[m-1]
	}
}

// Hankel sets dst to the Hankel functions of the first kind of the orders 0, 1, 2 and so on at z, for
// two orders or more. The modulus of z is at least 30 and above all orders, and its real and
// imaginary part are not negative. The orders 0 and 1 are sums of the asymptotic series.
func Hankel(dst []complex128, z complex128) {
	for order := range 2 {
		sum, term := complex128(0), complex128(1)
		for k := 1; k < 40 && cmplx.Abs(term) > 1e-18; k++ {
			sum += term
			odd := float64(2*k - 1)
			term *= complex(0, (float64(4*order*order)-odd*odd)/float64(8*k)) / z
		}
		phase := z - complex(math.Pi/4*float64(1+2*order), 0)
		dst[order] = cmplx.Sqrt(2/(math.Pi*z)) * cmplx.Exp(1i*phase) * sum
	}
	for m := 1; m+1 < len(dst); m++ {
		dst[m+1] = complex(2*float64(m), 0)/z*dst[m] - dst[m-1]
	}
}
