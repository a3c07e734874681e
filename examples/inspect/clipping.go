// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"

	"github.com/isochron-imaging/isochron/fmc"
)

// fullScaleOf returns the modulus of a sample at which the receiver of a capture clips: the
// largest modulus, where a trace holds it for longer than the top of a wave would. It returns 0
// where no trace does.
func fullScaleOf(c *fmc.Capture) float32 {
	full, whole := float32(0), true
	for _, v := range c.Data {
		full = max(full, v, -v)
		whole = whole && v == float32(math.Round(float64(v)))
	}
	if full == 0 {
		return 0
	}
	// The extremes of two's complement differ by one unit: by 4e-5 of 15 bits and a sign.
	share, rounding := 4e-5, 0.0
	if whole {
		share, rounding = 1/float64(full), 0.5/float64(full)
	}
	// The crest of a wave is within a share r of its height for an angle of ±√(2r).
	step := 2 * math.Pi * c.Array.CentreFrequency / c.SampleRate // angle from sample to sample
	longest := max(2, int(1+2*math.Sqrt(2*(share+rounding))/step))
	least := float32(float64(full) * (1 - share))
	for _, trace := range c.Traces() {
		run, sign := 0, float32(1)
		for _, v := range trace {
			if v*sign < 0 {
				run, sign = 0, -sign
			}
			if v*sign < least {
				run = 0
				continue
			}
			if run++; run > longest {
				return least
			}
		}
	}
	return 0
}
