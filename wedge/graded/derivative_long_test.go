// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package graded

import "testing"

// TestDerivativesLong compares the derivatives by all parameters with differences. The steps of the rays
// are 1 mm long: for a derivative in which large terms cancel, 0.3 ns are left.
func TestDerivativesLong(t *testing.T) {
	for _, c := range append(derivativeCases,
		derivativeCase{"qL ends in the weld", qL, false, 1.2, mm(-25, 0), mm(-4, 12), nil, nil, 0.06e-9},
		derivativeCase{"qSV through a wedge", qSV, true, 1, mm(-40, -12), mm(14, 20), nil, nil, 0.6e-9},
		derivativeCase{"qL to qSV over a skip", qL, true, 1.1, mm(-45, -12), mm(6, 15), []Polarisation{qSV}, []int{0, 14}, 4e-9},
	) {
		t.Run(c.name, func(t *testing.T) {
			if c.skips == nil {
				c.parameters = nil
			}
			compareDerivatives(t, &c)
		})
	}
}
