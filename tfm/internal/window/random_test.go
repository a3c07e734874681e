// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/tfm/internal/kerneltest"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
)

// geometry is an image of any size, and a record of any length.
type geometry struct {
	rows, cols int
	samples    int
	wider      float64
	tx, rx     *window.Path
	blocks     []window.Block
}

func anyGeometry(rng *rand.Rand, wider int) geometry {
	g := geometry{
		rows:    1 + rng.IntN(3*window.Rows),
		cols:    1 + rng.IntN(3*window.Cols),
		samples: 33 + rng.IntN(500*wider),
		wider:   float64(wider),
	}
	for r := 0; r < g.rows; r += window.Rows {
		for c := 0; c < g.cols; c += window.Cols {
			g.blocks = append(g.blocks, window.Block{
				First: r*g.cols + c,
				Rows:  uint8(min(window.Rows, g.rows-r)),
				Cols:  uint8(min(window.Cols, g.cols-c)),
			})
		}
	}
	// The sums of delays begin near the first sample, near the last sample, or anywhere in the
	// record.
	begin := []float64{-3, float64(g.samples) - 33, float64(g.samples) * rng.Float64()}[rng.IntN(3)]
	share := begin * rng.Float64()
	g.tx = g.anyPath(rng, share)
	if g.rx = g.tx; rng.IntN(3) > 0 {
		g.rx = g.anyPath(rng, begin-share)
	}
	return g
}

// anyPath returns delays that begin near sample begin. They have any steepness, and some have no
// ray.
func (g geometry) anyPath(rng *rand.Rand, begin float64) *window.Path {
	p := &window.Path{Elements: 1 + rng.IntN([]int{9, 40}[rng.IntN(2)]), Points: g.rows * g.cols, Rate: 1, Reach: 1e6}
	steep := []float64{0, 0.3, 1, 2, 5, 5 * g.wider}[rng.IntN(6)]
	missing := []float64{0, 0, 0, 0.02}[rng.IntN(4)]
	alongRows, alongCols := steep*rng.NormFloat64(), steep*rng.NormFloat64()
	for range p.Elements {
		first := begin + 5*rng.Float64()
		for i := range p.Points {
			delay := first + alongRows*float64(i/g.cols) + alongCols*float64(i%g.cols)
			if rng.Float64() < missing {
				delay = math.NaN()
			}
			p.Seconds = append(p.Seconds, float32(delay))
		}
	}
	return p
}

// anyChunk returns up to MaxEntries lookups in any of the traces. A trace has two planes.
func anyChunk(rng *rand.Rand, l *window.Layout, pairs bool, traces, planeBytes int) *window.Chunk {
	c := new(window.Chunk)
	entry := func(rx int) window.Entry { return window.NewEntry(l.Rx.Slot(rx), 2*planeBytes*rng.IntN(traces)) }
	slot := func(tx int) int { return l.Tx.Slot(tx) }
	for n := 1 + rng.IntN(window.MaxEntries); len(c.Entries) < n; {
		tx, rx := rng.IntN(l.Tx.Elements), rng.IntN(l.Rx.Elements)
		if pairs && len(c.Entries)+1 < n && rng.IntN(2) == 0 {
			c.AddTwo(slot(tx), slot(rng.IntN(l.Tx.Elements)), entry(rx), entry(rx))
		} else {
			c.Add(slot(tx), entry(rx))
		}
	}
	return c
}

// random compares a kernel with plain Go, between unreadable pages. It takes random geometries,
// and images with every remainder of a block. The function sample returns a random sample.
func random[S window.Sample](
	t *testing.T, k window.Kernel, sampleBytes int,
	sample func(*rand.Rand) S, tolerance float64,
) {
	t.Helper()
	const traces = 5
	geometries := 200
	if testing.Short() {
		geometries = 50
	}
	var all window.Counts
	for seed := range geometries {
		rng := rand.New(rand.NewPCG(uint64(seed), 7))
		g := anyGeometry(rng, wider(k.Format))
		rx := g.rx
		if rx == g.tx {
			rx = nil
		}
		l := window.New(k.Format, g.blocks, g.cols, g.samples, g.tx, rx, 0)
		line := window.Line / sampleBytes
		plane := (g.samples + line - 1) / line * line
		more := seed % (1 + maxMore)
		packed := window.Traces[S]{Plane: plane, More: more}
		packed.Narrow = sampleBytes == 4 && k.AtOnce(more)
		data := make([]S, packed.Planes()*plane*traces)
		for i := range data {
			data[i] = sample(rng)
		}
		packed.Data = data
		if packed.Narrow {
			fillNarrow(rng, any(packed).(window.Traces[float32]), traces, 5)
		}
		c := spread(anyChunk(rng, l, k.Pairs, traces, plane*sampleBytes), packed)
		guarded := kerneltest.Guarded[S](t, k, g.samples)
		want, _ := sums(window.Kernel{Format: k.Format}, l, c, packed)
		got, counts := sums(guarded, l, c, packed)
		all.Add(counts)
		for i, v := range want {
			if d := math.Abs(float64(got[i] - v)); !(d <= tolerance) {
				t.Fatalf("seed %d, %d × %d pixels, %d samples: accumulator %d is %v, want %v",
					seed, g.rows, g.cols, g.samples, i, got[i], v)
			}
		}
		a := window.NewAdder(guarded, l, packed)
		image, plain := make([]complex64, g.rows*g.cols), make([]complex64, g.rows*g.cols)
		for b, block := range l.Blocks {
			a.Write(image, g.cols, b, got[2*window.Pixels*b:], 0.3)
			block.Write(plain, g.cols, got[2*window.Pixels*b:], 0.3)
		}
		for i, v := range plain {
			if image[i] != v {
				t.Fatalf("seed %d: pixel %d is %v, want %v", seed, i, image[i], v)
			}
		}
	}
	needAllWays(t, k, all)
}

// fillNarrow sets the samples of the further layers of count traces, which have 16 bits, to
// numbers below limit in modulus.
func fillNarrow(rng *rand.Rand, traces window.Traces[float32], count, limit int) {
	for i := range traces.More {
		layer := window.NarrowLayer(traces, 1+i)
		for e := range count {
			for p := range 2 {
				at := 2 * traces.Plane * (traces.Planes()*e + p)
				for s := range traces.Plane {
					layer.Data[at+s] = int16(rng.IntN(2*limit-1) - limit + 1)
				}
			}
		}
	}
}
