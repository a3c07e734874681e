// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package calibrate

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestCoverageLong holds the stated intervals to the truth in a thousand trials.
func TestCoverageLong(t *testing.T) { cover(t, 0, 1000, 93, 99) }

// TestFaceNoiseOfCapture adds white noise to a full-wave capture: a tenth of the echo of the floor
// at the last element. The changes of the results must have the size of the uncertainties.
func TestFaceNoiseOfCapture(t *testing.T) {
	r, arrivals := captured(t, "weld32")
	// Noise changes neither the speed nor the offset nor the oblique delay.
	options := &Options{Speed: Estimate{r.Coupling.Longitudinal, 1e-9}, Offset: Estimate{Uncertainty: 1e-15}, Oblique: 1e-15}
	quiet, err := Face(elementsOf(32, 0.6e-3), arrivals, options)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(19, 20))
	samples := slices.Clone(r.Capture.Data)
	t.Cleanup(func() { copy(r.Capture.Data, samples) })
	const rounds, noise = 8, 600
	var angle, height float64
	for range rounds {
		for k, v := range samples {
			r.Capture.Data[k] = v + float32(noise*rng.NormFloat64())
		}
		arrivals, err := Pick(r.Capture, nil)
		if err != nil {
			t.Fatal(err)
		}
		c, err := Face(elementsOf(32, 0.6e-3), arrivals, options)
		if err != nil {
			t.Fatal(err)
		}
		if !(math.Abs(c.Angle.Value-36*degree) <= 0.1*degree) || !(math.Abs(c.Heights[0].Value-6e-3) <= 0.05e-3) {
			t.Errorf("angle %.4f°, first element at %.4f mm: want 36° within 0.1°, 6 mm within 0.05 mm",
				c.Angle.Value/degree, c.Heights[0].Value*1e3)
		}
		angle += math.Pow((c.Angle.Value-quiet.Angle.Value)/c.Angle.Uncertainty, 2) / rounds
		height += math.Pow((c.Heights[0].Value-quiet.Heights[0].Value)/c.Heights[0].Uncertainty, 2) / rounds
		if c.RMS < 2e-9 {
			t.Errorf("residuals of %v s rms: the noise does nothing", c.RMS)
		}
	}
	// The mean of 8 squares has a standard deviation of 0.5.
	if !(angle >= 0.1 && angle <= 2.5) || !(height >= 0.1 && height <= 2.5) {
		t.Errorf("mean squares of the changes over their uncertainties %.2f (angle), %.2f (height): want about 1",
			angle, height)
	}
}
