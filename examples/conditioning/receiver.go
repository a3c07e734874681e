// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"io"
	"math"
	"math/rand/v2"

	"github.com/isochron-imaging/isochron/fmc"
)

// The times of the block's echoes in s: 40 mm of aluminium at 6,320 m/s.
const (
	deadZone = 2.2e-6
	backWall = 12.7e-6
)

// fullScale is the largest sample of the receiver.
const fullScale = 32767

// newReceiver returns a source of frames of a capture, with the faults of a receiver: an offset,
// noise, and interference of a power supply at 0.4 MHz. The faults are invented.
func newReceiver(clean *fmc.Capture, frames int) fmc.FrameSource {
	c := *clean
	c.Data = make([]float32, len(clean.Data))
	next, rng := fmc.Frame{Capture: &c}, rand.New(rand.NewPCG(1, 2))
	return func(context.Context) (fmc.Frame, error) {
		if next.Index == frames {
			return fmc.Frame{}, io.EOF
		}
		for i, v := range clean.Data {
			t := c.Time(i % c.Samples)
			v := float64(v) + 500 + 400*math.Sin(2*math.Pi*0.4e6*t) + 60*rng.NormFloat64()
			c.Data[i] = float32(min(max(math.Round(v), -fullScale), fullScale))
		}
		frame := next
		next.Index++
		return frame, nil
	}
}

// below returns the level of the faults of a trace as a drop from the echo of the back wall, in dB.
// The faults are the root mean square of the difference between the trace and the wanted trace.
func below(c *fmc.Capture, trace, want []float32) float64 {
	sum, n, echo := 0.0, 0, 0.0
	for k, v := range trace {
		t := c.Time(k)
		if t > deadZone+0.5e-6 {
			d := float64(v - want[k])
			sum += d * d
			n++
		}
		if math.Abs(t-backWall) < 1e-6 {
			echo = max(echo, math.Abs(float64(want[k])))
		}
	}
	return 20 * math.Log10(echo/math.Sqrt(sum/float64(n)))
}
