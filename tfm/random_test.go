// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestRandom compares every kernel with the double loop on captures, grids and tables of
// all sorts, made at random: what no one thought of when the other tests were written.
func TestRandom(t *testing.T) {
	count := 60
	if testing.Short() {
		count = 15
	}
	for seed := range count {
		t.Run(fmt.Sprintf("seed=%d", seed), func(t *testing.T) {
			rng := rand.New(rand.NewPCG(uint64(seed), 28))
			c, samples := anyCapture(rng)
			g := anyGrid(rng)
			tx := anyTimes(rng, c, g, c.Events != nil)
			rx := tx
			if c.Events != nil || rng.IntN(2) == 0 {
				rx = anyTimes(rng, c, g, false)
			}
			options := Options{Weights: anyWeights(rng, len(c.Pairs))}
			want := doubleLoop(t, c, g, tx, rx, options)
			ends := atEnds(c, tx, rx)
			// The peak may come from a few samples, and is then not a measure of the errors.
			want = append(want, complex(3*math.MaxInt16, 0))
			eachKernel(t, func(t *testing.T, o Options, tolerance float64) {
				o.Weights = options.Weights
				s, image := check.Must(NewPlan(c, g, tx, rx, &o)).NewScratch(), NewImage(g)
				spoil(s.views[0].frames[0])
				if err := s.ReconstructInt16(background, image, samples); err != nil {
					t.Fatal(err)
				}
				got := append(image.Data, complex64(want[g.Len()]))
				for _, p := range ends {
					got[p] = complex64(want[p])
				}
				wantImage(t, got, want, 2*tolerance)
			})
		})
	}
}

// anyCapture returns a capture of integers, with its samples.
func anyCapture(rng *rand.Rand) (*fmc.Capture, []int16) {
	n := 1 + rng.IntN(12)
	c := fmc.Capture{
		Array:      fmc.Array{Elements: make([]r3.Vec, n), Width: 0.5e-3, Bandwidth: 0.6},
		Samples:    1 + rng.IntN([]int{40, 300, 1500}[rng.IntN(3)]),
		SampleRate: math.Pow(10, 20*rng.Float64()-6),
	}
	c.Array.CentreFrequency = c.SampleRate * (0.03 + 0.2*rng.Float64())
	c.FirstSample = []float64{0, -1, 3}[rng.IntN(3)] * rng.Float64() * float64(c.Samples) / c.SampleRate
	for i := range n {
		c.Array.Elements[i].X = 1e-3 * float64(i)
	}
	shuffled := func(pairs []fmc.Pair) []fmc.Pair {
		rng.Shuffle(len(pairs), func(i, j int) { pairs[i], pairs[j] = pairs[j], pairs[i] })
		return pairs[:1+rng.IntN(len(pairs))]
	}
	switch rng.IntN(4) {
	case 0:
		c.Pairs = fmc.FullPairs(n)
	case 1:
		c.Pairs = fmc.HalfPairs(n)
	case 2:
		c.Pairs = shuffled(fmc.FullPairs(n))
	case 3:
		for range 1 + rng.IntN(2*n) {
			c.Events = append(c.Events, fmc.Event{Delays: make([]float64, n), Weights: slices.Repeat([]float64{1}, n)})
		}
		c.Pairs = shuffled(fmc.EventPairs(len(c.Events), n))
	}
	samples := make([]int16, len(c.Pairs)*c.Samples)
	c.Data = make([]float32, len(samples))
	scale := []float64{100, 1e6}[rng.IntN(2)] // or at full scale throughout
	for i := range samples {
		samples[i] = int16(max(math.MinInt16, min(math.MaxInt16, scale*rng.NormFloat64())))
		c.Data[i] = float32(samples[i])
	}
	return check.Must(fmc.New(c)), samples
}

func anyGrid(rng *rand.Rand) Grid {
	count := func() int { return 1 + rng.IntN([]int{1, 10, 80}[rng.IntN(3)]) }
	return Grid{Step: r3.Vec{X: 1, Y: 1, Z: 1}, Cols: count(), Rows: count(), Slices: 1 + rng.IntN(3)}
}

// anyTimes returns a table of elements or of events. Its times lie in the record and about its ends.
// They may be steep, and rays may be missing.
func anyTimes(rng *rand.Rand, c *fmc.Capture, g Grid, events bool) *wedge.Times {
	rows := len(c.Array.Elements)
	if events {
		rows = len(c.Events)
	}
	var table []float32
	n := float64(c.Samples)
	steep := []float64{0.2, 1, 5}[rng.IntN(3)]
	missing := []float64{0, 0, 0.01, 0.5}[rng.IntN(4)]
	jitter := []float64{0, 0, 20}[rng.IntN(3)]
	x, y, z := steep*rng.NormFloat64(), steep*rng.NormFloat64(), steep*rng.NormFloat64()
	for range rows {
		first := n * (0.7*rng.Float64() - 0.2)
		for i := range g.Len() {
			p := g.Point(i)
			samples := first + x*p.X + y*p.Y + z*p.Z + jitter*rng.Float64()
			seconds := float32(c.FirstSample/2 + samples/c.SampleRate)
			if i > 0 && rng.Float64() < missing {
				seconds = float32(math.NaN())
			}
			table = append(table, seconds)
		}
	}
	if !events {
		return check.Must(wedge.NewTimes(nil, c.Array.Elements, g.Points(), table))
	}
	return check.Must(NewEventTimes(c, nil, g.Points(), table))
}

// anyWeights returns nil, or weights of either sign, some of them 0.
func anyWeights(rng *rand.Rand, n int) []float32 {
	if rng.IntN(2) == 0 {
		return nil
	}
	weights := make([]float32, n)
	for i := range weights {
		weights[i] = float32(rng.IntN(3)-1) * rng.Float32()
	}
	return weights
}
