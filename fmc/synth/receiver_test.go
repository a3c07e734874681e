// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth_test

import (
	"errors"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
)

// clean returns the full matrix of four elements over a point.
func clean(t *testing.T) *fmc.Capture {
	t.Helper()
	s := synth.Scene{Setup: plate(nil, 30e-3), Array: small(4, 1e-3, 5e6, 0.6), Views: parseViews("L-L")}
	s.Reflectors = []synth.Reflector{synth.Point{Position: r3.Vec{Z: 10e-3}, Strength: 1e-3}}
	return synthesise(t, s, synth.Recording{Samples: 2000, SampleRate: 50e6})
}

func record(t *testing.T, r synth.Receiver, c *fmc.Capture) *fmc.Capture {
	t.Helper()
	out, err := r.Record(c)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestNothing checks that the zero receiver returns a copy with the same bits.
func TestNothing(t *testing.T) {
	c := clean(t)
	got := record(t, synth.Receiver{Seed: 5}, c)
	if !slices.Equal(got.Data, c.Data) {
		t.Error("the zero receiver changes samples")
	}
	got.Data[0]++
	if got.Data[0] == c.Data[0] {
		t.Error("the samples are shared")
	}
}

// TestNoise checks that the noise is white and has the requested standard deviation. Each seed and
// each pair has its own noise. The same seed gives the same noise.
func TestNoise(t *testing.T) {
	c := clean(t)
	const level = 0.1
	noise := func(seed uint64, of *fmc.Capture) []float64 {
		got, largest := record(t, synth.Receiver{Noise: level, Seed: seed}, of), peak(of.Data)
		out := make([]float64, len(got.Data))
		for k := range out {
			out[k] = float64(got.Data[k]-of.Data[k]) / largest
		}
		return out
	}
	one := noise(1, c)
	product := func(a, b []float64) (mean float64) {
		for k := range a {
			mean += a[k] * b[k] / float64(len(a))
		}
		return mean / (level * level)
	}
	n := len(one)
	// Five standard deviations of each mean, for the 32000 samples.
	few := 5 / math.Sqrt(float64(n))
	for _, row := range []struct {
		name      string
		got, want float64
	}{
		{"variance", product(one, one), 1},
		{"with the next sample", product(one[1:], one[:n-1]), 0},
		{"with another seed", product(one, noise(2, c)), 0},
		{"with another pair", product(one[:n/2], one[n/2:]), 0},
	} {
		if !(math.Abs(row.got-row.want) <= 2*few) {
			t.Errorf("%s: %.4f, want %v within %.4f", row.name, row.got, row.want, 2*few)
		}
	}
	if !slices.Equal(one, noise(1, c)) {
		t.Error("the same seed gives other noise")
	}
}

// TestNoiseOfPairs checks that a trace has the same noise in a half matrix and in the full matrix.
func TestNoiseOfPairs(t *testing.T) {
	c := clean(t)
	half, err := c.Select(fmc.HalfPairs(len(c.Array.Elements)))
	if err != nil {
		t.Fatal(err)
	}
	r := synth.Receiver{Noise: 0.1, Jitter: 20e-9, Seed: 3}
	full, got := record(t, r, c), record(t, r, half)
	for pair, trace := range got.Traces() {
		p, _ := full.Index(pair.Tx, pair.Rx)
		if !slices.Equal(trace, full.Trace(p)) {
			t.Errorf("pair %v differs between half and full matrix", pair)
		}
	}
}

// TestBits checks that samples become the nearest whole numbers, and that they are clipped at the
// range.
func TestBits(t *testing.T) {
	c := clean(t)
	largest := peak(c.Data)
	for _, row := range []struct {
		bits  int
		scale float64 // 0 for 1
	}{{8, 0}, {12, 2}, {16, 0.25}, {2, 1}, {24, 1}} {
		got := record(t, synth.Receiver{Bits: row.bits, FullScale: row.scale}, c)
		limit := math.Ldexp(1, row.bits-1)
		scale := row.scale
		if scale == 0 {
			scale = 1
		}
		clipped := 0
		for k, v := range got.Data {
			exact := float64(c.Data[k]) / (scale * largest) * limit
			switch {
			case float64(v) != math.Trunc(float64(v)) || float64(v) < -limit || float64(v) > limit-1:
				t.Fatalf("%d bits: sample %v: want a whole number of the range", row.bits, v)
			case exact > limit-1 || exact < -limit:
				clipped++
			case !(math.Abs(float64(v)-exact) <= 0.5+1e-9*limit):
				t.Fatalf("%d bits: sample %v, exactly %v", row.bits, v, exact)
			}
		}
		if wants := scale <= 1; wants != (clipped > 0) {
			t.Errorf("%d bits, full scale %v: %d samples clipped", row.bits, scale, clipped)
		}
	}
}

// TestDead checks that only the traces of a dead element are 0.
func TestDead(t *testing.T) {
	c := clean(t)
	got := record(t, synth.Receiver{Dead: []int{2}}, c)
	for pair, trace := range got.Traces() {
		p, _ := c.Index(pair.Tx, pair.Rx)
		switch dead := pair.Tx == 2 || pair.Rx == 2; {
		case dead && peak(trace) != 0:
			t.Errorf("pair %v: a dead element echoes", pair)
		case !dead && !slices.Equal(trace, c.Trace(p)):
			t.Errorf("pair %v: changed by a dead element outside the pair", pair)
		}
	}
}

// TestJitter checks that all traces of a transmission have the same delay: the delay of the best
// match with the clean trace. Over many seeds the delays have the requested standard deviation.
func TestJitter(t *testing.T) {
	c := clean(t)
	alone := analytic(t, c)
	const deviation = 10e-9 // half a sample
	sum, count := 0.0, 0
	for seed := range uint64(30) {
		late := analytic(t, record(t, synth.Receiver{Jitter: deviation, Seed: seed}, c))
		for tx := range 4 {
			var times []float64
			for rx := range 4 {
				level, samples := match(alone, late, []int{tx*4 + rx})
				if want := decibels(1); !(math.Abs(level-want) <= 0.05) {
					t.Errorf("seed %d, pair %d→%d: level %.3f dB, want 0", seed, tx, rx, level)
				}
				times = append(times, samples/c.SampleRate)
			}
			if spread := slices.Max(times) - slices.Min(times); !(spread <= 0.1e-9) {
				t.Errorf("seed %d, transmitter %d: late by times %v ns apart", seed, tx, spread*1e9)
			}
			sum += times[0] * times[0]
			count++
		}
	}
	// The standard deviation of 120 delays has itself a standard deviation of 6.5 %.
	if got := math.Sqrt(sum / float64(count)); !(math.Abs(got-deviation) <= 0.25*deviation) {
		t.Errorf("standard deviation %.2f ns, want 10", got*1e9)
	}
}

// TestReceiverInput checks that a field out of range gives an error that names it.
func TestReceiverInput(t *testing.T) {
	c := clean(t)
	for _, row := range []struct {
		name string
		r    synth.Receiver
		want string
	}{
		{"negative jitter", synth.Receiver{Jitter: -1e-9}, "jitter"},
		{"jitter of a year", synth.Receiver{Jitter: 3e7}, "jitter"},
		{"NaN jitter", synth.Receiver{Jitter: math.NaN()}, "jitter"},
		{"element -1", synth.Receiver{Dead: []int{-1}}, "dead"},
		{"element 4 of 4", synth.Receiver{Dead: []int{0, 4}}, "dead"},
		{"negative noise", synth.Receiver{Noise: -1}, "noise"},
		{"endless noise", synth.Receiver{Noise: math.Inf(1)}, "noise"},
		{"noise beyond float32", synth.Receiver{Noise: 1e60}, "synth"},
		{"1 bit", synth.Receiver{Bits: 1}, "bits"},
		{"25 bits", synth.Receiver{Bits: 25}, "bits"},
		{"negative range", synth.Receiver{Bits: 8, FullScale: -1}, "full scale"},
	} {
		t.Run(row.name, func(t *testing.T) {
			_, err := row.r.Record(c)
			check.Error(t, err, "synth: ", row.want)
		})
	}
	_, err := synth.Receiver{}.Record(nil)
	check.Error(t, err, "synth: ", "no capture")
	events := *c
	events.Events = slices.Repeat([]fmc.Event{{Delays: make([]float64, 4), Weights: []float64{1, 1, -1, 1}}}, 4)
	if _, err := (synth.Receiver{Dead: []int{0}}).Record(&events); !errors.Is(err, fmc.ErrEvents) {
		t.Errorf("dead elements of events: error %v, want %v", err, fmc.ErrEvents)
	}
}

// TestReceiverLimits checks a digitiser whose range underflows, and a capture of zeros.
func TestReceiverLimits(t *testing.T) {
	c := clean(t)
	weak := *c
	weak.Data = slices.Clone(c.Data)
	for k := range weak.Data {
		weak.Data[k] = float32(k%3-1) * 1e-30
	}
	for k, v := range record(t, synth.Receiver{Bits: 8, FullScale: 5e-324}, &weak).Data {
		if want := []float32{-128, 0, 127}[k%3]; v != want {
			t.Fatalf("sample %d with a range that underflows: %v, want %v", k, v, want)
		}
	}
	zero := *c
	zero.Data = make([]float32, len(c.Data))
	all := synth.Receiver{Noise: 0.1, Bits: 8, Jitter: 1e-9, Dead: []int{0, 1, 2, 3}}
	if largest := peak(record(t, all, &zero).Data); largest != 0 {
		t.Errorf("a capture of zeros has a sample of %v", largest)
	}
}

// TestCloud checks that a cloud is the same for the same seed, and lies in its box. Its echoes are
// incoherent: their energy is proportional to the number of points.
func TestCloud(t *testing.T) {
	energy := func(points int, seed uint64) float64 {
		s := synth.Scene{Setup: plate(nil, 30e-3), Array: small(1, 1e-3, 5e6, 0.6)}
		s.Views = parseViews("L-L")
		s.Reflectors = []synth.Reflector{synth.Cloud{
			From: r3.Vec{X: -8e-3, Y: -8e-3, Z: 20e-3}, To: r3.Vec{X: 8e-3, Y: 8e-3, Z: 28e-3},
			Points: points, Strength: 1e-4, Seed: seed,
		}}
		c := synthesise(t, s, synth.Recording{Samples: 700, SampleRate: 50e6})
		sum, largest := 0.0, peak(c.Data)
		for k, v := range c.Data {
			if at := c.Time(k); at < 6e-6 || at > 11e-6 {
				if math.Abs(float64(v)) > 1e-3*largest {
					t.Fatalf("echo at %.2f µs, outside the box", at*1e6)
				}
			}
			sum += float64(v) * float64(v)
		}
		return sum
	}
	few, many := 0.0, 0.0
	for seed := range uint64(20) {
		few += energy(20, seed)
		many += energy(320, seed)
	}
	if ratio := many / few; !(ratio >= 10 && ratio <= 25) {
		t.Errorf("16 times the points have %.1f times the energy, want about 16", ratio)
	}
	if energy(20, 1) != energy(20, 1) || energy(20, 1) == energy(20, 2) {
		t.Error("a cloud does not depend on its seed alone")
	}
}
