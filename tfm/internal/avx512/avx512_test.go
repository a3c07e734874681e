// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build amd64 && !purego

package avx512

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/tfm/internal/trace"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
)

func needAVX512(t *testing.T) {
	if !Available {
		t.Skip("this processor has no AVX-512; TestSelection of package tfm tells if that is wrong")
	}
}

// layout returns blocks, two of every kind, of random delays of two paths, and a
// chunk of lookups of them in traces of the given number of samples.
func layout(f window.Format, samples int, sampleBytes, plane int, seed uint64) (*window.Layout, *window.Chunk) {
	const elements, blocks = 6, 8
	rng := rand.New(rand.NewPCG(seed, 1))
	path := func() *window.Path {
		p := &window.Path{Elements: elements, Points: blocks * window.Pixels, Rate: 1, Reach: 1e6}
		for range elements {
			for b := range blocks {
				base := 20 + float64(rng.IntN(60))
				for range window.Pixels {
					// Spreads of 12, 12, 20 and 40 samples; those of 20 grow along the columns.
					spread := []float64{12, 12, 20, 40}[b/2]
					along := float64(len(p.Seconds)%window.Cols) / (window.Cols - 1)
					delay := base + spread*rng.Float64()
					if b/2 == 2 {
						delay = base + spread*along
					}
					p.Seconds = append(p.Seconds, float32(delay))
				}
			}
		}
		return p
	}
	all := make([]window.Block, blocks)
	for b := range all {
		all[b] = window.Block{First: b * window.Pixels, Rows: window.Rows, Cols: window.Cols}
	}
	l := window.New(f, all, window.Cols, samples, path(), path())
	c := new(window.Chunk)
	for i := range window.MaxEntries {
		c.Add(i/5%elements, window.NewEntry(rng.IntN(elements), i*2*plane*sampleBytes))
	}
	return l, c
}

// first returns the first n lookups of c; those of two transmitters with one receiver
// together every now and then, where that is asked for.
func first(c *window.Chunk, n int, narrow bool) *window.Chunk {
	part := new(window.Chunk)
	for i := 0; i < n; i++ {
		e := c.Entries[i]
		if narrow && i%7 > 2 && i+1 < n {
			next := c.Entries[i+1]&^math.MaxUint32 | e&math.MaxUint32 // its trace, of one receiver
			part.AddTwo(i/7%6, (i/7+2)%6, e, next)
			i++
		} else {
			part.Add(i/5%6, e)
		}
	}
	return part
}

// sums returns the accumulators of all blocks, between guards that must not change.
func sums[S window.Sample](t *testing.T, k window.Kernel, l *window.Layout, c *window.Chunk, traces window.Traces[S]) ([]float32, window.Counts) {
	t.Helper()
	const guard = 16
	all := make([]float32, 2*window.Pixels*len(l.Blocks)+2*guard)
	for i := range guard {
		all[i], all[len(all)-1-i] = float32(math.NaN()), float32(math.NaN())
	}
	acc := all[guard : len(all)-guard]
	a := window.NewAdder(k, l, traces)
	a.Sum(acc, 0, len(l.Blocks), c)
	for i := range guard {
		if all[i] == all[i] || all[len(all)-1-i] == all[len(all)-1-i] {
			t.Fatal("the kernel wrote beyond its accumulators")
		}
	}
	return acc, a.Counts
}

// TestSums16 compares the kernels with plain Go, bit for bit: in every number of
// lookups, and with all samples at full scale, where a sum that could overflow would.
func TestSums16(t *testing.T) {
	needAVX512(t)
	const samples, plane = 300, 352
	kernels := map[string]window.Kernel{"two instructions": {Joint: joint16, Split: split16}}
	if dotProduct {
		kernels["dot product"] = window.Kernel{Joint: joint16dot, Split: split16dot}
	}
	for name, k := range kernels {
		for _, fullScale := range []bool{false, true} {
			l, c := layout(window.Format{Samples: 32, Fraction: 11, General: 11, Narrow: true}, samples, 2, plane, 2)
			rng := rand.New(rand.NewPCG(3, 3))
			data := make([]int16, 2*plane*window.MaxEntries+64)
			for i := range data {
				data[i] = int16(rng.IntN(2*math.MaxInt16+1) - math.MaxInt16)
				if fullScale {
					data[i] = math.MaxInt16
					if i/plane%2 == 1 {
						data[i] = -math.MaxInt16
					}
				}
			}
			traces := window.Traces[int16]{Data: data, Plane: plane}
			for n := 1; n <= window.MaxEntries; n++ {
				part := first(c, n, true)
				want, _ := sums(t, window.Kernel{}, l, part, traces)
				got, counts := sums(t, k, l, part, traces)
				if !slices.Equal(got, want) {
					t.Fatalf("%s, %d lookups, full scale %v: not what plain Go gives", name, n, fullScale)
				}
				if counts.Joint == 0 || counts.Split == 0 || counts.General == 0 {
					t.Fatalf("%s: ways taken %+v, want all", name, counts)
				}
			}
			if fullScale {
				want, _ := sums(t, k, l, c, traces)
				if v := float32(32 * 32767 * 2048); want[0] != v || want[window.Pixels] != -v {
					t.Errorf("%s: sum %v and %v of full-scale samples, want ±%v", name, want[0], want[window.Pixels], v)
				}
			}
		}
	}
}

// TestSums32 compares the kernels with plain Go, in every number of lookups, with
// NaN where no pixel looks.
func TestSums32(t *testing.T) {
	needAVX512(t)
	const samples, plane = 300, 336
	l, c := layout(window.Format{Samples: 32, Fraction: 23, General: 17}, samples, 4, plane, 4)
	rng := rand.New(rand.NewPCG(5, 5))
	data := make([]float32, 2*plane*window.MaxEntries+64)
	for i := range data {
		data[i] = float32(rng.NormFloat64())
		if i%plane >= samples || i%plane < 20 {
			data[i] = float32(math.NaN())
		}
	}
	traces := window.Traces[float32]{Data: data, Plane: plane}
	for n := 1; n <= window.MaxEntries; n++ {
		part := first(c, n, false)
		want, _ := sums(t, window.Kernel{}, l, part, traces)
		got, counts := sums(t, Float32(), l, part, traces)
		for i, v := range want {
			if d := math.Abs(float64(got[i] - v)); !(d <= 2e-6*math.Sqrt(float64(n))*4) {
				t.Fatalf("%d lookups: accumulator %d is %v, want %v", n, i, got[i], v)
			}
		}
		if counts.Joint == 0 || counts.Split == 0 || counts.General == 0 {
			t.Fatalf("ways taken %+v, want all", counts)
		}
	}
}

// TestOps compares the operations on traces with plain Go over every short length,
// with guards behind what they write.
func TestOps(t *testing.T) {
	needAVX512(t)
	vector, plain := Ops(), trace.Plain()
	rng := rand.New(rand.NewPCG(6, 6))
	const guard = 12345
	for n := range 150 {
		t.Run(fmt.Sprintf("n=%d", n), func(t *testing.T) {
			x, y := make([]float32, n+40), make([]float32, n)
			ints := make([]int16, n)
			for i := range x {
				x[i] = float32(rng.NormFloat64())
			}
			for i := range ints {
				ints[i] = int16(rng.Uint32())
				y[i] = float32(rng.NormFloat64())
			}
			taps := make([]complex64, 7)
			for i := range taps {
				taps[i] = complex(float32(rng.NormFloat64()), float32(rng.NormFloat64()))
			}
			floats := func(do func(o trace.Ops, dst []float32)) {
				t.Helper()
				var results [2][]float32
				for i, o := range []trace.Ops{vector, plain} {
					dst := append(slices.Clone(y), guard)
					do(o, dst[:n:n])
					results[i] = dst
				}
				for i, want := range results[1] {
					if got := results[0][i]; !(math.Abs(float64(got-want)) <= 1e-2*math.Ldexp(1, -10)+1e-6*math.Abs(float64(want))) {
						t.Fatalf("element %d is %v, want %v", i, got, want)
					}
				}
			}
			floats(func(o trace.Ops, dst []float32) { o.AddInt16(dst, ints, 0.7) })
			floats(func(o trace.Ops, dst []float32) { o.AddFloat32(dst, x[:n], -1.7) })
			floats(func(o trace.Ops, dst []float32) { o.Shift(dst, 0.3) })
			floats(func(o trace.Ops, dst []float32) { o.Convolve(dst, make([]float32, n), x[:n+6], taps) })
			floats(func(o trace.Ops, dst []float32) { o.Convolve(make([]float32, n), dst, x[:n+6], taps) })
			if got, want := vector.Sum(y), plain.Sum(y); !(math.Abs(got-want) <= 1e-5) {
				t.Errorf("sum %v, want %v", got, want)
			}
			if got, want := vector.Peak(y), plain.Peak(y); got != want {
				t.Errorf("peak %v, want %v", got, want)
			}
			var results [2][]int16
			for i, o := range []trace.Ops{vector, plain} {
				packed, scaled := append(slices.Clone(ints), 1234), append(slices.Clone(ints), 1234)
				o.Pack(packed[:n:n], x[:n], 6000)
				o.Scale(scaled[:n:n], 0.37)
				results[i] = append(packed, scaled...)
			}
			if !slices.Equal(results[0], results[1]) {
				t.Errorf("packed and scaled %v, want %v", results[0], results[1])
			}
		})
	}
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		for i := range 40 {
			x := make([]float32, 40)
			x[i] = float32(bad)
			if sum := vector.Sum(x); !math.IsNaN(sum) && !math.IsInf(sum, 0) {
				t.Errorf("sum %v with %v at %d", sum, bad, i)
			}
		}
	}
}
