// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition_test

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
	"github.com/isochron-imaging/isochron/internal/check"
)

// lengths are numbers of samples below, near and above the reach of the filters. Some are no
// multiple of a vector.
var lengths = []int{1, 2, 3, 5, 17, 70, 71, 500, 1023}

func TestStepsAreLinear(t *testing.T) {
	for _, samples := range lengths {
		x, y := noisy(t, samples, 1), noisy(t, samples, 2)
		sum, zero := clone(x), clone(x)
		clear(zero.Data)
		for i := range sum.Data {
			sum.Data[i] = 3*x.Data[i] - 2*y.Data[i]
		}
		for _, step := range allSteps(x) {
			// Subtraction is affine: its output for zeros is an offset.
			offset := apply(t, zero, step).Data
			fx, fy := apply(t, x, step).Data, apply(t, y, step).Data
			want := make([]float64, len(offset))
			largest := 0.0
			for i, o := range offset {
				want[i] = 3*float64(fx[i]-o) - 2*float64(fy[i]-o) + float64(o)
				largest = max(largest, math.Abs(want[i]))
			}
			allWithin(t, fmt.Sprintf("%T", step), apply(t, sum, step).Data, want,
				2e-6*max(1, largest))
		}
	}
}

func TestChainOrder(t *testing.T) {
	c := noisy(t, 300, 3)
	mean := condition.OffsetRemoval{From: math.Inf(-1), To: math.Inf(1)}
	for _, steps := range [][]condition.Step{
		allSteps(c),
		append(allSteps(c), mean),
		append([]condition.Step{mean}, allSteps(c)...),
	} {
		one := c
		for _, step := range steps {
			one = apply(t, one, step)
		}
		if diff := cmp.Diff(one.Data, apply(t, c, steps...).Data); diff != "" {
			t.Errorf("a chain differs from its steps one after the other:\n%s", diff)
		}
	}
}

// TestBuffers surrounds the samples with NaN. A step that reads beyond the samples spreads the NaN.
// A step that writes beyond them overwrites it.
func TestBuffers(t *testing.T) {
	nan := float32(math.NaN())
	guarded := func(c *fmc.Capture) (*fmc.Capture, func() bool) {
		all := slices.Repeat([]float32{nan}, len(c.Data)+64)
		g := *c
		g.Data = all[32 : 32+len(c.Data) : 32+len(c.Data)]
		copy(g.Data, c.Data)
		return &g, func() bool {
			untouched := true
			for i := range 32 {
				untouched = untouched && all[i] != all[i] && all[len(all)-1-i] != all[len(all)-1-i]
			}
			return untouched
		}
	}
	for _, samples := range lengths {
		c := noisy(t, samples, 4)
		for _, step := range allSteps(c) {
			chain := chained(c, step)
			want := apply(t, c, step)
			src, srcWhole := guarded(c)
			dst, dstWhole := guarded(want)
			clear(dst.Data)
			if err := chain.Apply(dst, src); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(want.Data, dst.Data); diff != "" {
				t.Errorf("%T of %d samples between NaN:\n%s", step, samples, diff)
			}
			if diff := cmp.Diff(c.Data, src.Data); diff != "" {
				t.Errorf("%T of %d samples changed its source:\n%s", step, samples, diff)
			}
			if err := chain.Apply(src, src); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(want.Data, src.Data); diff != "" {
				t.Errorf("%T of %d samples in place:\n%s", step, samples, diff)
			}
			if !srcWhole() || !dstWhole() {
				t.Errorf("%T of %d samples wrote beyond them", step, samples)
			}
		}
	}
}

func TestChainDoesNotAllocate(t *testing.T) {
	c := noisy(t, 500, 5)
	dst := clone(c)
	for _, step := range allSteps(c) {
		chain := chained(c, step)
		allocs := testing.AllocsPerRun(10, func() { // after a run that does not count
			if err := chain.Apply(dst, c); err != nil {
				t.Error(err)
			}
		})
		if allocs != 0 {
			t.Errorf("%T allocates %v times a frame, want 0", step, allocs)
		}
	}
}

// TestChainIsShared applies one chain in several goroutines at once, each to samples of its own.
// Only the race detector is sure to find scratch that two of them use.
func TestChainIsShared(t *testing.T) {
	c := noisy(t, 400, 6)
	chain := chained(c, allSteps(c)...)
	var group sync.WaitGroup
	for i := range 4 {
		src := noisy(t, 400, 60+uint64(i))
		want := apply(t, src, allSteps(c)...)
		group.Go(func() {
			for range 20 {
				dst := clone(src)
				if err := chain.Apply(dst, src); err != nil {
					t.Error(err)
				}
				if diff := cmp.Diff(want.Data, dst.Data); diff != "" {
					t.Errorf("in goroutine %d:\n%s", i, diff)
				}
			}
		})
	}
	group.Wait()
}

func TestChainRefusesSamples(t *testing.T) {
	c := noisy(t, 50, 7)
	chain := chained(c, condition.OffsetRemoval{From: math.Inf(-1), To: math.Inf(1)})
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		src := clone(c)
		src.Trace(2)[49] = float32(bad)
		err := chain.Apply(src, src)
		var sample *fmc.SampleError
		if !errors.As(err, &sample) {
			t.Fatalf("sample %v: error %v, want a SampleError", bad, err)
		}
		if sample.Index != 2 || sample.Sample != 49 || sample.Pair != (fmc.Pair{Tx: 1, Rx: 1}) {
			t.Errorf("sample %v: reported as %+v", bad, sample)
		}
	}
	// The largest and the smallest samples of float32 pass.
	src := clone(c)
	clear(src.Data)
	for k := range 20 {
		src.Data[2*k] = math.MaxFloat32
		src.Data[2*k+1] = -math.MaxFloat32
	}
	src.Data[45] = math.SmallestNonzeroFloat32
	if err := chain.Apply(src, src); err != nil {
		t.Errorf("large samples: %v", err)
	}
	src.Data[7] = 1e38
	chain = chained(c, condition.Gain{DecibelsPerSecond: 1e9})
	check.Error(t, chain.Apply(src, src), "leaves the range of float32")
}

func TestChainErrors(t *testing.T) {
	c := noisy(t, 50, 8)
	changed := func(change func(*fmc.Capture)) *fmc.Capture {
		d := clone(c)
		change(d)
		return d
	}
	chain := chained(c, condition.BandPass{})
	if err := check.Must(condition.NewChain(changed(func(c *fmc.Capture) { c.Data = nil }), condition.BandPass{})).Apply(clone(c), c); err != nil {
		t.Errorf("error %v of a chain that was made without samples, want none", err)
	}
	_, none := condition.NewChain(c)
	_, null := condition.NewChain(c, condition.BandPass{}, nil)
	_, nilPointer := condition.NewChain(c, (*condition.Gain)(nil))
	_, zero := condition.NewChain(c, condition.BandPass{}, &condition.Window{})
	_, noPattern := condition.NewChain(nil, condition.BandPass{})
	_, badPattern := condition.NewAverage(changed(func(c *fmc.Capture) { c.SampleRate = 0 }))
	for _, row := range []struct {
		name string
		err  error
		want string
	}{
		{"no steps", none, "chain of 0 steps"},
		{"nil step", null, "step 1 is nil"},
		{"nil pointer", nilPointer, "step 0 is nil"},
		{"step at fault", zero, "gate from 0 to 0 s: want limits that enclose a sample"},
		{"number of the step at fault", zero, "(step 1)"},
		{"no pattern", noPattern, "no capture"},
		{"invalid pattern", badPattern, "sample rate 0 Hz"},
		{"no source", chain.Apply(c, nil), "no src"},
		{"no destination", chain.Apply(nil, c), "no dst"},
		{"other length", chain.Apply(c, noisy(t, 51, 8)), "src has 51 samples a trace: want 50"},
		{"other rate", chain.Apply(c, changed(func(c *fmc.Capture) { c.SampleRate = 1 })),
			"sample rate of 1 Hz: want 5e+07 Hz"},
		{"other time", chain.Apply(changed(func(c *fmc.Capture) { c.FirstSample = 0 }), c),
			"first sample of dst is at 0 s"},
		{"fewer pairs", chain.Apply(c, changed(func(c *fmc.Capture) { c.Pairs = c.Pairs[:2] })),
			"src has 2 pairs: want 3"},
		{"pairs swapped", chain.Apply(c, changed(func(c *fmc.Capture) {
			c.Pairs = []fmc.Pair{{Tx: 0, Rx: 0}, {Tx: 1, Rx: 1}, {Tx: 0, Rx: 1}}
		})), "pair 1 of src is 1→1: want 0→1"},
		{"samples missing", chain.Apply(changed(func(c *fmc.Capture) { c.Data = c.Data[1:] }), c),
			"149 samples in Data of dst: want 150"},
	} {
		t.Run(row.name, func(t *testing.T) { check.Error(t, row.err, "condition: ", row.want) })
	}
}

// FuzzChain checks that a chain gives finite samples or an error, for any samples.
func FuzzChain(f *testing.F) {
	f.Add([]byte{0, 0, 0x80, 0x3f, 0, 0, 0xc0, 0x7f}) // 1, NaN
	f.Add([]byte{0xff, 0xff, 0x7f, 0x7f, 0xff, 0xff, 0x7f, 0xff, 1, 0, 0, 0})
	f.Fuzz(func(t *testing.T, data []byte) {
		samples := len(data) / 4
		if samples < 1 || samples > 1000 {
			t.Skip("no trace of 1 to 1000 samples")
		}
		c := newCapture(t, 1, samples, 50e6, 1e-6)
		good := true
		steps := allSteps(c)
		chains := make([]*condition.Chain, len(steps))
		for i, step := range steps {
			chains[i] = chained(c, step)
		}
		for k := range c.Data {
			c.Data[k] = math.Float32frombits(binary.LittleEndian.Uint32(data[4*k:]))
			good = good && math.Abs(float64(c.Data[k])) <= 1e30
		}
		for i, step := range steps {
			err := chains[i].Apply(c, c)
			if good && err != nil {
				t.Errorf("%T: %v", step, err)
			}
			if err != nil {
				return
			}
			if err := c.CheckSamples(); err != nil {
				t.Errorf("%T: no error, and %v", step, err)
			}
		}
	})
}

// TestChainCopiesItsSteps checks that a chain does not change when the captures and samples change
// that it was made from.
func TestChainCopiesItsSteps(t *testing.T) {
	c := noisy(t, 40, 9)
	src := clone(c)
	src.Pairs = slices.Clone(c.Pairs)
	pulse := []float32{1}
	chain := chained(c, condition.Subtraction{Reference: c}, condition.MatchedFilter{Pulse: pulse})
	clear(c.Data)
	c.Pairs[0] = fmc.Pair{Tx: 1, Rx: 0}
	pulse[0] = float32(math.NaN())
	if err := chain.Apply(src, src); err != nil {
		t.Fatal(err)
	}
	for i, v := range src.Data {
		if v != 0 {
			t.Fatalf("sample %d of a capture less itself is %v, want 0", i, v)
		}
	}
}
