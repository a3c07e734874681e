// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/blas/blas32"
)

// fir is the filter y[n] = Σ taps[j]·x[n+j−origin], where x is zero beyond the
// record.
type fir struct {
	taps   []float32
	origin int
}

// maxTaps bounds a filter. A trace of 2,048 samples takes 0.1 ns a sample and
// tap here, where transforms that do not wrap around take 64 µs, as long as 300
// taps; filters for an array have 50 to 150.
const maxTaps = 8193

// run filters the trace in place, tap by tap: each adds its multiple of the
// shifted trace, at the speed of gonum's vector kernel.
func (f *fir) run(trace, spare []float32) {
	copy(spare, trace)
	clear(trace)
	n := len(trace)
	for j, h := range f.taps {
		shift := j - f.origin
		from, to := max(0, -shift), min(n, n-shift)
		if from < to {
			blas32.Axpy(h, vector(spare[from+shift:to+shift]), vector(trace[from:to]))
		}
	}
}

// response returns the output for exp(2πi·f·t) over that input, at f in units
// of the sample rate.
func (f *fir) response(frequency float64) complex128 {
	sum := 0i
	for j, h := range f.taps {
		sum += complex(float64(h), 0) * cmplx.Exp(complex(0, 2*math.Pi*frequency*float64(j-f.origin)))
	}
	return sum
}
