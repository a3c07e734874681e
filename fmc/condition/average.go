// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"

	"github.com/isochron-imaging/isochron/fmc"
)

// Average is the mean of frames that were captured one after the other with
// nothing moved between. What repeats stays as it is; noise that is independent
// from frame to frame falls by the root of their number, 10·log10(n) dB. Noise
// that repeats, that of the grains of the metal above all, does not fall.
//
// Sums are float64: of n frames the mean errs by less than n·1e-16 of the largest
// sample, besides the rounding to float32; of whole numbers below 2^24, as
// digitisers deliver them, the sum is exact up to 2^29 frames. An Average holds 8
// bytes a sample, and is not safe for concurrent use.
type Average struct {
	format
	sums  []float64
	count int
}

// NewAverage returns the average of no frames yet, for captures like the given
// one, whose samples do not count.
func NewAverage(like *fmc.Capture) (*Average, error) {
	f, err := formatOf(like)
	if err != nil {
		return nil, err
	}
	return &Average{format: f, sums: make([]float64, len(f.pairs)*f.samples)}, nil
}

// Add adds a frame. It allocates nothing; on an error the average is unchanged.
func (a *Average) Add(frame *fmc.Capture) error {
	if err := a.check("frame", frame); err != nil {
		return err
	}
	if err := frame.CheckSamples(); err != nil {
		return err
	}
	for i, v := range frame.Data {
		a.sums[i] += float64(v)
	}
	a.count++
	return nil
}

// Count returns the number of frames.
func (a *Average) Count() int { return a.count }

// Mean writes the mean of the frames, at least one, to the samples of dst,
// which may be one of them. It allocates nothing and leaves the average as it
// is, ready for more frames.
func (a *Average) Mean(dst *fmc.Capture) error {
	if a.count == 0 {
		return fmt.Errorf("condition: average of 0 frames: want at least 1")
	}
	if err := a.check("dst", dst); err != nil {
		return err
	}
	for i, sum := range a.sums {
		dst.Data[i] = float32(sum / float64(a.count))
	}
	return nil
}

// Reset forgets all frames.
func (a *Average) Reset() {
	clear(a.sums)
	a.count = 0
}
