// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

const (
	aroundDepth = 1.5e-3 // largest distance in depth from the indication, in m
	fewest      = 200    // smallest number of pixels in a background
)

// exceedsBackground reports whether an indication exceeds its background by the level of the
// settings. The amplitude of speckle is Rayleigh-distributed. It exceeds k times its median with a
// probability of 2^(-k²). For 12 dB, k = 4, this is once in 65,536 spots.
func (r *reader) exceedsBackground(f *sizing.Indication) bool {
	if r.settings.Background == 0 {
		return true
	}
	level, ok := background(r.envelope, f)
	return !ok || f.Amplitude >= level*sizing.Ratio(r.settings.Background)
}

// background returns the median amplitude of the pixels near the depth of an indication. The
// indication and its surroundings do not count. If too few pixels are left, ok is false.
func background(e *tfm.Envelope, f *sizing.Indication) (median float64, ok bool) {
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
