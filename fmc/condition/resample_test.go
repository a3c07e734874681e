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

var ratios = []struct{ up, down int }{
	{1, 1}, {2, 1}, {4, 1}, {8, 1}, {1, 2}, {1, 5}, {3, 2}, {2, 3}, {5, 8}, {125, 128}, {441, 160},
}

// TestResampledTones checks that tones in the pass band become the same tones at the new times, and
// that tones in the stop band vanish.
func TestResampledTones(t *testing.T) {
	const samples, rate = 2000, 50e6
	src := newCapture(t, 1, samples, rate, 3e-6)
	for _, ratio := range ratios {
		r := check.Must(condition.NewResampler(src, ratio.up, ratio.down))
		lower := rate * min(1, float64(ratio.up)/float64(ratio.down))
		for _, share := range []float64{0, 0.1, 0.5, 0.79, 1.01, 1.3} { // of half the lower rate
			f := share * lower / 2
			if f > rate/2 {
				continue
			}
			tone := func(s float64) float64 { return math.Cos(2*math.Pi*f*s + 0.7) }
			for k := range src.Data {
				src.Data[k] = float32(tone(src.Time(k)))
			}
			dst := check.Must(r.Resampled(src))
			for m, v := range dst.Data {
				// Within 40 samples of the lower rate from an end, an output lacks a part.
				s := dst.Time(m)
				if s < src.FirstSample+41/lower || s > src.Time(samples-1)-41/lower {
					continue
				}
				want, tolerance := tone(s), 1.2e-4 // 0.001 dB
				if share > 1 {
					want, tolerance = 0, 1.2e-5 // 100 dB down, plus rounding
				}
				if !(math.Abs(float64(v)-want) <= tolerance) {
					t.Fatalf("%d/%d, tone at %v of the band: sample %d is %v, want %v", ratio.up,
						ratio.down, share, m, v, want)
				}
			}
		}
	}
}

// resamplerResponse measures the factor by which a resampler multiplies a tone. From the outputs
// for one sample of 1 in the middle of the record, it takes the response g at all times that are a
// multiple of 1/up samples after that sample. A place of the sample gives every down-th of these
// times, so that it takes down places.
func resamplerResponse(t *testing.T, up, down int, rate float64) func(frequency float64) float64 {
	t.Helper()
	elements := 1
	for elements*(elements+1)/2 < down {
		elements++
	}
	src := newCapture(t, elements, 1000, rate, 0)
	const middle = 450
	for p := range down {
		src.Trace(p)[middle+p] = 1
	}
	dst := check.Must(check.Must(condition.NewResampler(src, up, down)).Resampled(src))
	var times, g []float64
	for p := range down {
		for m, v := range dst.Trace(p) {
			if v != 0 {
				times = append(times, dst.Time(m)-src.Time(middle+p))
				g = append(g, float64(v)/float64(up))
			}
		}
	}
	return func(frequency float64) float64 {
		sum := 0.0
		for i, v := range g {
			sum += v * math.Cos(2*math.Pi*frequency*times[i])
		}
		return sum
	}
}

// TestResamplerIsZeroPhase checks that the response to one sample of 1 is even, as far as the
// filter reaches. The outermost coefficients have a size of 5e-7.
func TestResamplerIsZeroPhase(t *testing.T) {
	src := newCapture(t, 1, 101, 50e6, 0)
	src.Data[50] = 1
	y := check.Must(check.Must(condition.NewResampler(src, 2, 1)).Resampled(src)).Data
	for k := range 101 {
		check.Within(t, "response, mirrored", float64(y[100+k]), float64(y[100-k]), 1e-7)
	}
}

// TestResamplerLimit: a result may have 2^31 − 1 samples in all, which is 2,099,202·1023 + 1.
func TestResamplerLimit(t *testing.T) {
	c := newCapture(t, 1, 2099203, 50e6, 0)
	if _, err := condition.NewResampler(c, 1023, 1); err != nil {
		t.Error(err)
	}
	_, err := condition.NewResampler(c, 1024, 1)
	check.Error(t, err, "want at most 2147483647")
}

// TestResamplerResponse checks the response that the documentation states.
func TestResamplerResponse(t *testing.T) {
	const rate = 50e6
	src := newCapture(t, 1, 1000, rate, 0)
	for _, ratio := range ratios {
		response := resamplerResponse(t, ratio.up, ratio.down, rate)
		lower := rate * min(1, float64(ratio.up)/float64(ratio.down))
		for share := 0.0; share <= 0.8; share += 0.08 {
			check.Within(t, "pass band in dB", decibels(response(share*lower/2)), 0, 0.001)
		}
		check.Within(t, "edge in dB", decibels(response(0.9*lower/2)), -6.02, 0.01)
		step := max(lower, rate*float64(ratio.up)/25) * 0.55
		for f := lower / 2; f < rate*float64(ratio.up)/2; f += step {
			if r := response(f); !(math.Abs(r) <= 1e-5) { // −100 dB
				t.Errorf("%d/%d: response %v at %v Hz, want at most 1e-5", ratio.up, ratio.down, r,
					f)
			}
		}
		f := 0.88 * lower / 2
		amplitude := response(f)
		for k := range src.Data {
			src.Data[k] = float32(math.Sin(2 * math.Pi * f * src.Time(k)))
		}
		dst := check.Must(check.Must(condition.NewResampler(src, ratio.up,
			ratio.down)).Resampled(src))
		for m, v := range dst.Data {
			if s := dst.Time(m); s > 41/lower && s < src.Time(src.Samples-1)-41/lower {
				want := amplitude * math.Sin(2*math.Pi*f*s)
				check.Within(t, "tone on the edge", float64(v), want, 1.2e-5)
			}
		}
	}
}

// TestResamplerAgainstSciPy compares with SciPy 1.10.1, for x[n] = (7n mod 11) − 5, n = 0 … 99:
//
//	resample_poly(x, 3, 2, window=firwin(323, 0.9/3, window='blackmanharris'))
//
// SciPy does not scale each branch by itself, which makes a difference of 1e-5.
func TestResamplerAgainstSciPy(t *testing.T) {
	src := newCapture(t, 1, 100, 50e6, 0)
	for n := range src.Data {
		src.Data[n] = float32(7*n%11 - 5)
	}
	dst := check.Must(check.Must(condition.NewResampler(src, 3, 2)).Resampled(src))
	for m, want := range map[int]float64{
		0: -3.9416030536766433, 1: -0.16325085773905543, 60: 1.3331599787601203e-16,
		75: 4.194276033789497, 76: 2.9905597657252745, 148: -4.97013827877097,
	} {
		check.Within(t, "output", float64(dst.Data[m]), want, 5e-5)
	}
}

func TestResampledForm(t *testing.T) {
	for _, row := range []struct {
		up, down, samples, want int
	}{
		{1, 1, 10, 10}, {4, 1, 10, 37}, {1, 3, 10, 4}, {1, 3, 9, 3}, {3, 2, 1, 1},
		{7, 4, 2, 2}, {1, 1024, 5, 1}, {6, 4, 100, 149},
	} {
		src := noisy(t, row.samples, 41)
		r := check.Must(condition.NewResampler(src, row.up, row.down))
		dst := check.Must(r.Resampled(src))
		if err := dst.Validate(); err != nil {
			t.Error(err)
		}
		if dst.Samples != row.want {
			t.Errorf("%d samples by %d/%d: %d, want %d", row.samples, row.up, row.down, dst.Samples,
				row.want)
		}
		check.Within(t, "rate", dst.SampleRate, 50e6*float64(row.up)/float64(row.down), 1e-6)
		check.Within(t, "first sample", dst.FirstSample, src.FirstSample, 0)
		if last := dst.Time(dst.Samples - 1); last > src.Time(src.Samples-1)+1e-15 {
			t.Errorf("last sample at %v s, beyond the record", last)
		}
	}
}

// TestResamplingThereAndBack checks that a constant stays constant, and that a record within the
// band returns when it is resampled up and back down.
func TestResamplingThereAndBack(t *testing.T) {
	src := newCapture(t, 1, 1000, 50e6, 0)
	for i := range src.Data {
		src.Data[i] = 7
	}
	for _, ratio := range ratios {
		up := check.Must(condition.NewResampler(src, ratio.up, ratio.down))
		dst := check.Must(up.Resampled(src))
		if mid := dst.Data[dst.Samples/2]; !(math.Abs(float64(mid)-7) <= 1e-5) {
			t.Errorf("a constant of 7 by %d/%d: %v", ratio.up, ratio.down, mid)
		}
	}
	noise(src.Data, 42)
	src = apply(t, src, condition.BandPass{Low: 4e6, High: 12e6})
	up := check.Must(check.Must(condition.NewResampler(src, 5, 3)).Resampled(src))
	back := check.Must(check.Must(condition.NewResampler(up, 3, 5)).Resampled(up))
	allWithin(t, "there and back", back.Data[100:900], widened(src.Data[100:900]), 5e-4)
}

func TestResamplerAllocatesOnce(t *testing.T) {
	src := noisy(t, 500, 43)
	r := check.Must(condition.NewResampler(src, 3, 2))
	want := check.Must(r.Resampled(src))
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
	for _, f := range [][2]int{
		{0, 1}, {1, 0}, {-1, -1}, {1025, 1}, {1, 1025}, {1021, 1031}, {math.MinInt,
			1}, {math.MaxInt, 2},
	} {
		_, err := condition.NewResampler(c, f[0], f[1])
		check.Error(t, err, "condition: resampling by")
	}
	// All three traces together must stay below 2^31 samples.
	_, err := condition.NewResampler(newCapture(t, 2, 700_000, 50e6, 0), 1024, 1)
	check.Error(t, err,
		"condition: resampling to 716798977 samples a trace: want at most 715827882")
	r := check.Must(condition.NewResampler(c, 2048, 1024))
	dst := check.Must(r.Resampled(c))
	check.Error(t, r.Apply(c, c), "condition: dst has 50 samples a trace: want 99")
	check.Error(t, r.Apply(dst, dst), "condition: src has 99 samples a trace: want 50")
	_, err = r.Resampled(nil)
	check.Error(t, err, "condition: no src")
	c.Data[77] = float32(math.NaN())
	var sample *fmc.SampleError
	if err := r.Apply(dst, c); !errors.As(err, &sample) || sample.Sample != 27 {
		t.Errorf("source with NaN: error %v, want a SampleError", err)
	}
	// Between two samples at the limit of float32 the record is larger than they are.
	clear(c.Data)
	c.Data[20], c.Data[21] = math.MaxFloat32, math.MaxFloat32
	if err := r.Apply(dst, c); !errors.As(err, &sample) {
		t.Errorf("overflow: error %v, want a SampleError", err)
	}
}
