// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition

import (
	"fmt"

	"github.com/isochron-imaging/isochron/fmc"
)

// Average is the mean of frames that were captured one after the other while nothing moved.
// Signals that repeat stay as they are. Noise that is independent from frame to frame falls by
// 10·log10(n) dB for n frames. Noise that repeats does not fall. The most important such noise
// comes from the grains of the metal.
//
// Sums are float64. For n frames the error of the mean is below n·1e-16 of the largest sample, plus
// the rounding to float32. For integers below 2^24, such as the samples of digitisers, the sum is
// exact up to 2^29 frames. An Average takes 8 bytes a sample. It is not safe for concurrent use.
type Average struct {
	format
	sums  []float64
	count int
}

// NewAverage returns the average of no frames yet, for captures like the given one. The samples of
// that capture are not added.
func NewAverage(like *fmc.Capture) (*Average, error) {
	f, err := formatOf(like)
	if err != nil {
		return nil, err
	}
	return &Average{format: f, sums: make([]float64, len(f.pairs)*f.samples)}, nil
}

// Add adds a frame. It does not allocate. After an error the average is unchanged.
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

// Mean writes the mean of the frames to the samples of dst. It wants at least one frame. Dst may be
// one of the frames. Mean does not allocate, and more frames may be added after it.
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

// Reset removes all frames, so that the memory serves the next average.
func (a *Average) Reset() {
	clear(a.sums)
	a.count = 0
}
