// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"

	"github.com/isochron-imaging/isochron/sizing"
)

// lateral are two-way profiles of a beam, of width 1 at half their height.
var lateral = map[string]func(x float64) float64{
	"gauss": func(x float64) float64 { return math.Exp2(-4 * x * x) },
	"sinc²": func(x float64) float64 { return sinc2(0.885892941 * x) },
}

// sinc2 is (sin(πu)/(πu))².
func sinc2(u float64) float64 {
	if u == 0 {
		return 1
	}
	s := math.Sin(math.Pi*u) / (math.Pi * u)
	return s * s
}

// sample returns n samples of f from x = from on, spacing apart.
func sample(n int, from, spacing float64, f func(float64) float64) []float64 {
	s := make([]float64, n)
	for i := range s {
		s[i] = f(from + float64(i)*spacing)
	}
	return s
}

func TestDropOfKnownProfiles(t *testing.T) {
	gauss := lateral["gauss"]
	for _, test := range []struct {
		name, reason string
		f            func(float64) float64
		drop, want   float64
	}{
		{"Gaussian, half", "its width is defined there", gauss, sizing.SixDB, 1},
		{"Gaussian, 3 dB", "a Gaussian's width grows as the root of the drop in dB", gauss, 3, math.Sqrt(3 / sizing.SixDB)},
		{"Gaussian, 20 dB", "the same", gauss, 20, math.Sqrt(20 / sizing.SixDB)},
		// Levels of sinc u: independent calculation, mpmath 1.2.1. One way and two ways
		// differ by a factor of two in dB.
		{"sinc², half", "sinc is 1/√2 at u 0.442946470689", sinc2, sizing.SixDB, 2 * 0.442946470689},
		{"sinc², half of half", "sinc is 1/2 at u 0.603354564402", sinc2, 2 * sizing.SixDB, 2 * 0.603354564402},
		{"sinc², 12 dB", "sinc is at -6 dB at u 0.602479834165", sinc2, 12, 2 * 0.602479834165},
		{"sinc², 20 dB", "sinc is at -10 dB at u 0.738026434624", sinc2, 20, 2 * 0.738026434624},
		{"sinc², 40 dB", "sinc is at -20 dB at u 0.907928623780; the zero at u 1 parts that from the side lobes", sinc2, 40, 2 * 0.907928623780},
	} {
		t.Run(test.name, func(t *testing.T) {
			// The chord of a linear interpolation misses a curve by the square of the
			// spacing, most where the profile is flat, as before its zero.
			const spacing = 1e-3
			got, err := sizing.Drop(sample(4001, -2+0.0003, spacing, test.f), spacing, test.drop)
			if err != nil {
				t.Fatal(err)
			}
			if err := math.Abs(got.Length() - test.want); !(err <= 5e-6) {
				t.Errorf("length %.9f, want %.9f: %s", got.Length(), test.want, test.reason)
			}
			if err := math.Abs((got.From+got.To)/2 - (2 - 0.0003)); !(err <= 1e-6) {
				t.Errorf("extent %v to %v, want it about %v", got.From, got.To, 2-0.0003)
			}
			if got.OpenFrom || got.OpenTo {
				t.Errorf("extent %+v, want both ends inside", got)
			}
		})
	}
}

// The bounds are those that doc.go states.
func TestDropBetweenSamples(t *testing.T) {
	for name, f := range lateral {
		for _, samples := range []struct {
			across           float64 // samples across the width at half height
			peak, level, len float64 // bounds: samples, of the amplitude, of the width
		}{{3, 0.01, 0.006, 0.02}, {5, 0.003, 0.001, 0.009}, {10, 0.001, 0.0001, 0.003}} {
			for shift := 0.0; shift < 1; shift += 0.01 {
				spacing := 1 / samples.across
				at := (20 + shift) * spacing
				got, err := sizing.Drop(sample(42, -at, spacing, f), spacing, sizing.SixDB)
				if err != nil {
					t.Fatal(err)
				}
				if err := math.Abs(got.Peak-at) / spacing; !(err <= samples.peak) {
					t.Errorf("%s, %v samples, shift %.2f: peak %.2g samples off, want %v at most", name, samples.across, shift, err, samples.peak)
				}
				if err := math.Abs(got.Amplitude - 1); !(err <= samples.level) {
					t.Errorf("%s, %v samples, shift %.2f: amplitude %v, want 1 within %v", name, samples.across, shift, got.Amplitude, samples.level)
				}
				if err := math.Abs(got.Length() - 1); !(err <= samples.len) {
					t.Errorf("%s, %v samples, shift %.2f: length %v, want 1 within %v", name, samples.across, shift, got.Length(), samples.len)
				}
			}
		}
	}
}

// convolution is the apparent length, at half the amplitude, of a uniform strip of
// length true that reflects in phase, scanned with a two-way profile: both in
// units of the profile's width at half height. Convolution model, independent
// calculation, mpmath 1.2.1.
var convolution = []struct{ true, gauss, sinc2 float64 }{
	{0, 1, 1},
	{0.25, 1.0145279, 1.0107706},
	{0.5, 1.0591154, 1.0446588},
	{0.75, 1.1364040, 1.1066855},
	{1, 1.2493707, 1.2058777},
	{2, 2.0197258, 2.0527753},
	{3, 3.0004386, 3.0550635},
	{5, 5.0000000, 5.0289216},
	{10, 10.0000000, 10.0135530},
}

// strip returns the profile of a uniform strip of a length about 0, scanned with
// profile f: at every x the integral of f over the strip; f itself where the length
// is 0.
func strip(f func(float64) float64, length float64) func(x float64) float64 {
	if length == 0 {
		return f
	}
	return func(x float64) float64 {
		// Ten points to each half of a width or less integrate these profiles to rounding.
		pieces := int(math.Ceil(length / 0.5))
		var sum float64
		for i := range pieces {
			a := x - length/2 + length*float64(i)/float64(pieces)
			sum += quad.Fixed(f, a, a+length/float64(pieces), 10, quad.Legendre{}, 0)
		}
		return sum
	}
}

func TestDropOfStrips(t *testing.T) {
	for _, row := range convolution {
		for name, want := range map[string]float64{"gauss": row.gauss, "sinc²": row.sinc2} {
			const spacing = 0.005
			half := row.true/2 + 1
			n := 2*int(math.Round(half/spacing)) + 1
			profile := sample(n, -half, spacing, strip(lateral[name], row.true))
			got, err := sizing.Drop(profile, spacing, sizing.SixDB)
			if err != nil {
				t.Fatal(err)
			}
			// A long strip of sinc² has its peaks near its ends, by the ripple of its
			// side lobes; the table is of the level half-way to its middle.
			level := sizing.LevelDB(got.Amplitude, profile[n/2])
			if level > 1e-9 {
				if got, err = sizing.Drop(profile, spacing, sizing.SixDB+level); err != nil {
					t.Fatal(err)
				}
			}
			if err := math.Abs(got.Length() - want); !(err <= 2e-5) {
				t.Errorf("%s strip of %v: length %.7f (peak %.4f dB over the middle), want %.7f", name, row.true, got.Length(), level, want)
			}
		}
	}
}

func TestDropAtTheEdge(t *testing.T) {
	const six = sizing.SixDB
	for _, test := range []struct {
		name, reason string
		profile      []float64
		drop         float64
		want         sizing.Extent
	}{
		{"one sample", "nothing is known on either side", []float64{3}, six, sizing.Extent{Amplitude: 3, OpenFrom: true, OpenTo: true}},
		{"one high sample", "the crossings of 1 between 2 and 0 are half way", []float64{0, 2, 0}, six, sizing.Extent{Peak: 1, Amplitude: 2, From: 0.5, To: 1.5}},
		{"runs off the start", "no crossing before the first sample", []float64{2, 1.5, 0.5}, six, sizing.Extent{Amplitude: 2, To: 1.5, OpenFrom: true}},
		{"runs off the end", "no crossing behind the last sample", []float64{0.5, 1.5, 2}, six, sizing.Extent{Peak: 2, Amplitude: 2, From: 0.5, To: 2, OpenTo: true}},
		{"flat top", "the peak is its middle", []float64{0, 4, 4, 4, 4, 0}, six, sizing.Extent{Peak: 2.5, Amplitude: 4, From: 0.5, To: 4.5}},
		{"flat throughout", "the profile never falls", []float64{1, 1, 1}, six, sizing.Extent{Peak: 1, Amplitude: 1, To: 2, OpenFrom: true, OpenTo: true}},
		{"equal peaks", "the first is taken; its crossings are the nearest ones", []float64{0, 2, 0, 2, 0}, six, sizing.Extent{Peak: 1, Amplitude: 2, From: 0.5, To: 1.5}},
		{"a dip above the level", "belongs to the extent", []float64{0, 2, 1.2, 1.8, 0}, six, sizing.Extent{Peak: 1, Amplitude: 2, From: 0.5, To: 3 + 0.8/1.8}},
		{"a dip to the level", "belongs to the extent, as a saddle there joins two maxima", []float64{0, 2, 1, 1.8, 0}, six, sizing.Extent{Peak: 1, Amplitude: 2, From: 0.5, To: 3 + 0.8/1.8}},
		{"too narrow for a fit", "a neighbour 12 dB down or lower is no basis for one", []float64{0.4, 2, 0.19}, 20, sizing.Extent{Peak: 1, Amplitude: 2, To: 1 + 1.8/1.81, OpenFrom: true}},
	} {
		t.Run(test.name, func(t *testing.T) {
			got, err := sizing.Drop(test.profile, 1, test.drop)
			if err != nil {
				t.Fatal(err)
			}
			if diff := diffExtent(test.want, got); diff != "" {
				t.Errorf("%s\n%s", test.reason, diff)
			}
		})
	}
}

func TestDropRefuses(t *testing.T) {
	ok := []float64{0, 1, 0}
	for _, test := range []struct {
		name          string
		profile       []float64
		spacing, drop float64
		want          string
	}{
		{"no spacing", ok, 0, 6, "sizing: spacing 0 m: want"},
		{"NaN spacing", ok, math.NaN(), 6, "sizing: spacing NaN m: want"},
		{"endless spacing", ok, math.Inf(1), 6, "sizing: spacing +Inf m: want"},
		{"no drop", ok, 1, 0, "sizing: drop 0 dB: want 0.01 to 120"},
		{"drop of the other sign", ok, 1, -6, "sizing: drop -6 dB: want"},
		{"NaN drop", ok, 1, math.NaN(), "sizing: drop NaN dB: want"},
		{"endless drop", ok, 1, math.Inf(1), "sizing: drop +Inf dB: want"},
		{"no samples", nil, 1, 6, "sizing: profile of 0 amplitudes, none above 0"},
		{"zeros", []float64{0, 0}, 1, 6, "sizing: profile of 2 amplitudes, none above 0"},
		{"NaN", []float64{0, 1, math.NaN()}, 1, 6, "sizing: amplitude NaN at sample 2"},
		{"Inf", []float64{math.Inf(1), 1}, 1, 6, "sizing: amplitude +Inf at sample 0"},
		{"negative", []float64{0, -1, 3}, 1, 6, "sizing: amplitude -1 at sample 1"},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := sizing.Drop(test.profile, test.spacing, test.drop)
			checkError(t, err, test.want)
		})
	}
}

// checkError wants err to begin with want.
func checkError(t *testing.T, err error, want string) {
	t.Helper()
	if err == nil || !strings.HasPrefix(err.Error(), want) {
		t.Errorf("error %v, want %q", err, want)
	}
}
