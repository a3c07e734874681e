// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package exact_test

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge/exact"
)

// A solver of one refraction in a section is tested against the problems that it can solve. It
// narrows the range of the surface in which the time has its minimum. If it stops too early, at a
// tenth of a millimetre, the problems show the error.
func Example() {
	solve := func(p exact.Problem, stop float64) float64 {
		surface := p.Crossings[0].Surface
		low, _ := surface.Locate(p.From)
		high, _ := surface.Locate(p.To)
		if low > high {
			low, high = high, low
		}
		for high-low > stop {
			a, b := low+(high-low)*0.382, low+(high-low)*0.618
			if p.Through(surface.At(a, 0).P) < p.Through(surface.At(b, 0).P) {
				high = b
			} else {
				low = a
			}
		}
		return p.Through(surface.At((low+high)/2, 0).P)
	}
	for _, stop := range []float64{1e-9, 1e-4} {
		tried, passed, worst := 0, 0, 0.0
		for _, p := range exact.Problems() {
			if len(p.Crossings) != 1 || p.Crossings[0].Reflects || p.Everywhere || !flat(p) {
				continue
			}
			tried++
			seconds := solve(p, stop)
			if p.Check(seconds) == nil {
				passed++
			}
			worst = max(worst, math.Abs(seconds-p.Seconds))
		}
		fmt.Printf("to %.0e m: all of them right is %v, off by more than 1 ps is %v\n", stop,
			passed == tried, worst > 1e-12)
	}
	// Output:
	// to 1e-09 m: all of them right is true, off by more than 1 ps is false
	// to 1e-04 m: all of them right is false, off by more than 1 ps is true
}

// flat reports whether a problem lies in the section y = 0.
func flat(p exact.Problem) bool {
	return p.Crossings[0].Surface.Extruded() && p.From == r3.Vec{X: p.From.X, Z: p.From.Z} &&
		p.To == r3.Vec{X: p.To.X, Z: p.To.Z}
}
