// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate

import (
	"errors"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/tfm"
)

// pulseCapture returns a capture of one element, sampled at 50 MHz from 0.3 µs on. It holds
// Gaussian pulses of 4 MHz with 60 % bandwidth at the given times, with the given amplitudes and
// phases.
func pulseCapture(t *testing.T, times, amplitudes, phases []float64) *fmc.Capture {
	t.Helper()
	like := fmc.Array{Width: 0.5e-3, CentreFrequency: 4e6, Bandwidth: 0.6}
	array, err := fmc.LinearArray(1, 0.6e-3, like)
	if err != nil {
		t.Fatal(err)
	}
	c, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(1), Samples: 1000, SampleRate: 50e6, FirstSample: 0.3e-6})
	if err != nil {
		t.Fatal(err)
	}
	// The amplitude spectrum falls to a half at a distance of 0.3·4 MHz.
	sigma := math.Sqrt(2*math.Ln2) / (2 * math.Pi * 0.3 * 4e6)
	for k := range c.Data {
		v := 0.0
		for i, at := range times {
			d := c.Time(k) - at
			v += amplitudes[i] * math.Exp(-d*d/(2*sigma*sigma)) * math.Cos(2*math.Pi*4e6*d+phases[i])
		}
		c.Data[k] = float32(v)
	}
	return c
}

// TestPickSubSample picks pulses at times between samples. The time must be correct to a hundredth
// of a sample for any phase, the amplitude to 5 %: 1.9 % of a Gaussian pulse lies outside the pass
// band, and the slopes of the band edges remove a little more.
func TestPickSubSample(t *testing.T) {
	rng := rand.New(rand.NewPCG(9, 10))
	for range 200 {
		times := []float64{3e-6 + 1e-6*rng.Float64(), 8e-6 + 1e-6*rng.Float64()}
		amplitudes := []float64{300 + 100*rng.Float64(), 1000}
		phases := []float64{7 * rng.Float64(), 7 * rng.Float64()}
		got, err := Pick(pulseCapture(t, times, amplitudes, phases), nil)
		if err != nil {
			t.Fatal(err)
		}
		if len(got) != 2 {
			t.Fatalf("arrivals %+v: want 2", got)
		}
		for i, a := range []int{1, 0} { // in order of amplitude
			if late := got[i].Time - times[a]; !(math.Abs(late) <= 0.01*20e-9) {
				t.Errorf("arrival %d picked %.3f ns late", i, late*1e9)
			}
			if share := got[i].Amplitude / amplitudes[a]; !(math.Abs(share-1) <= 0.05) {
				t.Errorf("arrival %d has %.4f of its amplitude", i, share)
			}
		}
	}
}

// TestPickChoice checks the arrivals that each option selects.
func TestPickChoice(t *testing.T) {
	c := pulseCapture(t, []float64{1e-6, 4e-6, 7e-6, 10e-6, 13e-6}, []float64{5000, 120, 1000, 300, 500}, make([]float64, 5))
	for _, test := range []struct {
		name    string
		options *PickOptions
		want    []float64 // µs
	}{
		{"default: after six periods, a tenth of the strongest and more", nil, []float64{7, 13, 10, 4}},
		{"two", &PickOptions{Most: 2}, []float64{7, 13}},
		{"half of the strongest", &PickOptions{Least: 0.45}, []float64{7, 13}},
		{"a gate", &PickOptions{From: 8e-6, To: 12e-6}, []float64{10}},
		{"a gate that begins before the record", &PickOptions{From: -1, Most: 1}, []float64{1}},
		{"a gate beyond the record", &PickOptions{From: 1, To: 2}, nil},
	} {
		got, err := Pick(c, test.options)
		if err != nil {
			t.Fatal(err)
		}
		same := len(got) == len(test.want)
		for i := 0; same && i < len(got); i++ {
			same = math.Abs(got[i].Time*1e6-test.want[i]) <= 1e-3
		}
		if !same {
			t.Errorf("%s: arrivals %+v: want those at %v µs", test.name, got, test.want)
		}
	}
}

// TestPickSilence checks traces without an echo, of zeros and of one step.
func TestPickSilence(t *testing.T) {
	c := pulseCapture(t, nil, nil, nil)
	if got, err := Pick(c, nil); err != nil || len(got) != 0 {
		t.Errorf("arrivals of silence %v, error %v: want none", got, err)
	}
}

// TestPickErrors checks that errors name the argument at fault.
func TestPickErrors(t *testing.T) {
	nan := math.NaN()
	for _, test := range []struct {
		options PickOptions
		want    string
	}{
		{PickOptions{Band: tfm.Band{Low: 1, High: 2e9}}, "pass band"},
		{PickOptions{From: nan}, "arrivals from NaN s"},
		{PickOptions{From: 2e-6, To: 1e-6}, "want a finite end after the beginning"},
		{PickOptions{To: nan}, "want a finite end"},
		{PickOptions{Most: -1}, "most -1"},
		{PickOptions{Least: 2}, "least share 2"},
	} {
		_, err := Pick(pulseCapture(t, nil, nil, nil), &test.options)
		if err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("error %v: want one with %q", err, test.want)
		}
	}
	broken := pulseCapture(t, nil, nil, nil)
	broken.Data[7] = float32(nan)
	if _, err := Pick(broken, nil); err == nil {
		t.Error("no error for a sample that is not a number")
	}
	events := pulseCapture(t, nil, nil, nil)
	events.Events = []fmc.Event{{Delays: []float64{0}, Weights: []float64{1}}}
	if _, err := Pick(events, nil); !errors.Is(err, fmc.ErrEvents) {
		t.Errorf("error %v of a capture of events, want %v", err, fmc.ErrEvents)
	}
}
