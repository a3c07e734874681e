// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/scan"
	"github.com/isochron-imaging/isochron/fmc/transmit"
)

// transmissions checks delay laws, sets of plane waves and codes.
func transmissions() []check {
	// delay returns the delay of an element in ns, for elements 0.6 mm apart in steel of 5920 m/s.
	delay := func(law func(fmc.Array, float64, []r3.Vec) ([]fmc.Event, error), n int, at r3.Vec, element int) func() (float64, error) {
		return func() (float64, error) {
			array, err := line(n)
			if err != nil {
				return 0, err
			}
			events, err := law(array, 5920, []r3.Vec{at})
			if err != nil {
				return 0, err
			}
			return events[0].Delays[element] * 1e9, nil
		}
	}
	sin15, cos15 := math.Sincos(15 * degree)
	fan := func(step float64) func() (float64, error) {
		return exactly(func() float64 { return transmit.Fan{To: step * degree, Count: 2}.Replica(1.184) })
	}
	width := func(alpha float64) func() (float64, error) {
		return exactly(func() float64 { return transmit.Fan{From: -alpha * degree, To: alpha * degree, Count: 20001}.Width(1) })
	}
	return []check{
		{"plane wave at 15°, second element", closedForm, "algebra, p·sin β/c", "26.23165998", "ns", 0, delay(transmit.PlaneWaves, 4, r3.Vec{X: sin15, Z: cos15}, 1)},
		{"plane wave at 15°, fourth element", closedForm, "algebra, p·sin β/c", "78.69497993", "ns", 0, delay(transmit.PlaneWaves, 4, r3.Vec{X: sin15, Z: cos15}, 3)},
		{"focus at (10, 30) mm, first element fires first", calculated, "mpmath, distance over speed", "0", "ns", 1e-6, delay(transmit.Focused, 4, mm(10, 30), 0)},
		{"focus at (10, 30) mm, second element", calculated, "mpmath, distance over speed", "33.76376", "ns", 0, delay(transmit.Focused, 4, mm(10, 30), 1)},
		{"focus at (10, 30) mm, fourth element", calculated, "mpmath, distance over speed", "96.1153", "ns", 0, delay(transmit.Focused, 4, mm(10, 30), 3)},
		{"source 10 mm behind, first of eight less fourth", calculated, "mpmath, distance over speed", "36.08483", "ns", 2e-5, func() (float64, error) {
			a, err := delay(transmit.Diverging, 8, mm(0, -10), 0)()
			if err != nil {
				return 0, err
			}
			b, err := delay(transmit.Diverging, 8, mm(0, -10), 3)()
			return a - b, err
		}},
		{"source 10 mm behind at x = 3 mm, first element", calculated, "mpmath, distance over speed", "200.16880", "ns", 0, delay(transmit.Diverging, 8, mm(3, -10), 0)},
		{"plane waves for 38.1 mm, f-number 1.75, λ 0.296 mm", published, "Montaldo 2009, 75 waves used", "75", "", 0, func() (float64, error) {
			alpha := math.Asin(1 / (2 * 1.75))
			f, err := transmit.NewFan(-alpha, alpha, 0.296, 38.1)
			return float64(f.Count), err
		}},
		{"ghost of waves 1° apart, λ 1.184 mm", closedForm, "algebra, λ/Δsin β", "67.842", "mm", 0, fan(1)},
		{"ghost of waves 2° apart, λ 1.184 mm", closedForm, "algebra, λ/Δsin β", "33.926", "mm", 0, fan(2)},
		{"6 dB width of plane waves to ±15°", closedForm, "algebra, 1.206709/(2·sin α)", "2.331183", "λ", 0, width(15)},
		{"6 dB width of plane waves to ±45°", closedForm, "algebra, 1.206709/(2·sin α)", "0.853272", "λ", 0, width(45)},
		{"noise of a decoded matrix, Hadamard code of 16", closedForm, "Harwit 1979, 10·lg N, from memory", "-12.041", "dB", 0.1, codeNoise},
		{"pairs of a square array of 16 × 16, half matrix", closedForm, "algebra, N(N + 1)/2", "32896", "", 0, exactly(func() float64 { return float64(len(fmc.HalfPairs(256))) })},
		{"scan round a pipe, radius 57.15 mm: circumference", closedForm, "algebra, 2πr", "359.0840", "mm", 0, exactly(func() float64 { return scan.Pipe{Radius: 57.15e-3}.Circumference() * 1e3 })},
		{"scan round a pipe, arc of a quarter at 7 mm below", closedForm, "algebra, π/2·(r − d)", "78.7754", "mm", 0, func() (float64, error) {
			p := scan.Pipe{Radius: 57.15e-3}
			l, err := p.Length(0, p.Circumference()/4, 7e-3)
			return l * 1e3, err
		}},
	}
}

// line returns an array of n elements of 5 MHz, 0.6 mm apart, in the middle of the axes.
func line(n int) (fmc.Array, error) {
	return fmc.LinearArray(n, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
}

// codeNoise returns the noise of a matrix that is decoded from noise, in dB of the noise of a
// trace.
func codeNoise() (float64, error) {
	const n = 16
	events, err := transmit.Hadamard(n)
	if err != nil {
		return 0, err
	}
	array, err := line(n)
	if err != nil {
		return 0, err
	}
	c, err := fmc.New(fmc.Capture{Array: array, Events: events, Pairs: fmc.EventPairs(n, n), Samples: 256, SampleRate: 50e6})
	if err != nil {
		return 0, err
	}
	random := rand.New(rand.NewPCG(7, 8))
	for i := range c.Data {
		c.Data[i] = float32(random.NormFloat64())
	}
	back, _, err := transmit.Decode(context.Background(), c, nil)
	if err != nil {
		return 0, err
	}
	power := 0.0
	for _, v := range back.Data {
		power += float64(v) * float64(v) / float64(len(back.Data))
	}
	return 10 * math.Log10(power), nil
}
