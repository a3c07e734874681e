// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window_test

import (
	"math"
	"math/big"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/tfm/internal/kerneltest"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
)

// elements is the number of elements in a layout.
const elements = 6

// far is how many samples the delays of the transmitters are too long, and the delays of the
// receivers too short. A record may have millions of samples.
const far = 3_000_000

// wider returns how many times longer the longest window of f is than 32 samples.
func wider(f window.Format) int { return f.Windows[len(f.Windows)-1].Samples / 32 }

// layout returns blocks of delays of two paths, two blocks or more of each kind, and a chunk of
// lookups in traces of the given number of samples.
func layout(
	f window.Format, samples, sampleBytes, plane int, seed uint64,
) (*window.Layout, *window.Chunk) {
	// The delays of two blocks each spread at random, along the columns or along the rows.
	const random, cols, rows = 0, 1, 2
	spreads := []struct {
		along   int
		samples float64
	}{{random, 5}, {random, 12}, {cols, 20}, {rows, 12}, {random, 40}}
	for _, s := range spreads {
		if wider(f) > 1 {
			s.samples *= float64(wider(f))
			spreads = append(spreads, s)
		}
	}
	blocks := 2 * len(spreads)
	rng := rand.New(rand.NewPCG(seed, 1))
	path := func(more float64) *window.Path {
		p := &window.Path{Elements: elements, Points: blocks * window.Pixels, Offset: -more, Rate: 1, Reach: 1e7}
		for range elements {
			for b := range blocks {
				base := 20 + float64(rng.IntN(60))
				for i := range window.Pixels {
					share := [...]float64{
						random: rng.Float64(),
						cols:   float64(i%window.Cols) / (window.Cols - 1),
						rows:   float64(i/window.Cols) / (window.Rows - 1),
					}[spreads[b/2].along]
					p.Seconds = append(p.Seconds, float32(base+share*spreads[b/2].samples))
				}
			}
		}
		return p
	}
	all := make([]window.Block, blocks)
	for b := range all {
		all[b] = window.Block{First: b * window.Pixels, Rows: window.Rows, Cols: window.Cols}
	}
	l := window.New(f, all, window.Cols, samples, path(far), path(-far), 1)
	c := new(window.Chunk)
	for i := range window.MaxEntries {
		c.Add(i/5%elements, window.NewEntry(rng.IntN(elements), i*2*plane*sampleBytes))
	}
	return l, c
}

// first returns the first n lookups of c. With pairs, some of them are pairs of two transmitters
// with one receiver.
func first(c *window.Chunk, n int, pairs bool) *window.Chunk {
	part := new(window.Chunk)
	for i := 0; i < n; i++ {
		e := c.Entries[i]
		if pairs && i%7 > 2 && i+1 < n {
			next := c.Entries[i+1]
			next.Rx = e.Rx
			part.AddTwo(i/7%elements, (i/7+2)%elements, e, next)
			i++
		} else {
			part.Add(i/5%elements, e)
		}
	}
	return part
}

// sums returns the accumulators of all blocks.
func sums[S window.Sample](
	k window.Kernel, l *window.Layout, c *window.Chunk, traces window.Traces[S],
) ([]float32, window.Counts) {
	acc := make([]float32, (1+traces.More)*2*window.Pixels*len(l.Blocks))
	a := window.NewAdder(k, l, traces)
	a.Sum(acc, 0, len(l.Blocks), c)
	return acc, a.Counts
}

// spread makes room in c for the further layers of traces behind each trace.
func spread[S window.Sample](c *window.Chunk, traces window.Traces[S]) *window.Chunk {
	for i := range c.Entries {
		c.Entries[i].Line *= uint32(traces.Planes() / 2)
	}
	return c
}

// maxMore is the largest number of layers after the first that the tests take. No kernel sums so
// many at once.
const maxMore = 3

// eachKernel runs a test for the kernels of each instruction set of this processor.
func eachKernel(t *testing.T, test func(t *testing.T, a window.Assembly)) {
	t.Helper()
	for _, a := range append(window.Available(), window.Slower()...) {
		t.Run(a.Name, func(t *testing.T) { test(t, a) })
	}
}

// TestInt16 compares the kernels for 16-bit samples with plain Go, bit for bit, between unreadable
// pages. It takes every number of lookups. It also takes samples at full scale, with which a sum
// would overflow that can overflow.
func TestInt16(t *testing.T) {
	eachKernel(t, func(t *testing.T, a window.Assembly) { checkInt16(t, a.Int16) })
}

func checkInt16(t *testing.T, k window.Kernel) {
	t.Helper()
	const samples, plane = 300, 352
	k.Format.General = 11
	anySample := func(rng *rand.Rand) int16 {
		return int16(rng.IntN(2*math.MaxInt16+1) - math.MaxInt16)
	}
	// A sum of 31 bits is rounded to 24 bits, and twice where some windows cross an end of the
	// record.
	random(t, k, 2, anySample, 256)
	k = kerneltest.Guarded[int16](t, k, samples)
	for i := range 2 * (1 + maxMore) {
		fullScale, more := i%2 == 1, i/2
		l, c := layout(k.Format, samples, 2, plane, 2)
		traces := window.Traces[int16]{Plane: plane, More: more}
		spread(c, traces)
		rng := rand.New(rand.NewPCG(3, 3))
		traces.Data = make([]int16, traces.Planes()*plane*window.MaxEntries+64)
		for p := range traces.Planes() * window.MaxEntries {
			samples := k.Format.NewInts(traces.Data[p*plane:], plane, window.Range{From: 0, To: plane})
			for i := range plane {
				switch {
				case !fullScale:
					samples.Set(i, anySample(rng))
				case p%2 == 0:
					samples.Set(i, math.MaxInt16)
				default:
					samples.Set(i, -math.MaxInt16)
				}
			}
		}
		for n := 1; n <= window.MaxEntries; n++ {
			if testing.Short() && more > 0 && n%5 != 2 {
				continue
			}
			part := first(c, n, k.Pairs)
			want, _ := sums(window.Kernel{Format: k.Format}, l, part, traces)
			got, counts := sums(k, l, part, traces)
			if !slices.Equal(got, want) {
				t.Fatalf("%d lookups, full scale %v, %d layers: not what plain Go gives", n, fullScale, 1+more)
			}
			needAllWays(t, k, counts)
		}
		if fullScale {
			got, _ := sums(k, l, c, traces)
			if v := float32(32 * 32767 * 2048); got[0] != v || got[window.Pixels] != -v {
				t.Errorf("sum %v and %v of full-scale samples, want ±%v",
					got[0], got[window.Pixels], v)
			}
		}
	}
}

// TestFloat32 compares the kernels for single precision with plain Go, between unreadable pages.
// It takes every number of lookups. Samples that no pixel reads are NaN.
func TestFloat32(t *testing.T) {
	eachKernel(t, func(t *testing.T, a window.Assembly) { checkFloat32(t, a.Float32) })
}

func checkFloat32(t *testing.T, k window.Kernel) {
	t.Helper()
	samples, plane := 300*wider(k.Format), 336*wider(k.Format)
	k.Format.General = 17
	random(t, k, 4, func(rng *rand.Rand) float32 { return float32(rng.NormFloat64()) }, 5e-5)
	k = kerneltest.Guarded[float32](t, k, samples)
	for more := range 1 + maxMore {
		checkLayers32(t, k, samples, window.Traces[float32]{Plane: plane, More: more})
		if k.AtOnce(more) {
			checkLayers32(t, k, samples, window.Traces[float32]{Plane: plane, More: more, Narrow: true})
		}
	}
}

// checkLayers32 compares a kernel with plain Go for a number of layers, and its first layer with
// the same kernel for that layer alone, bit for bit.
func checkLayers32(t *testing.T, k window.Kernel, samples int, traces window.Traces[float32]) {
	t.Helper()
	plane, more := traces.Plane, traces.More
	l, c := layout(k.Format, samples, 4, plane, 4)
	spread(c, traces)
	rng := rand.New(rand.NewPCG(5, 5))
	data := make([]float32, traces.Planes()*plane*window.MaxEntries+64)
	for i := range data {
		data[i] = float32(rng.NormFloat64())
		at := i % plane
		if k.Format.Interleaved {
			at = i % (2 * plane) / 2
		}
		if at >= samples || at < 20 {
			data[i] = float32(math.NaN())
		}
	}
	traces.Data = data
	tolerances := []float64{2e-6 * 4} // of layers; of the last also for those behind it
	if traces.Narrow {
		fillNarrow(rng, traces, window.MaxEntries, 1<<15)
		tolerances = append(tolerances, 0)
	}
	for n := 1; n <= window.MaxEntries; n++ {
		if testing.Short() && more > 0 && n%5 != 2 {
			continue
		}
		part := first(c, n, k.Pairs)
		want, _ := sums(window.Kernel{Format: k.Format}, l, part, traces)
		got, counts := sums(k, l, part, traces)
		for i, v := range want {
			if d := math.Abs(float64(got[i] - v)); !(d <= tolerances[min(i/(len(want)/(1+more)), len(tolerances)-1)]*math.Sqrt(float64(n))) {
				t.Fatalf("%d lookups, %d layers: accumulator %d is %v, want %v", n, 1+more, i, got[i], v)
			}
		}
		alone, _ := sums(k, l, part, window.Traces[float32]{Data: data, Plane: plane})
		if !slices.Equal(got[:len(alone)], alone) {
			t.Fatalf("%d lookups, %d layers: the first layer has not the bits that it has alone", n, 1+more)
		}
		needAllWays(t, k, counts)
	}
}

// TestInterleavedBits compares the kernels for interleaved samples with the same operations in
// plain Go, bit for bit. It takes every number of lookups.
func TestInterleavedBits(t *testing.T) {
	eachKernel(t, func(t *testing.T, a window.Assembly) {
		k := a.Float32
		if !k.Format.Interleaved {
			t.Skip("this kernel has planes")
		}
		const samples, plane = 2400, 2416
		l, c := layout(k.Format, samples, 4, plane, 6)
		rng := rand.New(rand.NewPCG(6, 6))
		traces := window.Traces[float32]{Plane: plane}
		traces.Data = make([]float32, 2*plane*window.MaxEntries)
		for i := range traces.Data {
			traces.Data[i] = float32(rng.NormFloat64())
		}
		for n := 1; n <= window.MaxEntries; n++ {
			if testing.Short() && n%5 != 2 {
				continue
			}
			part := first(c, n, k.Pairs)
			got, _ := sums(k, l, part, traces)
			for b, block := range l.Blocks {
				if block.Kind < 0 {
					continue
				}
				acc := got[2*window.Pixels*b:][:2*window.Pixels]
				if want := interleavedSums(l, b, part, traces.Data); !slices.Equal(acc, want) {
					t.Fatalf("%d lookups, block %d: %v, want %v", n, b, acc, want)
				}
			}
		}
	})
}

// interleavedSums returns the accumulators of block b in the order of operations of a kernel for
// interleaved samples: it sums the products of first samples and of second samples by themselves.
func interleavedSums(l *window.Layout, b int, c *window.Chunk, data []float32) []float32 {
	const scale = 1 << 24
	entries := c.Entries
	firsts, seconds := make([]float32, 2*window.Pixels), make([]float32, 2*window.Pixels)
	for _, s := range c.Segments {
		sent, received := window.TablesOf(l, b)
		tx := b*l.Tx.Elements + int(s.Tx)
		for _, e := range entries[:s.Count] {
			rx := b*l.Rx.Elements + int(e.Rx)
			for i := range window.Pixels {
				sum := sent.Wide[tx*window.Pixels+i] + received.Wide[rx*window.Pixels+i]
				k := int(sent.Bases[tx]+received.Bases[rx]) + int(sum>>24)
				f := float32(sum & (scale - 1))
				at := data[int(e.Line)*window.Line/4+2*k:][:4]
				for p := range 2 {
					to := p*window.Pixels + i
					firsts[to] = fused(scale-f, at[p], firsts[to])
					seconds[to] = fused(f, at[2+p], seconds[to])
				}
			}
		}
		entries = entries[s.Count:]
	}
	for i := range firsts {
		firsts[i] = (firsts[i] + seconds[i]) / scale
	}
	return firsts
}

// fused returns x·y + z, rounded once.
func fused(x, y, z float32) float32 {
	exact := new(big.Float).SetPrec(600).SetFloat64(float64(x) * float64(y)) // a product of 48 bits
	v, _ := exact.Add(exact, new(big.Float).SetFloat64(float64(z))).Float32()
	return v
}

// needAllWays fails if a window of k or the general way was not taken.
func needAllWays(t *testing.T, k window.Kernel, counts window.Counts) {
	t.Helper()
	if counts.General == 0 || slices.Contains(counts.Windows[:len(k.Sums)], 0) {
		t.Fatalf("ways taken %+v, want all", counts)
	}
}
