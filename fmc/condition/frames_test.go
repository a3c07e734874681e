// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition_test

import (
	"errors"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
	"github.com/isochron-imaging/isochron/internal/check"
)

// TestAverageNoise checks that the noise of the mean falls by the root of the number of frames. The
// standard deviation of 6,000 samples has a relative error of 1 %.
func TestAverageNoise(t *testing.T) {
	frame := newCapture(t, 2, 2000, 50e6, 0)
	average := check.Must(condition.NewAverage(frame))
	mean := clone(frame)
	for n := uint64(1); n <= 64; n++ {
		noise(frame.Data, 100+n)
		for i := range frame.Data {
			frame.Data[i] += 5
		}
		if err := average.Add(frame); err != nil {
			t.Fatal(err)
		}
		if n != 1 && n != 4 && n != 16 && n != 64 {
			continue
		}
		if err := average.Mean(mean); err != nil {
			t.Fatal(err)
		}
		sum := 0.0
		for _, v := range mean.Data {
			sum += (float64(v) - 5) * (float64(v) - 5)
		}
		check.Within(t, "σ·√n", math.Sqrt(sum/6000*float64(n)), 1, 0.03)
	}
	if average.Count() != 64 {
		t.Errorf("%d frames, want 64", average.Count())
	}
}

// TestAverageIsExact checks that the mean of equal frames is that frame, bit for bit. The samples
// have an offset at which sums in float32 would lose digits.
func TestAverageIsExact(t *testing.T) {
	frame := noisy(t, 100, 31)
	for i := range frame.Data {
		frame.Data[i] += 1e6
	}
	average := check.Must(condition.NewAverage(frame))
	mean := clone(frame)
	check.Error(t, average.Mean(mean), "condition: average of 0 frames")
	for range 1000 {
		if err := average.Add(frame); err != nil {
			t.Fatal(err)
		}
	}
	clear(mean.Data)
	allocs := testing.AllocsPerRun(3, func() {
		if err := errors.Join(average.Add(frame), average.Mean(mean)); err != nil {
			t.Error(err)
		}
	})
	if allocs != 0 {
		t.Errorf("%v allocations a frame, want 0", allocs)
	}
	if diff := cmp.Diff(frame.Data, mean.Data); diff != "" {
		t.Errorf("mean of equal frames:\n%s", diff)
	}

	bad := clone(frame)
	bad.Data[299] = float32(math.Inf(1))
	var sample *fmc.SampleError
	if err := average.Add(bad); !errors.As(err, &sample) {
		t.Errorf("frame with Inf: error %v, want a SampleError", err)
	}
	check.Error(t, average.Add(noisy(t, 99, 31)), "frame has 99 samples a trace: want 100")
	check.Error(t, average.Mean(noisy(t, 99, 31)), "dst has 99 samples a trace: want 100")
	if err := average.Mean(mean); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(frame.Data, mean.Data); diff != "" {
		t.Errorf("a refused frame changed the mean:\n%s", diff)
	}

	average.Reset()
	if average.Count() != 0 {
		t.Errorf("%d frames after Reset, want 0", average.Count())
	}
	noise(frame.Data, 32)
	if err := errors.Join(average.Add(frame), average.Mean(mean)); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(frame.Data, mean.Data); diff != "" {
		t.Errorf("mean of one frame after Reset:\n%s", diff)
	}
}

func TestSaturation(t *testing.T) {
	c := newCapture(t, 2, 8, 50e6, 0)
	copy(c.Trace(0), []float32{0, 1, -32767, 32766, 5, 6, 7, 8})
	copy(c.Trace(1), []float32{0, 32767, 0, 32767, 32767, -32768, 0, 32767})
	copy(c.Trace(2), []float32{-32768, 0, 0, 0, 0, 0, 0, float32(math.NaN())})
	before := clone(c)
	want := []condition.Saturation{
		{Index: 1, Pair: fmc.Pair{Tx: 0, Rx: 1}, Count: 5, First: 1, Run: 3},
		{Index: 2, Pair: fmc.Pair{Tx: 1, Rx: 1}, Count: 2, First: 0, Run: 1},
	}
	got, err := condition.AppendSaturations(nil, c, -32768, 32767)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("reports:\n%s", diff)
	}
	for i, v := range c.Data {
		if math.Float32bits(v) != math.Float32bits(before.Data[i]) {
			t.Errorf("sample %d was changed from %v to %v", i, before.Data[i], v)
		}
	}
	allocs := testing.AllocsPerRun(3,
		func() { got, err = condition.AppendSaturations(got[:0], c, -32768, 32767) })
	if allocs != 0 || err != nil {
		t.Errorf("%v allocations with room, want 0; error %v", allocs, err)
	}
	none, err := condition.AppendSaturations(nil, noisy(t, 10, 33), -100, 100)
	if len(none) != 0 || err != nil {
		t.Errorf("clean capture: %v, %v", none, err)
	}
	nan := float32(math.NaN())
	for _, limits := range [][2]float32{{1, 1}, {2, 1}, {nan, 1}, {0, nan}} {
		_, err := condition.AppendSaturations(nil, c, limits[0], limits[1])
		check.Error(t, err, "condition: saturation limits")
	}
	for _, bad := range []*fmc.Capture{nil, {}, {Pairs: c.Pairs, Samples: 8}} {
		_, err := condition.AppendSaturations(nil, bad, 0, 1)
		check.Error(t, err, "condition: raw capture without its samples")
	}
}
