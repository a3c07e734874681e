// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package condition_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/mjibson/go-dsp/fft"
	"gonum.org/v1/gonum/dsp/fourier"
)

// convolved returns the direct convolution in float64 of x with h, at the times of x. The response
// h belongs to an impulse at index origin.
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
		for _, step := range []condition.Step{
			condition.BandPass{}, condition.MatchedFilter{Pulse: pulse, Centre: 3},
		} {
			h := impulseResponse(t, long, step)
			got := apply(t, c, step)
			for p := range c.Pairs {
				allWithin(t, fmt.Sprintf("%T", step), got.Trace(p),
					convolved(widened(c.Trace(p)), h, 200), 3e-6)
			}
		}
	}
}

// TestResponse compares the response with the transform of the output for an impulse, by the
// transform of gonum and by the transform of go-dsp.
func TestResponse(t *testing.T) {
	const samples, rate = 1024, 50e6
	c := newCapture(t, 1, samples, rate, 0)
	band := condition.BandPass{Low: 3e6, High: 9e6, Transition: 1e6}
	pulse := make([]float32, 40)
	noise(pulse, 12)
	matched := condition.MatchedFilter{Pulse: pulse, Centre: 17}
	offset := condition.OffsetRemoval{From: 0, To: 0} // the sample there is 0
	for name, steps := range map[string][]condition.Step{
		"band-pass":      {band},
		"matched filter": {matched},
		"both":           {band, matched},
		"no filter":      {offset},
	} {
		h := make([]float64, samples)
		c := clone(c)
		c.Data[samples/2] = 1
		// Time 0 of the response is the impulse.
		for k, v := range apply(t, c, steps...).Data {
			h[(k+samples/2)%samples] = float64(v)
		}
		byGonum := fourier.NewFFT(samples).Coefficients(nil, h)
		byGoDSP := fft.FFTReal(h)
		chain := chained(c, steps...)
		for i := range samples/2 + 1 {
			want := chain.Response(float64(i) * rate / samples)
			if !(cmplx.Abs(byGonum[i]-want) <= 1e-6) || !(cmplx.Abs(byGoDSP[i]-want) <= 1e-6) {
				t.Fatalf("%s at %d/%d of the sample rate: transforms %v and %v, response %v",
					name, i, samples, byGonum[i], byGoDSP[i], want)
			}
		}
	}
}

// realResponse returns the response of a step that adds no phase. It is NaN if there is a phase.
func realResponse(c *fmc.Capture, step condition.Step) func(frequency float64) float64 {
	chain := chained(c, step)
	return func(frequency float64) float64 {
		r := chain.Response(frequency)
		if !(math.Abs(imag(r)) <= 1e-12) {
			return math.NaN()
		}
		return real(r)
	}
}

// TestBandPassTones checks that a tone keeps its phase and gets the amplitude of the response.
func TestBandPassTones(t *testing.T) {
	const samples, rate = 1200, 50e6
	c := newCapture(t, 1, samples, rate, 3e-6)
	band := condition.BandPass{}
	response := realResponse(c, band)
	for _, f := range []float64{0, 1e6, 2e6, 3.3e6, 5e6, 7.7e6, 8e6, 12e6, 24e6} {
		want := make([]float64, samples)
		for k := range samples {
			tone := math.Cos(2*math.Pi*f*c.Time(k) + 0.4)
			c.Data[k] = float32(tone)
			want[k] = response(f) * tone
		}
		got := apply(t, c, band).Data
		// Both ends are left out, as far as the filter reaches: 35 samples.
		allWithin(t, "tone", got[35:samples-35], want[35:samples-35], 2e-6)
	}
}

func TestBandPassShape(t *testing.T) {
	const rate = 50e6
	c := newCapture(t, 1, 10, rate, 0)
	for _, o := range []condition.BandPass{
		{},
		{Low: 1e6, High: 3e6},
		{Low: 4e6, High: 20e6},
		{Low: 4.5e6, High: 5.5e6, Transition: 0.5e6},
		{Low: 3e6, High: 24e6},
		{Low: 2e6, High: 8e6, Transition: 0.1e6},
	} {
		response := realResponse(c, o)
		low, high := o.Low, o.High
		if low == 0 {
			low, high = 2e6, 8e6 // 5 MHz ∓ 0.6 · 5 MHz
		}
		transition := o.Transition
		if transition == 0 {
			transition = min(2*low, high-low, rate-2*high)
		}
		check.Within(t, "lower edge in dB", decibels(response(low)), -6.02, 0.03)
		check.Within(t, "upper edge in dB", decibels(response(high)), -6.02, 0.03)
		for f := 0.0; f <= rate/2; f += 0.05e6 {
			switch r := response(f); {
			case f >= low+transition/2 && f <= high-transition/2:
				check.Within(t, "pass band in dB", decibels(r), 0, 0.005)
			case f <= low-transition/2 || f >= high+transition/2:
				if !(math.Abs(r) <= 5e-4) { // −66 dB
					t.Fatalf("%+v: response %v at %v Hz, want at most 5e-4", o, r, f)
				}
			}
		}
	}
}

// TestBandPassAgainstSciPy compares coefficients with SciPy 1.10.1:
//
//	firwin(71, [2e6, 8e6], pass_zero=False, window='blackman', fs=50e6, scale=False)
func TestBandPassAgainstSciPy(t *testing.T) {
	c := newCapture(t, 1, 201, 50e6, 0)
	h := impulseResponse(t, c, condition.BandPass{})
	for i, want := range map[int]float64{
		10: -8.462471783332424e-19, 20: 0.011454952962203271, 30: -0.1114489257994292,
		34: 0.18897209158520276, 35: 0.23999999999999996,
	} {
		check.Within(t, "coefficient", h[100-35+i], want, 2e-8)
	}
}

// TestBandPassIsZeroPhase checks that the response to an impulse is even, and that filtering
// commutes with the reversal of time.
func TestBandPassIsZeroPhase(t *testing.T) {
	c := newCapture(t, 1, 201, 50e6, 0)
	band := condition.BandPass{}
	h := impulseResponse(t, c, band)
	for i := range 101 {
		check.Within(t, "impulse response, mirrored", h[100+i], h[100-i], 0)
	}
	noise(c.Data, 13)
	forward := apply(t, c, band).Data
	slices.Reverse(c.Data)
	backward := widened(apply(t, c, band).Data)
	slices.Reverse(backward)
	allWithin(t, "reversed", forward, backward, 2e-6)
}

// TestFilterEnergy checks Parseval's theorem: the energy after the filter is the energy of the
// spectrum times the response. The trace is zero near its ends, as far as the filter reaches.
func TestFilterEnergy(t *testing.T) {
	const samples, rate = 1000, 50e6
	c := newCapture(t, 1, samples, rate, 0)
	noise(c.Data[200:800], 14)
	pulse := make([]float32, 60)
	noise(pulse, 15)
	for _, step := range []condition.Step{
		condition.BandPass{}, condition.MatchedFilter{Pulse: pulse, Centre: 20},
	} {
		chain := chained(c, step)
		energy := 0.0
		for _, v := range apply(t, c, step).Data {
			energy += float64(v) * float64(v)
		}
		want := 0.0
		for i, x := range fft.FFTReal(widened(c.Data)) {
			r := cmplx.Abs(chain.Response(float64(i) * rate / samples))
			want += real(x*cmplx.Conj(x)) * r * r / samples
		}
		check.Within(t, fmt.Sprintf("energy after %T", step), energy/want, 1, 2e-6)
	}
}

// TestDefaultBand checks that the default band is the band of package tfm.
func TestDefaultBand(t *testing.T) {
	for _, row := range []struct{ centre, bandwidth, rate float64 }{
		{5e6, 0.6, 50e6}, {5e6, 1.2, 50e6}, {5e6, 0.3, 12.5e6}, {10e6, 0.8, 100e6},
	} {
		c := newCapture(t, 1, 10, row.rate, 0)
		c.Array.CentreFrequency, c.Array.Bandwidth = row.centre, row.bandwidth
		want := tfm.DefaultBand(row.centre, row.bandwidth, row.rate)
		byDefault := realResponse(c, condition.BandPass{})
		told := realResponse(c, condition.BandPass{Low: want.Low, High: want.High})
		for f := 0.0; f < row.rate/2; f += row.rate / 200 {
			check.Within(t, "response", byDefault(f), told(f), 0)
		}
		check.Within(t, "response at the lower edge of tfm's band in dB",
			decibels(byDefault(want.Low)), -6.02, 0.05)
	}
}

func TestBandPassErrors(t *testing.T) {
	c := newCapture(t, 1, 10, 50e6, 0)
	nan := math.NaN()
	for _, row := range []struct {
		name string
		step condition.BandPass
		want string
	}{
		{"negative", condition.BandPass{Low: -1}, "pass band"},
		{"NaN", condition.BandPass{High: nan}, "pass band"},
		{"crossed", condition.BandPass{Low: 8e6, High: 2e6}, "pass band 8e+06 to 2e+06 Hz"},
		{"half the rate", condition.BandPass{High: 25e6}, "half the sample rate"},
		{"infinite", condition.BandPass{High: math.Inf(1)}, "half the sample rate"},
		{"edges that meet", condition.BandPass{Low: 4e6, High: 6e6, Transition: 3e6},
			"transition of 3e+06 Hz: want"},
		{"edge below zero", condition.BandPass{Low: 1e6, High: 6e6, Transition: 3e6},
			"transition"},
		{"edge above half the rate",
			condition.BandPass{Low: 4e6, High: 24e6, Transition: 3e6}, "transition"},
		{"too narrow", condition.BandPass{Transition: 1}, "transition of 1 Hz"},
		{"NaN transition", condition.BandPass{Transition: nan}, "transition of NaN Hz"},
		{"low beyond resolution", condition.BandPass{Low: 1}, "transition of 2 Hz"},
	} {
		_, err := condition.NewChain(c, row.step)
		check.Error(t, err, "condition: ", row.want)
	}
	// The band of the array does not fit below half the sample rate.
	_, err := condition.NewChain(newCapture(t, 1, 10, 4e6, 0), condition.BandPass{})
	check.Error(t, err, "condition: pass band")
}

// TestMatchedFilterAgainstSciPy compares with SciPy 1.10.1: correlate(x, p, 'full')/sum(p*p) at the
// lags −2, −1, 48, 49 and 97, for x[n] = (7n mod 11) − 5, n = 0 … 99, and the pulse p below.
func TestMatchedFilterAgainstSciPy(t *testing.T) {
	c := newCapture(t, 1, 100, 50e6, 0)
	for n := range c.Data {
		c.Data[n] = float32(7*n%11 - 5)
	}
	matched := condition.MatchedFilter{Pulse: []float32{0, 1, -2, 3, -1, 0.5}, Centre: 2}
	got := apply(t, c, matched).Data
	for k, want := range map[int]float64{
		0: 1.3442622950819672, 1: -1.278688524590164, 50: -0.36065573770491804,
		51: -0.7540983606557377, 99: 0.5901639344262295,
	} {
		check.Within(t, "output", float64(got[k]), want, 1e-6)
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
	matched := condition.MatchedFilter{Pulse: pulse, Centre: centre}
	for i, v := range pulse {
		c.Data[at+i-centre] = amplitude * v
	}
	clean := apply(t, c, matched).Data
	check.Within(t, "peak", float64(slices.Max(clean)), amplitude, 1e-6)
	if k := slices.Index(clean, slices.Max(clean)); k != at {
		t.Errorf("peak at sample %d, want %d", k, at)
	}
	noise(c.Data, 16)
	sum := 0.0
	for _, v := range apply(t, c, matched).Data {
		sum += sigma * sigma * float64(v) * float64(v)
	}
	check.Within(t, "noise after the filter over σ/√E",
		math.Sqrt(sum/100000)/(sigma/math.Sqrt(energy)), 1,
		0.03)
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
		_, err := condition.NewChain(c,
			condition.MatchedFilter{Pulse: row.pulse, Centre: row.centre})
		check.Error(t, err, "condition: ", row.want)
	}
}
