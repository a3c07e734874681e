// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge"
)

const water = 1480.0 // m/s, for invented scenes

// scene is an invented surface under 16 elements in water, 0.8 mm apart, at 4 MHz.
type scene struct {
	depth  func(x float64) float64 // m
	delay  float64                 // standard deviation of the delay of an element, s
	noise  float64                 // standard deviation, as a share of the highest front echo
	dead   []int
	clip   float64 // level at which samples clip, as a share of the highest front echo; 0 for none
	later  float64 // amplitude of a second front echo, as a share of the first
	inside float64 // amplitude of an echo from inside the part 3 µs later, as a share of the first
	seed   uint64
}

// capture returns the capture of a scene. The time of an echo is the least time over a fine scan of
// the surface, refined by the golden section; the pulse has a Gaussian envelope.
func (s scene) capture(t testing.TB) *fmc.Capture {
	t.Helper()
	const n, samples, rate = 16, 1280, 50e6
	array := check.Must(fmc.LinearArray(n, 0.8e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 4e6, Bandwidth: 0.6}))
	c := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(n), Samples: samples,
		SampleRate: rate, FirstSample: 5e-6}))
	random := rand.New(rand.NewPCG(s.seed, 1))
	delays := make([]float64, n)
	for i := range delays {
		delays[i] = s.delay * random.NormFloat64()
	}
	dead := make([]bool, n)
	for _, e := range s.dead {
		dead[e] = true
	}
	for p, pair := range c.Pairs {
		trace := c.Data[p*samples : (p+1)*samples]
		if !dead[pair.Tx] && !dead[pair.Rx] {
			time := s.leastLength(array.Elements[pair.Tx], array.Elements[pair.Rx])/water +
				delays[pair.Tx] + delays[pair.Rx]
			addPulse(c, trace, time, 1)
			addPulse(c, trace, 2*time, -s.later)
			addPulse(c, trace, time+3e-6, s.inside)
		}
		for k := range trace {
			v := float64(trace[k]) + s.noise*random.NormFloat64()
			if s.clip > 0 {
				v = max(-s.clip, min(s.clip, v))
			}
			trace[k] = float32(v)
		}
	}
	return c
}

// leastLength returns the shortest path between two elements over the surface.
func (s scene) leastLength(a, b r3.Vec) float64 {
	length := func(x float64) float64 {
		p := r3.Vec{X: x, Z: s.depth(x)}
		return r3.Norm(r3.Sub(p, a)) + r3.Norm(r3.Sub(p, b))
	}
	best := 0.0
	for k := range 401 {
		if x := -20e-3 + float64(k)*0.1e-3; k == 0 || length(x) < length(best) {
			best = x
		}
	}
	return length(golden(best-0.1e-3, best+0.1e-3, 1e-9, length))
}

// addPulse adds an echo to a trace of c.
func addPulse(c *fmc.Capture, trace []float32, time, amplitude float64) {
	fc := c.Array.CentreFrequency
	sigma := c.Array.Bandwidth * fc / math.Sqrt(8*math.Ln2)
	from, to := (time-2e-6-c.FirstSample)*c.SampleRate, (time+2e-6-c.FirstSample)*c.SampleRate
	for k := max(0, int(from)); k < min(len(trace), int(to)); k++ {
		t := c.Time(k) - time
		if d := math.Pi * sigma * t; math.Abs(d) < 5 {
			trace[k] += float32(amplitude * math.Exp(-2*d*d) * math.Cos(2*math.Pi*fc*t))
		}
	}
}

// depthOf returns the depth of a surface at x, by bisection.
func depthOf(s wedge.Surface, x float64) float64 {
	above, below := -50e-3, 50e-3
	for range 60 {
		if middle := (above + below) / 2; s.Depth(r3.Vec{X: x, Z: middle}) < 0 {
			above = middle
		} else {
			below = middle
		}
	}
	return above
}

// Invented surfaces; depths in m.

func tilted(x float64) float64 { return 12e-3 + 0.08*(x-1e-3) }

// pipe is a circle of 40 mm about x = 2 mm, whose top lies at 12 mm.
func pipe(x float64) float64 { return 52e-3 - math.Sqrt(40e-3*40e-3-(x-2e-3)*(x-2e-3)) }

// bore is a circle of 60 mm about x = -1 mm, whose lowest point lies at 13 mm.
func bore(x float64) float64 { return -47e-3 + math.Sqrt(60e-3*60e-3-(x+1e-3)*(x+1e-3)) }

func wavy(x float64) float64 { return 12e-3 + 0.35e-3*math.Sin(2*math.Pi*x/18e-3+1) }

func newRandom(seed uint64) *rand.Rand { return rand.New(rand.NewPCG(seed, 3)) }

func degrees(d float64) float64 { return d * math.Pi / 180 }
