// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition_test

import (
	"encoding/binary"
	"errors"
	"math"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
)

// Records about as short, as long and longer than the filters reach, and of
// lengths that vector kernels do not divide.
var lengths = []int{1, 2, 3, 5, 17, 70, 71, 500, 1023}

func TestStepsAreLinear(t *testing.T) {
	for _, samples := range lengths {
		x, y := noisy(t, samples, 1), noisy(t, samples, 2)
		sum, zero := clone(x), clone(x)
		clear(zero.Data)
		for i := range sum.Data {
			sum.Data[i] = 3*x.Data[i] - 2*y.Data[i]
		}
		for name, step := range allSteps(t, x) {
			// Subtraction is affine: what it makes of zeros is taken away.
			offset := apply(t, zero, step).Data
			fx, fy := apply(t, x, step).Data, apply(t, y, step).Data
			want := make([]float64, len(offset))
			largest := 0.0
			for i, o := range offset {
				want[i] = 3*float64(fx[i]-o) - 2*float64(fy[i]-o) + float64(o)
				largest = max(largest, math.Abs(want[i]))
			}
			nearAll(t, name, apply(t, sum, step).Data, want, 2e-6*max(1, largest))
		}
	}
}

func TestChainOrder(t *testing.T) {
	c := noisy(t, 300, 3)
	var steps []condition.Step
	one := c
	for _, step := range allSteps(t, c) {
		steps = append(steps, step)
		one = apply(t, one, step)
	}
	if diff := cmp.Diff(one.Data, apply(t, c, steps...).Data); diff != "" {
		t.Errorf("a chain differs from its steps one after the other:\n%s", diff)
	}
}

// TestBuffers surrounds the samples with NaN: a step that read beyond them
// would spread it, one that wrote there would overwrite it.
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
		for name, step := range allSteps(t, c) {
			chain := must(condition.NewChain(step))(t)
			want := apply(t, c, step)
			src, srcWhole := guarded(c)
			dst, dstWhole := guarded(want)
			clear(dst.Data)
			if err := chain.Apply(dst, src, chain.NewScratch()); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(want.Data, dst.Data); diff != "" {
				t.Errorf("%s of %d samples between NaN:\n%s", name, samples, diff)
			}
			if diff := cmp.Diff(c.Data, src.Data); diff != "" {
				t.Errorf("%s of %d samples changed its source:\n%s", name, samples, diff)
			}
			if err := chain.Apply(src, src, chain.NewScratch()); err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(want.Data, src.Data); diff != "" {
				t.Errorf("%s of %d samples in place:\n%s", name, samples, diff)
			}
			if !srcWhole() || !dstWhole() {
				t.Errorf("%s of %d samples wrote beyond them", name, samples)
			}
		}
	}
}

func TestChainDoesNotAllocate(t *testing.T) {
	c := noisy(t, 500, 5)
	dst := clone(c)
	for name, step := range allSteps(t, c) {
		chain := must(condition.NewChain(step))(t)
		scratch := chain.NewScratch()
		allocs := testing.AllocsPerRun(10, func() {
			if err := chain.Apply(dst, c, scratch); err != nil {
				t.Error(err)
			}
		})
		if allocs != 0 {
			t.Errorf("%s allocates %v times a frame, want 0", name, allocs)
		}
	}
}

func TestChainIsShared(t *testing.T) {
	c := noisy(t, 400, 6)
	var steps []condition.Step
	for _, step := range allSteps(t, c) {
		steps = append(steps, step)
	}
	chain := must(condition.NewChain(steps...))(t)
	want := apply(t, c, steps...)
	var group sync.WaitGroup
	for range 4 {
		group.Go(func() {
			dst, scratch := clone(c), chain.NewScratch()
			for p := range c.Pairs {
				if err := chain.Trace(dst.Trace(p), c.Trace(p), p, scratch); err != nil {
					t.Error(err)
				}
			}
			if diff := cmp.Diff(want.Data, dst.Data); diff != "" {
				t.Errorf("trace by trace in a goroutine:\n%s", diff)
			}
		})
	}
	group.Wait()
}

func TestChainRefusesSamples(t *testing.T) {
	c := noisy(t, 50, 7)
	chain := must(condition.NewChain(must(condition.NewOffsetRemoval(c, math.Inf(-1), math.Inf(1)))(t)))(t)
	for _, bad := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		src := clone(c)
		src.Trace(2)[49] = float32(bad)
		err := chain.Apply(src, src, chain.NewScratch())
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
	if err := chain.Apply(src, src, chain.NewScratch()); err != nil {
		t.Errorf("large samples: %v", err)
	}
	gain := must(condition.NewGain(c, condition.GainOptions{DecibelsPerSecond: 1e9}))(t)
	chain = must(condition.NewChain(gain))(t)
	src.Data[7] = 1e38
	err := chain.Apply(src, src, chain.NewScratch())
	if err == nil || !strings.Contains(err.Error(), "leaves the range of float32") {
		t.Errorf("overflow: error %v", err)
	}
}

func TestChainErrors(t *testing.T) {
	c := noisy(t, 50, 8)
	step := must(condition.NewBandPass(c, nil))(t)
	chain := must(condition.NewChain(step))(t)
	changed := func(change func(*fmc.Capture)) *fmc.Capture {
		d := clone(c)
		change(d)
		return d
	}
	other := must(condition.NewBandPass(noisy(t, 51, 8), nil))(t)
	_, none := condition.NewChain()
	_, null := condition.NewChain(step, nil)
	_, zero := condition.NewChain(&condition.Taper{})
	_, mixed := condition.NewChain(step, other)
	_, noPattern := condition.NewBandPass(nil, nil)
	_, badPattern := condition.NewAverage(changed(func(c *fmc.Capture) { c.SampleRate = 0 }))
	run := func(dst, src *fmc.Capture, s *condition.Scratch) error { return chain.Apply(dst, src, s) }
	s := chain.NewScratch()
	wrongScratch := must(condition.NewChain(other))(t).NewScratch()
	for _, row := range []struct {
		name string
		err  error
		want string
	}{
		{"no steps", none, "chain of 0 steps"},
		{"nil step", null, "step 1 was not made by its constructor"},
		{"zero step", zero, "step 0 was not made by its constructor"},
		{"steps of two formats", mixed, "step 1 has 51 samples a trace: want 50"},
		{"no pattern", noPattern, "no capture to plan for"},
		{"invalid pattern", badPattern, "sample rate 0 Hz"},
		{"no source", run(c, nil, s), "no src"},
		{"no destination", run(nil, c, s), "no dst"},
		{"other rate", run(c, changed(func(c *fmc.Capture) { c.SampleRate = 1 }), s), "sample rate of 1 Hz: want 5e+07 Hz"},
		{"other time", run(changed(func(c *fmc.Capture) { c.FirstSample = 0 }), c, s), "first sample of dst is at 0 s"},
		{"fewer pairs", run(c, changed(func(c *fmc.Capture) { c.Pairs = c.Pairs[:2] }), s), "src has 2 pairs: want 3"},
		{"pairs swapped", run(c, changed(func(c *fmc.Capture) {
			c.Pairs = []fmc.Pair{{Tx: 0, Rx: 0}, {Tx: 1, Rx: 1}, {Tx: 0, Rx: 1}}
		}), s), "pair 1 of src is 1→1: want 0→1"},
		{"samples missing", run(changed(func(c *fmc.Capture) { c.Data = c.Data[1:] }), c, s), "149 samples in Data of dst: want 150"},
		{"no scratch", run(c, c, nil), "scratch of another chain"},
		{"wrong scratch", run(c, c, wrongScratch), "scratch of another chain"},
		{"trace number", chain.Trace(c.Trace(0), c.Trace(0), 3, s), "pair 3: want 0 to 2"},
		{"negative trace number", chain.Trace(c.Trace(0), c.Trace(0), -1, s), "pair -1: want 0 to 2"},
		{"short trace", chain.Trace(c.Trace(0), c.Trace(0)[1:], 0, s), "trace of 49 samples into 50: want 50"},
	} {
		if row.err == nil || !strings.Contains(row.err.Error(), row.want) {
			t.Errorf("%s: error %v, want %q", row.name, row.err, row.want)
		}
	}
}

// Whatever the samples, a chain gives finite ones or an error.
func FuzzChain(f *testing.F) {
	f.Add([]byte{0, 0, 0x80, 0x3f, 0, 0, 0xc0, 0x7f}) // 1, NaN
	f.Add([]byte{0xff, 0xff, 0x7f, 0x7f, 0xff, 0xff, 0x7f, 0xff, 1, 0, 0, 0})
	f.Fuzz(func(t *testing.T, data []byte) {
		samples := len(data) / 4
		if samples < 1 || samples > 1000 {
			return
		}
		c := newCapture(t, 1, samples, 50e6, 1e-6)
		good := true
		steps := allSteps(t, c)
		for k := range c.Data {
			c.Data[k] = math.Float32frombits(binary.LittleEndian.Uint32(data[4*k:]))
			good = good && math.Abs(float64(c.Data[k])) <= 1e30
		}
		for name, step := range steps {
			chain := must(condition.NewChain(step))(t)
			err := chain.Apply(c, c, chain.NewScratch())
			if good && err != nil {
				t.Errorf("%s: %v", name, err)
			}
			if err != nil {
				return
			}
			if err := c.CheckSamples(); err != nil {
				t.Errorf("%s: no error, and %v", name, err)
			}
		}
	})
}

// A step keeps to the pattern that it was made for, whatever becomes of that.
func TestStepsCopyTheirPattern(t *testing.T) {
	c := noisy(t, 40, 9)
	src := clone(c)
	src.Pairs = slices.Clone(c.Pairs)
	subtraction := must(condition.NewSubtraction(c))(t)
	clear(c.Data)
	c.Pairs[0] = fmc.Pair{Tx: 1, Rx: 0}
	for i, v := range apply(t, src, subtraction).Data {
		if v != 0 {
			t.Fatalf("sample %d of a capture less itself is %v, want 0", i, v)
		}
	}
}
