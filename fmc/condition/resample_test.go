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
)

var ratios = []struct{ up, down int }{
	{1, 1}, {2, 1}, {4, 1}, {8, 1}, {1, 2}, {1, 5}, {3, 2}, {2, 3}, {5, 8}, {125, 128}, {441, 160},
}

// Tones in the pass band become the same tones, evaluated at the new times;
// those in the stop band vanish.
func TestResampledTones(t *testing.T) {
	const samples, rate = 2000, 50e6
	src := newCapture(t, 1, samples, rate, 3e-6)
	for _, ratio := range ratios {
		r := must(condition.NewResampler(src, ratio.up, ratio.down))(t)
		lower := rate * min(1, float64(ratio.up)/float64(ratio.down))
		near(t, "pass band", r.PassBand(), 0.4*lower, 1e-6*lower)
		for _, share := range []float64{0, 0.1, 0.5, 0.79, 1.01, 1.3} { // of half the lower rate
			f := share * lower / 2
			if f > rate/2 {
				continue
			}
			tone := func(s float64) float64 { return math.Cos(2*math.Pi*f*s + 0.7) }
			for k := range src.Data {
				src.Data[k] = float32(tone(src.Time(k)))
			}
			dst := must(r.Resampled(src))(t)
			for m, v := range dst.Data {
				// An output lacks a part within 40 samples of the lower rate of an end.
				s := dst.Time(m)
				if s < src.FirstSample+41/lower || s > src.Time(samples-1)-41/lower {
					continue
				}
				want, tolerance := tone(s), 1.2e-4 // 0.001 dB
				if share > 1 {
					want, tolerance = 0, 1.2e-5 // 100 dB down, and rounding
				}
				if !(math.Abs(float64(v)-want) <= tolerance) {
					t.Fatalf("%d/%d, tone at %v of the band: sample %d is %v, want %v", ratio.up, ratio.down, share, m, v, want)
				}
			}
		}
	}
}

func TestResamplerResponse(t *testing.T) {
	const rate = 50e6
	src := newCapture(t, 1, 1000, rate, 0)
	for _, ratio := range ratios {
		r := must(condition.NewResampler(src, ratio.up, ratio.down))(t)
		lower := rate * min(1, float64(ratio.up)/float64(ratio.down))
		for share := 0.0; share <= 0.8; share += 0.08 {
			near(t, "pass band in dB", decibels(r.Response(share*lower/2)), 0, 0.001)
		}
		near(t, "edge in dB", decibels(r.Response(0.9*lower/2)), -6.02, 0.01)
		for f := lower / 2; f < rate*float64(ratio.up)/2; f += max(lower, rate*float64(ratio.up)/25) * 0.55 {
			if !(math.Abs(r.Response(f)) <= 1e-5) { // −100 dB
				t.Errorf("%d/%d: response %v at %v Hz, want at most 1e-5", ratio.up, ratio.down, r.Response(f), f)
			}
		}
		// The response is that of the running filter.
		f := 0.88 * lower / 2
		amplitude := r.Response(f)
		for k := range src.Data {
			src.Data[k] = float32(math.Sin(2 * math.Pi * f * src.Time(k)))
		}
		dst := must(r.Resampled(src))(t)
		for m := range dst.Data {
			if s := dst.Time(m); s > 41/lower && s < src.Time(src.Samples-1)-41/lower {
				near(t, "tone on the edge", float64(dst.Data[m]), amplitude*math.Sin(2*math.Pi*f*s), 1.2e-5)
			}
		}
	}
}

// SciPy 1.10.1: resample_poly(x, 3, 2, window=firwin(323, 0.9/3,
// window='blackmanharris'))[0, 1, 60, 75, 76, 148], x[n] = (7n mod 11) − 5 for
// n = 0 … 99. Its branches are not scaled one by one: 1e-5 apart.
func TestResamplerAgainstSciPy(t *testing.T) {
	src := newCapture(t, 1, 100, 50e6, 0)
	for n := range src.Data {
		src.Data[n] = float32(7*n%11 - 5)
	}
	dst := must(must(condition.NewResampler(src, 3, 2))(t).Resampled(src))(t)
	for m, want := range map[int]float64{
		0: -3.9416030536766433, 1: -0.16325085773905543, 60: 1.3331599787601203e-16,
		75: 4.194276033789497, 76: 2.9905597657252745, 148: -4.97013827877097,
	} {
		near(t, "output", float64(dst.Data[m]), want, 5e-5)
	}
}

func TestResampledForm(t *testing.T) {
	for _, row := range []struct {
		up, down, samples, want int
	}{
		{1, 1, 10, 10}, {4, 1, 10, 37}, {1, 3, 10, 4}, {1, 3, 9, 3}, {3, 2, 1, 1}, {7, 4, 2, 2}, {1, 1024, 5, 1}, {6, 4, 100, 149},
	} {
		src := noisy(t, row.samples, 41)
		r := must(condition.NewResampler(src, row.up, row.down))(t)
		dst := must(r.Resampled(src))(t)
		if err := dst.Validate(); err != nil {
			t.Error(err)
		}
		if dst.Samples != row.want {
			t.Errorf("%d samples by %d/%d: %d, want %d", row.samples, row.up, row.down, dst.Samples, row.want)
		}
		near(t, "rate", dst.SampleRate, 50e6*float64(row.up)/float64(row.down), 1e-6)
		near(t, "first sample", dst.FirstSample, src.FirstSample, 0)
		if last := dst.Time(dst.Samples - 1); last > src.Time(src.Samples-1)+1e-15 {
			t.Errorf("last sample at %v s, beyond the record", last)
		}
	}
}

// A constant stays one, up by up and back down a record within the band returns.
func TestResamplingThereAndBack(t *testing.T) {
	src := newCapture(t, 1, 1000, 50e6, 0)
	for i := range src.Data {
		src.Data[i] = 7
	}
	for _, ratio := range ratios {
		up := must(condition.NewResampler(src, ratio.up, ratio.down))(t)
		dst := must(up.Resampled(src))(t)
		if mid := dst.Data[dst.Samples/2]; !(math.Abs(float64(mid)-7) <= 1e-5) {
			t.Errorf("a constant of 7 by %d/%d: %v", ratio.up, ratio.down, mid)
		}
	}
	noise(src.Data, 42)
	src = apply(t, src, must(condition.NewBandPass(src, &condition.BandPassOptions{Low: 4e6, High: 12e6}))(t))
	up := must(must(condition.NewResampler(src, 5, 3))(t).Resampled(src))(t)
	back := must(must(condition.NewResampler(up, 3, 5))(t).Resampled(up))(t)
	nearAll(t, "there and back", back.Data[100:900], widened(src.Data[100:900]), 5e-4)
}

func TestResamplerAllocatesOnce(t *testing.T) {
	src := noisy(t, 500, 43)
	r := must(condition.NewResampler(src, 3, 2))(t)
	want := must(r.Resampled(src))(t)
	dst := clone(want)
	clear(dst.Data)
	allocs := testing.AllocsPerRun(3, func() {
		if err := r.Apply(dst, src); err != nil {
			t.Error(err)
		}
	})
	if allocs != 0 {
		t.Errorf("%v allocations a frame, want 0", allocs)
	}
	if diff := cmp.Diff(want.Data, dst.Data); diff != "" {
		t.Errorf("a second run differs:\n%s", diff)
	}
}

func TestResamplerErrors(t *testing.T) {
	c := noisy(t, 50, 44)
	for _, f := range [][2]int{{0, 1}, {1, 0}, {-1, -1}, {1025, 1}, {1, 1025}, {1021, 1031}, {math.MinInt, 1}, {math.MaxInt, 2}} {
		if _, err := condition.NewResampler(c, f[0], f[1]); err == nil {
			t.Errorf("by %d/%d: no error", f[0], f[1])
		}
	}
	r := must(condition.NewResampler(c, 2048, 1024))(t)
	dst := must(r.Resampled(c))(t)
	if err := r.Apply(c, c); err == nil {
		t.Error("into a destination at the old rate: no error")
	}
	if err := r.Apply(dst, dst); err == nil {
		t.Error("of a source at the new rate: no error")
	}
	if _, err := r.Resampled(nil); err == nil {
		t.Error("of no source: no error")
	}
	c.Data[77] = float32(math.NaN())
	var sample *fmc.SampleError
	if err := r.Apply(dst, c); !errors.As(err, &sample) || sample.Sample != 27 {
		t.Errorf("source with NaN: error %v, want a SampleError", err)
	}
	// Between two samples at the end of float32 the record swings beyond it.
	clear(c.Data)
	c.Data[20], c.Data[21] = math.MaxFloat32, math.MaxFloat32
	if err := r.Apply(dst, c); !errors.As(err, &sample) {
		t.Errorf("overflow: error %v, want a SampleError", err)
	}
}
