// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
)

// TestGrid compares echoes at random times, which pass over the coarse grid, with the closed form of the
// pulse. A wide pulse has low frequencies that the band cuts off. So it is compared with the sum of its
// waves, and it is not 0 at the ends of a transform, where the interpolation is less exact.
func TestGrid(t *testing.T) {
	for _, row := range []struct {
		name            string
		bandwidth, rate float64
		cut             bool // by the frequency 0
	}{
		{"narrow", 0.3, 47e6, false},
		{"four samples", 0.4, 41e6, false},
		{"few samples", 0.4, 17e6, false},
		{"no coarse grid", 0.4, 11e6, false},
		{"wide", 0.9, 58e6, true},
		{"widest", 1.2, 100e6, true},
	} {
		t.Run(row.name, func(t *testing.T) {
			const samples = 301
			p := newPulse(fmc.Array{CentreFrequency: 3e6, Bandwidth: row.bandwidth})
			reach, _ := p.reach()
			g := newGrid(p, samples, row.rate, reach, reach)
			b := newBand(p, g.length*g.stride, row.rate)
			s := newSum(&g, &b)
			spectrum := make([]complex128, len(b.frequencies))
			for k := range spectrum {
				spectrum[k] = 1
			}
			pulse := func(at float64) float64 {
				if math.Abs(at) > reach {
					return 0
				}
				if !row.cut {
					x := math.Pi * p.deviation * at
					return math.Exp(-2*x*x) * math.Cos(2*math.Pi*p.centre*at)
				}
				sum := 0.0
				for k, f := range b.frequencies {
					sum += b.pulse[k] * math.Cos(2*math.Pi*f*at)
				}
				return sum
			}
			tolerance := 4e-5
			if row.cut {
				tolerance = 2e-3
			}
			random := rand.New(rand.NewPCG(7, 7))
			for range 20 {
				time := (random.Float64()*1.4 - 0.2) * samples / row.rate // some of them outside
				signal := make([]float64, samples)
				s.add(spectrum, nil, -2, time)
				s.finish(signal)
				for k, v := range signal {
					at := float64(k)/row.rate - time
					if math.Abs(at) < reach || !row.cut {
						if want := -2 * pulse(at); !(math.Abs(v-want) <= tolerance) {
							t.Fatalf("echo at %v s: sample %d is %v: want %v, stride %d", time, k, v, want, g.stride)
						}
					}
				}
			}
		})
	}
}
