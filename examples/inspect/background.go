// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

const (
	aroundDepth = 1.5e-3 // of the pixels that make a background, in m
	fewest      = 200    // pixels that make one
)

// stands reports whether an indication stands out of its background as the options ask. A
// Rayleigh-distributed amplitude, as speckle has, exceeds k times its median with a
// probability of 2^(-k²): 12 dB, k = 4, once in 65,536 spots.
func (in *inspection) stands(e *tfm.Envelope, f sizing.Indication) bool {
	if in.options.background == 0 {
		return true
	}
	level, ok := background(e, f)
	return !ok || f.Amplitude >= level*sizing.Ratio(in.options.background)
}

// background returns the median amplitude at the depth of an indication, without the
// indication and its surroundings; ok is false where too few pixels are left to tell.
func background(e *tfm.Envelope, f sizing.Indication) (median float64, ok bool) {
	width := f.ExtentX[1] - f.ExtentX[0]
	from, to := f.ExtentX[0]-width, f.ExtentX[1]+width
	var values []float32
	for row := range e.Rows {
		if math.Abs(e.Y(row)-f.Z) > aroundDepth {
			continue
		}
		for col := range e.Cols {
			v := e.Data[row*e.Cols+col]
			if x := e.X(col); v > 0 && (x < from || x > to) { // 0: no ray or no sample
				values = append(values, v)
			}
		}
	}
	if len(values) < fewest {
		return 0, false
	}
	slices.Sort(values)
	return float64(values[len(values)/2]), true
}
