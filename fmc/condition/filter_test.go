// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition_test

import (
	"math"
	"math/cmplx"
	"slices"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/mjibson/go-dsp/fft"
	"gonum.org/v1/gonum/dsp/fourier"
)

// convolved is the direct sum in float64 of x and the filter whose response to
// an impulse at origin is h, at the times of x.
func convolved(x, h []float64, origin int) []float64 {
	y := make([]float64, len(x))
	for n := range y {
		for k, v := range x {
			if i := n - k + origin; i >= 0 && i < len(h) {
				y[n] += v * h[i]
			}
		}
	}
	return y
}

func TestFiltersAgainstDirectSum(t *testing.T) {
	pulse := []float32{0.5, -1, 2, 3, -1.5}
	for _, samples := range lengths {
		c := noisy(t, samples, 11)
		long := newCapture(t, 1, 401, 50e6, 1e-6)
		for name, make := range map[string]func(c *fmc.Capture) condition.Step{
			"band-pass":      func(c *fmc.Capture) condition.Step { return must(condition.NewBandPass(c, nil))(t) },
			"matched filter": func(c *fmc.Capture) condition.Step { return must(condition.NewMatchedFilter(c, pulse, 3))(t) },
		} {
			h := impulseResponse(t, long, make(long))
			got := apply(t, c, make(c))
			for p := range c.Pairs {
				nearAll(t, name, got.Trace(p), convolved(widened(c.Trace(p)), h, 200), 3e-6)
			}
		}
	}
}

// The response that the filter states is the transform of what it makes of an
// impulse, by gonum's transform and by go-dsp's.
func TestFilterResponses(t *testing.T) {
	const samples, rate = 1024, 50e6
	c := newCapture(t, 1, samples, rate, 0)
	band := must(condition.NewBandPass(c, &condition.BandPassOptions{Low: 3e6, High: 9e6, Transition: 1e6}))(t)
	pulse := make([]float32, 40)
	noise(pulse, 12)
	matched := must(condition.NewMatchedFilter(c, pulse, 17))(t)
	for _, row := range []struct {
		name     string
		step     condition.Step
		response func(f float64) complex128
	}{
		{"band-pass", band, func(f float64) complex128 { return complex(band.Response(f), 0) }},
		{"matched filter", matched, matched.Response},
	} {
		h := impulseResponse(t, c, row.step)
		// Time 0 of the response is the impulse.
		h = append(slices.Clone(h[samples/2:]), h[:samples/2]...)
		byGonum := fourier.NewFFT(samples).Coefficients(nil, h)
		byGoDSP := fft.FFTReal(h)
		for i := range samples/2 + 1 {
			want := row.response(float64(i) * rate / samples)
			if !(cmplx.Abs(byGonum[i]-want) <= 1e-6) || !(cmplx.Abs(byGoDSP[i]-want) <= 1e-6) {
				t.Fatalf("%s at %d/%d of the sample rate: measured %v and %v, stated %v", row.name, i, samples, byGonum[i], byGoDSP[i], want)
			}
		}
	}
}

// A tone keeps its phase and gets the amplitude that the response states.
func TestBandPassTones(t *testing.T) {
	const samples, rate = 1200, 50e6
	c := newCapture(t, 1, samples, rate, 3e-6)
	band := must(condition.NewBandPass(c, nil))(t)
	for _, f := range []float64{0, 1e6, 2e6, 3.3e6, 5e6, 7.7e6, 8e6, 12e6, 24e6} {
		want := make([]float64, samples)
		for k := range samples {
			tone := math.Cos(2*math.Pi*f*c.Time(k) + 0.4)
			c.Data[k] = float32(tone)
			want[k] = band.Response(f) * tone
		}
		got := apply(t, c, band).Data
		// Away from the ends by the reach of the filter, 35 samples.
		nearAll(t, "tone", got[35:samples-35], want[35:samples-35], 2e-6)
	}
}

func TestBandPassShape(t *testing.T) {
	const rate = 50e6
	c := newCapture(t, 1, 10, rate, 0)
	for _, o := range []condition.BandPassOptions{
		{},
		{Low: 1e6, High: 3e6},
		{Low: 4e6, High: 20e6},
		{Low: 4.5e6, High: 5.5e6, Transition: 0.5e6},
		{Low: 3e6, High: 24e6},
		{Low: 2e6, High: 8e6, Transition: 0.1e6},
	} {
		band := must(condition.NewBandPass(c, &o))(t)
		low, high := o.Low, o.High
		if low == 0 {
			low, high = 2e6, 8e6 // 5 MHz and 0.6 of it on either side
		}
		transition := o.Transition
		if transition == 0 {
			transition = min(2*low, high-low, rate-2*high)
		}
		near(t, "lower edge in dB", decibels(band.Response(low)), -6.02, 0.03)
		near(t, "upper edge in dB", decibels(band.Response(high)), -6.02, 0.03)
		for f := 0.0; f <= rate/2; f += 0.05e6 {
			switch r := band.Response(f); {
			case f >= low+transition/2 && f <= high-transition/2:
				near(t, "pass band in dB", decibels(r), 0, 0.005)
			case f <= low-transition/2 || f >= high+transition/2:
				if !(math.Abs(r) <= 5e-4) { // −66 dB
					t.Fatalf("%+v: response %v at %v Hz, want at most 5e-4", o, r, f)
				}
			}
		}
	}
}

// SciPy 1.10.1: firwin(71, [2e6, 8e6], pass_zero=False, window='blackman',
// fs=50e6, scale=False)[10, 20, 30, 34, 35]
func TestBandPassAgainstSciPy(t *testing.T) {
	c := newCapture(t, 1, 201, 50e6, 0)
	h := impulseResponse(t, c, must(condition.NewBandPass(c, nil))(t))
	for i, want := range map[int]float64{
		10: -8.462471783332424e-19, 20: 0.011454952962203271, 30: -0.1114489257994292,
		34: 0.18897209158520276, 35: 0.23999999999999996,
	} {
		near(t, "coefficient", h[100-35+i], want, 2e-8)
	}
}

// Zero phase: the response to an impulse is even, and filtering commutes with
// the reversal of time.
func TestBandPassIsZeroPhase(t *testing.T) {
	c := newCapture(t, 1, 201, 50e6, 0)
	band := must(condition.NewBandPass(c, nil))(t)
	h := impulseResponse(t, c, band)
	for i := range 101 {
		near(t, "impulse response, mirrored", h[100+i], h[100-i], 0)
	}
	noise(c.Data, 13)
	forward := apply(t, c, band).Data
	slices.Reverse(c.Data)
	backward := widened(apply(t, c, band).Data)
	slices.Reverse(backward)
	nearAll(t, "reversed", forward, backward, 2e-6)
}

// Parseval: the energy after the filter is that of the spectrum times the
// response, for a trace that ends soon enough for the filter to die out.
func TestFilterEnergy(t *testing.T) {
	const samples, rate = 1000, 50e6
	c := newCapture(t, 1, samples, rate, 0)
	noise(c.Data[200:800], 14)
	pulse := make([]float32, 60)
	noise(pulse, 15)
	band := must(condition.NewBandPass(c, nil))(t)
	matched := must(condition.NewMatchedFilter(c, pulse, 20))(t)
	for name, filter := range map[string]struct {
		step     condition.Step
		response func(f float64) float64
	}{
		"band-pass":      {band, band.Response},
		"matched filter": {matched, func(f float64) float64 { return cmplx.Abs(matched.Response(f)) }},
	} {
		energy := 0.0
		for _, v := range apply(t, c, filter.step).Data {
			energy += float64(v) * float64(v)
		}
		want := 0.0
		for i, x := range fft.FFTReal(widened(c.Data)) {
			r := filter.response(float64(i) * rate / samples)
			want += real(x*cmplx.Conj(x)) * r * r / samples
		}
		near(t, name+": energy", energy/want, 1, 2e-6)
	}
}

// Echoes with the spectrum of the array pass; the default is the band of tfm.
func TestDefaultBand(t *testing.T) {
	for _, row := range []struct{ centre, bandwidth, rate float64 }{
		{5e6, 0.6, 50e6}, {5e6, 1.2, 50e6}, {5e6, 0.3, 12.5e6}, {10e6, 0.8, 100e6},
	} {
		c := newCapture(t, 1, 10, row.rate, 0)
		c.Array.CentreFrequency, c.Array.Bandwidth = row.centre, row.bandwidth
		want := tfm.DefaultBand(row.centre, row.bandwidth, row.rate)
		byDefault := must(condition.NewBandPass(c, nil))(t)
		told := must(condition.NewBandPass(c, &condition.BandPassOptions{Low: want.Low, High: want.High}))(t)
		for f := 0.0; f < row.rate/2; f += row.rate / 200 {
			near(t, "response", byDefault.Response(f), told.Response(f), 0)
		}
		near(t, "response at the lower edge of tfm's band in dB", decibels(byDefault.Response(want.Low)), -6.02, 0.05)
	}
}

func TestBandPassErrors(t *testing.T) {
	c := newCapture(t, 1, 10, 50e6, 0)
	nan := math.NaN()
	for _, row := range []struct {
		name    string
		options condition.BandPassOptions
		want    string
	}{
		{"negative", condition.BandPassOptions{Low: -1}, "pass band"},
		{"NaN", condition.BandPassOptions{High: nan}, "pass band"},
		{"crossed", condition.BandPassOptions{Low: 8e6, High: 2e6}, "pass band 8e+06 to 2e+06 Hz"},
		{"half the rate", condition.BandPassOptions{High: 25e6}, "half the sample rate"},
		{"infinite", condition.BandPassOptions{High: math.Inf(1)}, "half the sample rate"},
		{"edges that meet", condition.BandPassOptions{Low: 4e6, High: 6e6, Transition: 3e6}, "transition of 3e+06 Hz: want"},
		{"edge below zero", condition.BandPassOptions{Low: 1e6, High: 6e6, Transition: 3e6}, "transition"},
		{"edge above half the rate", condition.BandPassOptions{Low: 4e6, High: 24e6, Transition: 3e6}, "transition"},
		{"too narrow", condition.BandPassOptions{Transition: 1}, "transition of 1 Hz"},
		{"NaN transition", condition.BandPassOptions{Transition: nan}, "transition of NaN Hz"},
		{"low beyond resolution", condition.BandPassOptions{Low: 1}, "transition of 2 Hz"},
	} {
		_, err := condition.NewBandPass(c, &row.options)
		if err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%s: error %v, want %q", row.name, err, row.want)
		}
	}
	// The array's band does not fit below half the sample rate.
	if _, err := condition.NewBandPass(newCapture(t, 1, 10, 4e6, 0), nil); err == nil {
		t.Error("default band at 4 MHz: no error")
	}
}

// SciPy 1.10.1: correlate(x, p, 'full')/sum(p*p) at the lags −2, −1, 48, 49 and
// 97, x[n] = (7n mod 11) − 5 for n = 0 … 99, p as below.
func TestMatchedFilterAgainstSciPy(t *testing.T) {
	c := newCapture(t, 1, 100, 50e6, 0)
	for n := range c.Data {
		c.Data[n] = float32(7*n%11 - 5)
	}
	matched := must(condition.NewMatchedFilter(c, []float32{0, 1, -2, 3, -1, 0.5}, 2))(t)
	got := apply(t, c, matched).Data
	for k, want := range map[int]float64{
		0: 1.3442622950819672, 1: -1.278688524590164, 50: -0.36065573770491804,
		51: -0.7540983606557377, 99: 0.5901639344262295,
	} {
		near(t, "output", float64(got[k]), want, 1e-6)
	}
}

func TestMatchedFilterFindsTheEcho(t *testing.T) {
	c := newCapture(t, 1, 100000, 50e6, 0)
	const centre, at, amplitude, sigma = 30, 700, 0.8, 0.5
	pulse := make([]float32, 61)
	energy := 0.0
	for i := range pulse {
		s := float64(i-centre) / 50e6
		pulse[i] = float32(math.Exp(-s*s*1e13) * math.Cos(2*math.Pi*5e6*s))
		energy += float64(pulse[i]) * float64(pulse[i])
	}
	matched := must(condition.NewMatchedFilter(c, pulse, centre))(t)
	for i, v := range pulse {
		c.Data[at+i-centre] = amplitude * v
	}
	clean := apply(t, c, matched).Data
	near(t, "peak", float64(slices.Max(clean)), amplitude, 1e-6)
	if k := slices.Index(clean, slices.Max(clean)); k != at {
		t.Errorf("peak at sample %d, want %d", k, at)
	}
	noise(c.Data, 16)
	sum := 0.0
	for _, v := range apply(t, c, matched).Data {
		sum += sigma * sigma * float64(v) * float64(v)
	}
	near(t, "noise after the filter over σ/√E", math.Sqrt(sum/100000)/(sigma/math.Sqrt(energy)), 1, 0.03)
}

func TestMatchedFilterErrors(t *testing.T) {
	c := newCapture(t, 1, 10, 50e6, 0)
	for _, row := range []struct {
		name   string
		pulse  []float32
		centre int
		want   string
	}{
		{"empty", nil, 0, "pulse of 0 samples"},
		{"long", make([]float32, 8194), 0, "pulse of 8194 samples"},
		{"centre below", []float32{1}, -1, "centre -1"},
		{"centre beyond", []float32{1}, 1, "centre 1 of the pulse: want 0 to 0"},
		{"zero", []float32{0, 0}, 0, "peak 0"},
		{"tiny", []float32{1e-30}, 0, "want 1e-15"},
		{"huge", []float32{1e30}, 0, "want 1e-15"},
		{"NaN", []float32{1, float32(math.NaN())}, 0, "sample 1 of the pulse is NaN"},
		{"Inf", []float32{float32(math.Inf(1))}, 0, "sample 0 of the pulse is +Inf"},
	} {
		_, err := condition.NewMatchedFilter(c, row.pulse, row.centre)
		if err == nil || !strings.Contains(err.Error(), row.want) {
			t.Errorf("%s: error %v, want %q", row.name, err, row.want)
		}
	}
}
