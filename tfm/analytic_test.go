// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/mjibson/go-dsp/fft"

	"github.com/isochron-imaging/isochron/internal/check"
)

// analyticOf returns the analytic signal of x in double precision.
func analyticOf(t testing.TB, a *Analytic, x []float64) []complex128 {
	t.Helper()
	s := a.newScratch()
	copy(s.trace, x)
	if err := a.transform(s); err != nil {
		t.Fatal(err)
	}
	return s.signal[:a.samples]
}

func noise(rng *rand.Rand, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	return x
}

func withoutMean(x []float64) []float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = v - sum/float64(len(x))
	}
	return y
}

// TestAnalyticIsConvolution compares with the filter applied tap by tap, and
// with the same product of spectra through another library's transform
// (go-dsp), for lengths on both sides of the filter's.
func TestAnalyticIsConvolution(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	for _, n := range []int{1, 2, 3, 31, 87, 88, 200, 1000} {
		a, err := NewAnalytic(n, 50e6, Band{1.6e6, 6.4e6})
		if err != nil {
			t.Fatal(err)
		}
		x := noise(rng, n)
		got := analyticOf(t, a, x)
		x = withoutMean(x)
		half := len(a.taps) / 2
		padded := make([]complex128, a.length)
		kernel := make([]complex128, a.length)
		for i, v := range x {
			padded[i] = complex(v, 0)
		}
		copy(kernel, a.taps)
		spectral := fft.Convolve(padded, kernel)
		for k := range n {
			var direct complex128
			for i, v := range x {
				if j := k - i + half; j >= 0 && j < len(a.taps) {
					direct += complex(v, 0) * a.taps[j]
				}
			}
			if d := cmplx.Abs(got[k] - direct); !(d <= 1e-12) {
				t.Fatalf("%d samples: sample %d is %v, tap by tap %v", n, k, got[k], direct)
			}
			if d := cmplx.Abs(got[k] - spectral[k+half]); !(d <= 1e-11) {
				t.Fatalf("%d samples: sample %d is %v, through go-dsp %v", n, k, got[k], spectral[k+half])
			}
		}
	}
}

// gain returns the complex amplitude that a has in the middle of a long tone of
// the frequency (Hz) and amplitude 1.
func gain(t *testing.T, a *Analytic, sampleRate, frequency float64) complex128 {
	x := make([]float64, a.samples)
	for i := range x {
		x[i] = math.Cos(2 * math.Pi * frequency / sampleRate * float64(i))
	}
	k := a.samples / 2
	return analyticOf(t, a, x)[k] / cmplx.Exp(complex(0, 2*math.Pi*frequency/sampleRate*float64(k)))
}

func TestAnalyticResponse(t *testing.T) {
	const rate = 50e6
	band := Band{1.6e6, 6.4e6}
	a, err := NewAnalytic(4000, rate, band)
	if err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		name, reason    string
		frequency, want float64
		tolerance       float64
	}{
		{"centre", "passes with the amplitude and phase that it has", 4e6, 1, 5e-4},
		{"lower edge", "the edges of the band are where the amplitude is halved", band.Low, 0.5, 1e-3},
		{"upper edge", "likewise", band.High, 0.5, 1e-3},
		{"far above", "a Blackman window's side lobes are 74 dB down at most", 10e6, 0, 2e-4},
		{"near zero", "an offset that drifts", 5e3, 0, 1e-3},
	} {
		t.Run(test.name, func(t *testing.T) {
			got := gain(t, a, rate, test.frequency)
			if !(cmplx.Abs(got-complex(test.want, 0)) <= test.tolerance) {
				t.Errorf("%s: gain %v at %v Hz, want %v", test.reason, got, test.frequency, test.want)
			}
		})
	}
}

// TestAnalyticEnvelope checks that the magnitude of the analytic signal of a Gaussian burst is the
// Gaussian for any phase of the carrier, also with an added offset of a hundred times its size.
func TestAnalyticEnvelope(t *testing.T) {
	const rate, centre, sigma = 50e6, 4e6, 0.3e-6
	a, err := NewAnalytic(1000, rate, DefaultBand(centre, 0.6, rate))
	if err != nil {
		t.Fatal(err)
	}
	for _, phase := range []float64{0, 0.7, math.Pi / 2, 3} {
		x := make([]float64, a.samples)
		for i := range x {
			s := (float64(i) - 500.3) / rate
			x[i] = 100 + math.Exp(-s*s/(2*sigma*sigma))*math.Cos(2*math.Pi*centre*s+phase)
		}
		for i, v := range analyticOf(t, a, x) {
			s := (float64(i) - 500.3) / rate
			want := math.Exp(-s * s / (2 * sigma * sigma))
			if i < 100 || i >= 900 {
				continue // the mean of the burst, taken away, is an offset of its own
			}
			if !(math.Abs(cmplx.Abs(v)-want) <= 1e-3) {
				t.Fatalf("phase %v: envelope %v at sample %d, want %v", phase, cmplx.Abs(v), i, want)
			}
		}
	}
}

func TestTransform(t *testing.T) {
	a, err := NewAnalytic(100, 50e6, Band{2e6, 6e6})
	if err != nil {
		t.Fatal(err)
	}
	src, dst := make([]float32, 100), make([]complex64, 100)
	x := make([]float64, 100)
	rng := rand.New(rand.NewPCG(1, 2))
	for i := range src {
		src[i] = float32(rng.NormFloat64())
		x[i] = float64(src[i])
	}
	if err := a.Transform(dst, src); err != nil {
		t.Fatal(err)
	}
	for i, want := range analyticOf(t, a, x) {
		if dst[i] != complex64(want) {
			t.Fatalf("sample %d is %v, want %v", i, dst[i], complex64(want))
		}
	}
	for _, bad := range []float32{float32(math.NaN()), float32(math.Inf(-1)), 1e30} {
		src[7] = bad
		check.Error(t, a.Transform(dst, src), "sample 7", "finite")
	}
	check.Error(t, a.Transform(dst, src[1:]), "99 samples into 100", "want 100")
	check.Error(t, a.Transform(dst[1:], src), "100 samples into 99")
}

func TestDefaultBand(t *testing.T) {
	for _, test := range []struct {
		name                    string
		centre, bandwidth, rate float64
		want                    Band
	}{
		{"usual", 5e6, 0.6, 50e6, Band{2e6, 8e6}},
		{"wide", 5e6, 1.2, 50e6, Band{1e6, 11e6}},
		{"sampled near the limit", 10e6, 0.6, 25e6, Band{4e6, 11.25e6}},
	} {
		got := DefaultBand(test.centre, test.bandwidth, test.rate)
		if !(math.Abs(got.Low-test.want.Low) <= 1 && math.Abs(got.High-test.want.High) <= 1) {
			t.Errorf("%s: %v, want %v", test.name, got, test.want)
		}
	}
}

func TestBadAnalytic(t *testing.T) {
	for _, test := range []struct {
		name    string
		samples int
		rate    float64
		band    Band
		words   []string
	}{
		{"no samples", 0, 50e6, Band{1e6, 2e6}, []string{"0 samples", "at least 1"}},
		{"no rate", 10, 0, Band{1e6, 2e6}, []string{"sample rate 0", "above 0"}},
		{"negative rate", 10, -1, Band{1e6, 2e6}, []string{"sample rate -1"}},
		{"NaN rate", 10, math.NaN(), Band{1e6, 2e6}, []string{"sample rate NaN"}},
		{"band in MHz", 10, 50e6, Band{2, 6}, []string{"pass band 2 to 6 Hz", "at least 50000 Hz"}},
		{"band in kHz", 10, 50e6, Band{2000, 6000}, []string{"pass band 2000 to 6000 Hz"}},
		{"band from zero", 10, 50e6, Band{0, 2e6}, []string{"pass band 0", "0 < low"}},
		{"band reversed", 10, 50e6, Band{3e6, 2e6}, []string{"low < high"}},
		{"band beyond half the rate", 10, 50e6, Band{3e6, 25e6}, []string{"half the sample rate"}},
		{"NaN band", 10, 50e6, Band{math.NaN(), 25e6}, []string{"NaN"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := NewAnalytic(test.samples, test.rate, test.band)
			check.Error(t, err, test.words...)
		})
	}
}

func BenchmarkAnalytic(b *testing.B) {
	a, err := NewAnalytic(2048, 50e6, Band{2e6, 8e6})
	if err != nil {
		b.Fatal(err)
	}
	src, dst := make([]float32, 2048), make([]complex64, 2048)
	for b.Loop() {
		_ = a.Transform(dst, src)
	}
}
