// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package transmit

import (
	"math"
	"math/rand/v2"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// The arrays, media and samples of these tests are invented.

// linear returns n elements, 0.6 mm apart.
func linear(n int) fmc.Array {
	return check.Must(fmc.LinearArray(n, 0.6e-3,
		fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
}

// blank returns the full matrix of n elements, all zeros.
func blank(n, samples int) *fmc.Capture {
	return check.Must(fmc.New(fmc.Capture{
		Array: linear(n), Pairs: fmc.FullPairs(n), Samples: samples, SampleRate: 50e6,
		FirstSample: -1.3e-6,
	}))
}

// noise returns a full matrix of Gaussian noise of unit variance.
func noise(seed uint64, n, samples int) *fmc.Capture {
	c, rng := blank(n, samples), rand.New(rand.NewPCG(seed, 3))
	for i := range c.Data {
		c.Data[i] = float32(rng.NormFloat64())
	}
	return c
}

// pulse returns a Gaussian tone at 5 MHz of the given relative bandwidth at half its height,
// centred on t = 0.
func pulse(t, bandwidth float64) float64 {
	width := 2 * math.Sqrt(math.Ln2) / (math.Pi * 5e6 * bandwidth) // of exp(-t²/width²)
	return math.Exp(-t*t/(width*width)) * math.Cos(2*math.Pi*5e6*t)
}

// echoTime returns the time of the echo of pair i→j in c, near the middle of the record.
func echoTime(c *fmc.Capture, i, j int) float64 {
	return c.Time(c.Samples/2) + 37e-9*float64(i) - 21.7e-9*float64(j)
}

// echoes returns a full matrix of n elements with a pulse in each trace.
func echoes(n, samples int) *fmc.Capture {
	c := blank(n, samples)
	for pair, trace := range c.Traces() {
		for k := range trace {
			trace[k] = float32(pulse(c.Time(k)-echoTime(c, pair.Tx, pair.Rx), 0.6))
		}
	}
	return c
}

// largest returns the largest magnitude of samples.
func largest(samples []float32) float64 {
	peak := 0.0
	for _, v := range samples {
		peak = max(peak, math.Abs(float64(v)))
	}
	return peak
}

// difference returns the largest difference of two samples, divided by the largest sample of want.
// It is NaN if the lengths differ or a sample is NaN.
func difference(got, want []float32) float64 {
	if len(got) != len(want) {
		return math.NaN()
	}
	most := 0.0
	for i := range got {
		d := math.Abs(float64(got[i]) - float64(want[i]))
		if !(d <= most) {
			most = d
		}
	}
	return most / largest(want)
}

// randomEvents returns events with random weights, and random delays up to the given number of
// samples, whole or not.
func randomEvents(seed uint64, events, n int, samples float64, whole bool) []fmc.Event {
	rng := rand.New(rand.NewPCG(seed, 5))
	var list []fmc.Event
	for range events {
		e := silent(n)
		for i := range n {
			delay := (2*rng.Float64() - 1) * samples
			if whole {
				delay = math.Round(delay)
			}
			e.Delays[i], e.Weights[i] = delay/50e6, rng.NormFloat64()
		}
		list = append(list, e)
	}
	return list
}

// alone returns an event for each of the listed elements of an array of n. The element fires alone.
func alone(n int, elements ...int) []fmc.Event {
	var events []fmc.Event
	for _, e := range elements {
		event := silent(n)
		event.Weights[e] = 1
		events = append(events, event)
	}
	return events
}
