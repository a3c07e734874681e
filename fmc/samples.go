// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"fmt"
	"math"
)

// SampleError reports a sample that is NaN or Inf. The error of every function that takes samples
// wraps it, for errors.As.
type SampleError struct {
	Index  int  // index p of the pair
	Pair   Pair // the pair
	Sample int  // index k of the sample
	Value  float32
}

func (e *SampleError) Error() string {
	return fmt.Sprintf("fmc: sample %d of pair %d (%v) is %v: want a finite value",
		e.Sample, e.Index, e.Pair, e.Value)
}

// CheckSamples checks the length of Data, and that all samples are finite. It returns a
// [*SampleError] for the first sample that is not. Call CheckSamples after floating-point samples
// were written to Data. It allocates only if it fails.
func (c *Capture) CheckSamples() error {
	if err := c.checkLength(); err != nil {
		return err
	}
	for i, v := range c.Data {
		if math.Float32bits(v)&exponent == exponent {
			p, k := i/c.Samples, i%c.Samples
			return &SampleError{Index: p, Pair: c.Pairs[p], Sample: k, Value: v}
		}
	}
	return nil
}

// checkLength checks the length of Data.
func (c *Capture) checkLength() error {
	if want := len(c.Pairs) * c.Samples; len(c.Data) != want {
		return fmt.Errorf("fmc: %d samples in Data: want %d (%d pairs of %d samples)",
			len(c.Data), want, len(c.Pairs), c.Samples)
	}
	return nil
}

// checkSource is checkLength for a capture whose traces are to be copied. A template, which has no
// Data, is right too.
func (c *Capture) checkSource() error {
	if c.Data == nil {
		return nil
	}
	return c.checkLength()
}

// exponent masks the exponent bits of a float32. All of them are set only in NaN and Inf.
const exponent = 0x7f800000

// SetInt16 overwrites Data with samples of a digitiser, in the order of Data. Each sample becomes
// the float32 of the same value, which is exact. SetInt16 wants len(Data) samples. It does not
// allocate.
func (c *Capture) SetInt16(samples []int16) error {
	if len(samples) != len(c.Data) {
		return fmt.Errorf("fmc: %d int16 samples: want %d (%d pairs of %d samples)",
			len(samples), len(c.Data), len(c.Pairs), c.Samples)
	}
	for i, v := range samples {
		c.Data[i] = float32(v)
	}
	return nil
}
