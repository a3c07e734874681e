// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package transmit

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
)

// TestRoundTripOfCodes: whole numbers come back from Hadamard codes bit for bit, others
// to rounding.
func TestRoundTripOfCodes(t *testing.T) {
	for _, n := range []int{1, 2, 4, 8, 12, 16, 20, 24, 32} {
		rng := rand.New(rand.NewPCG(uint64(n), 1))
		for name, test := range map[string]struct {
			sample func() float64
			limit  float64
		}{
			"int16": {func() float64 { return float64(rng.IntN(1<<16) - 1<<15) }, 0},
			"real":  {rng.NormFloat64, 2e-7},
		} {
			full := blank(n, 11)
			for i := range full.Data {
				full.Data[i] = float32(test.sample())
			}
			coded := must(Encode(t.Context(), full, must(Hadamard(n)), nil))
			back, report, err := Decode(t.Context(), coded, nil)
			if err != nil {
				t.Fatal(err)
			}
			if d := difference(back.Data, full.Data); !(d <= test.limit) {
				t.Errorf("%d elements, %s: differs by %.2g, want at most %.2g", n, name, d, test.limit)
			}
			if diff := cmp.Diff(&Report{Exact: true, Condition: 1, Resolved: 1}, report); diff != "" {
				t.Errorf("%d elements: report (-want +got):\n%s", n, diff)
			}
			if back.Events != nil || back.Layout() != fmc.Full || back.Validate() != nil {
				t.Errorf("%d elements: not a full matrix", n)
			}
		}
	}
}

// TestNoiseGain: noise of unit level in the traces of N codes is 1/√N after the
// decoding.
func TestNoiseGain(t *testing.T) {
	const n, samples = 16, 400
	coded := must(Encode(t.Context(), blank(n, samples), must(Hadamard(n)), nil))
	copy(coded.Data, noise(9, n, samples).Data)
	level := func(c *fmc.Capture) float64 {
		sum := 0.0
		for _, v := range c.Data {
			sum += float64(v) * float64(v)
		}
		return math.Sqrt(sum / float64(len(c.Data)))
	}
	back, _, err := Decode(t.Context(), coded, nil)
	if err != nil {
		t.Fatal(err)
	}
	// 102,400 samples tell a level to 0.22 % (1/√(2·102400)); five of that.
	if gain := level(coded) / level(back); !(math.Abs(gain/math.Sqrt(n)-1) <= 0.011) {
		t.Errorf("noise is %.4f times lower, want √16 = 4", gain)
	}
}

// TestDecodeLeastSquares: events that determine the full matrix give it back, as well
// as the damping lets them.
func TestDecodeLeastSquares(t *testing.T) {
	const n, samples = 8, 400
	full := echoes(n, samples)
	own := must(Elements(n, []int{0, 1, 2, 3, 4, 5, 6, 7}))
	for i, e := range own {
		e.Delays[i] = 13.7e-9 * float64(i+1)
	}
	random := randomEvents(10, 2*n, n, 20, false)
	for _, test := range []struct {
		name      string
		events    []fmc.Event
		damping   float64
		limit     float64
		condition float64
	}{
		// Singular values are all 1, so that a share of 1e-4 is damped away, and of 1e-8.
		// A pulse holds some 1e-5 of its peak at frequency 0, which is not decoded.
		{"delayed elements", own, 0.01, 1.1e-4, 1},
		{"delayed elements, less damping", own, 1e-4, 1e-5, 1},
		{"random delays and weights", random, 1e-4, 1e-5, 40},
	} {
		t.Run(test.name, func(t *testing.T) {
			events := must(Encode(t.Context(), full, test.events, nil))
			back, report, err := Decode(t.Context(), events, &DecodeOptions{Low: 1, High: 25e6, Damping: test.damping})
			if err != nil {
				t.Fatal(err)
			}
			if d := difference(back.Data, full.Data); !(d <= test.limit) {
				t.Errorf("differs by %.2g of the peak, want at most %.2g", d, test.limit)
			}
			if !(report.Condition >= 1 && report.Condition <= test.condition*(1+1e-9)) || report.Exact {
				t.Errorf("report %+v, want a condition of 1 to %v", report, test.condition)
			}
			if !(report.Resolved > 0.999 && report.Resolved <= 1) {
				t.Errorf("resolved %v, want nearly 1", report.Resolved)
			}
		})
	}
}

// TestDecodeSilent: codes that leave an element silent are orthogonal to it, but do not
// determine its traces, which are damped to zero.
func TestDecodeSilent(t *testing.T) {
	const n, samples, silent = 3, 200, 1
	full := echoes(n, samples)
	back, report, err := Decode(t.Context(), must(Encode(t.Context(), full, must(Elements(n, []int{0, 2})), nil)), nil)
	if err != nil {
		t.Fatal(err)
	}
	if report.Exact || !(math.Abs(report.Resolved-2./3) <= 1e-4) {
		t.Errorf("report %+v, want two thirds resolved and nothing exact", report)
	}
	for p, trace := range back.Traces() {
		if p.Tx != silent {
			continue
		}
		for k, v := range trace {
			if !(math.Abs(float64(v)) <= 1e-12) {
				t.Fatalf("%v, sample %d: %v, want 0", p, k, v)
			}
		}
	}
}

// TestDecodeDamping holds the damping and the report to their closed form. Delayed elements
// have singular values of 1 for weights of 1: decoded traces are 1/(1 + d²) of what they were
// for a damping of d, and as much of the matrix is resolved, whatever the unit of the weights.
func TestDecodeDamping(t *testing.T) {
	const n, samples, damping = 4, 400, 0.5
	full := echoes(n, samples)
	for _, scale := range []float64{1e-15, 1, 1e15} {
		events := must(Elements(n, []int{0, 1, 2, 3}))
		for i, e := range events {
			e.Delays[i], e.Weights[i] = 13.7e-9*float64(i+1), scale
		}
		back, report, err := Decode(t.Context(), must(Encode(t.Context(), full, events, nil)), &DecodeOptions{Low: 1, High: 25e6, Damping: damping})
		if err != nil {
			t.Fatalf("weights of %v: %v", scale, err)
		}
		want := 1 / (1 + damping*damping)
		if !(math.Abs(report.Resolved-want) <= 1e-9) || !(math.Abs(report.Condition-1) <= 1e-9) {
			t.Errorf("weights of %v: report %+v, want %v resolved and a condition of 1", scale, report, want)
		}
		for i := range full.Data {
			full.Data[i] *= float32(want)
		}
		if d := difference(back.Data, full.Data); !(d <= 1e-4) {
			t.Errorf("weights of %v: differs by %.2g of the peak from %v of the matrix", scale, d, want)
		}
		for i := range full.Data {
			full.Data[i] /= float32(want)
		}
	}
}

// TestDecodeDefaults writes out the default band: three times the bandwidth about the centre
// frequency, or as much of it as lies between 0 and half the sample rate.
func TestDecodeDefaults(t *testing.T) {
	for _, row := range []struct {
		name                         string
		centre, bandwidth, low, high float64
	}{
		{"within the record's band", 5e6, 0.4, 2e6, 8e6},
		{"cut at half the sample rate", 15e6, 0.6, 1.5e6, 25e6},
		{"cut at zero", 5e6, 1, 0, 12.5e6},
	} {
		c := blank(2, 10)
		c.Array.CentreFrequency, c.Array.Bandwidth = row.centre, row.bandwidth
		o, err := completeOptions(c, nil)
		if err != nil || !(math.Abs(o.Low-row.low) <= 1) || !(math.Abs(o.High-row.high) <= 1) || o.Damping != 0.01 {
			t.Errorf("%s: %+v, %v; want %v to %v Hz, damping 0.01", row.name, o, err, row.low, row.high)
		}
	}
}

// TestDecodeFewEvents: what fewer plane waves than elements saw is explained by the
// traces that come back, and no more than their share is resolved.
func TestDecodeFewEvents(t *testing.T) {
	const n, samples = 12, 400
	full := echoes(n, samples)
	var directions []r3.Vec
	for _, angle := range []float64{-0.4, -0.2, 0, 0.2, 0.4} {
		directions = append(directions, r3.Vec{X: math.Sin(angle), Z: math.Cos(angle)})
	}
	waves := must(Encode(t.Context(), full, must(PlaneWaves(full.Array, 5900, directions)), nil))
	options := &DecodeOptions{Low: 5e5, High: 15e6, Damping: 1e-5}
	back, report, err := Decode(t.Context(), waves, options)
	if err != nil {
		t.Fatal(err)
	}
	again := must(Encode(t.Context(), back, waves.Events, nil))
	if d := difference(again.Data, waves.Data); !(d <= 1e-3) {
		t.Errorf("plane waves of the decoded matrix differ by %.2g of their peak", d)
	}
	if !(report.Resolved <= 5./n && report.Resolved >= 4.5/n) {
		t.Errorf("resolved %v of the matrix, want nearly 5/12", report.Resolved)
	}
	if !(report.Condition > 1) || math.IsNaN(report.Condition) {
		t.Errorf("condition %v", report.Condition)
	}
	// The same event twice adds nothing.
	twice := must(Encode(t.Context(), full, append(waves.Events[:1:1], waves.Events[0]), nil))
	if _, report, err = Decode(t.Context(), twice, nil); err != nil || !math.IsInf(report.Condition, 1) {
		t.Errorf("report %+v and error %v of one event twice, want an infinite condition", report, err)
	}
}

// TestWorkers checks that results have the same bits for any number of workers.
func TestWorkers(t *testing.T) {
	full := noise(11, 6, 64)
	run := func(workers int) (*fmc.Capture, *fmc.Capture) {
		events := must(Encode(t.Context(), full, randomEvents(12, 7, 6, 9, false), &EncodeOptions{Workers: workers}))
		back, _, err := Decode(t.Context(), events, &DecodeOptions{Workers: workers})
		return events, must(back, err)
	}
	events, back := run(1)
	againEvents, again := run(5)
	if !cmp.Equal(events, againEvents) || !cmp.Equal(back, again) {
		t.Error("results depend on the number of workers")
	}
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	full := noise(13, 3, 20)
	if _, err := Encode(ctx, full, must(Elements(3, []int{0})), nil); !errors.Is(err, context.Canceled) {
		t.Errorf("encoding: error %v", err)
	}
	for _, events := range [][]fmc.Event{must(Elements(3, []int{0, 1, 2})), randomEvents(14, 3, 3, 2, false)} {
		c := must(Encode(t.Context(), full, events, nil))
		if _, _, err := Decode(ctx, c, nil); !errors.Is(err, context.Canceled) {
			t.Errorf("decoding: error %v", err)
		}
	}
}

func TestDecodeRefuses(t *testing.T) {
	full := noise(17, 3, 20)
	events := must(Encode(t.Context(), full, randomEvents(18, 2, 3, 2, false), nil))
	decode := func(c *fmc.Capture, o *DecodeOptions) error {
		_, _, err := Decode(t.Context(), c, o)
		return err
	}
	nan := math.NaN()
	wantError(t, decode(full, nil), "without events")
	wantError(t, decode(nil, nil), "no capture")
	wantError(t, decode(new(fmc.Capture), nil), "array of 0 elements")
	part := *events
	part.Pairs, part.Data = part.Pairs[:5], part.Data[:100]
	wantError(t, decode(&part, nil), "every receiver")
	wantError(t, decode(events, &DecodeOptions{Low: nan}), "NaN")
	wantError(t, decode(events, &DecodeOptions{Low: -1}), "-1")
	wantError(t, decode(events, &DecodeOptions{High: 26e6}), "half the sample rate")
	wantError(t, decode(events, &DecodeOptions{Low: 5e6, High: 4e6}), "ascending")
	wantError(t, decode(events, &DecodeOptions{Low: 5.0000001e6, High: 5.0000002e6}), "a frequency of the record")
	wantError(t, decode(events, &DecodeOptions{Damping: 2}), "damping 2")
	wantError(t, decode(events, &DecodeOptions{Damping: nan}), "damping NaN")
	wantError(t, decode(events, &DecodeOptions{Damping: -1}), "damping -1")
	for _, size := range []float64{1e200, 1e80, 1e-80, 1e-200} {
		huge := *events
		huge.Events = []fmc.Event{{Delays: []float64{0, 0, 1e-8}, Weights: []float64{size, size, size}}, events.Events[1]}
		if size < 1 {
			huge.Events[1] = huge.Events[0]
		}
		wantError(t, decode(&huge, nil), "ordinary size")
	}
}

// TestDecodeFaintEvents wants what faint events say to drown in the damping, however
// faint they are.
func TestDecodeFaintEvents(t *testing.T) {
	c := must(Encode(t.Context(), noise(19, 3, 20), randomEvents(20, 3, 3, 2, false), nil))
	for _, faint := range []float64{1e-10, 1e-25, 1e-80, 1e-200, 5e-324} {
		c.Events = []fmc.Event{
			{Delays: []float64{1e-8, 0, 0}, Weights: []float64{1, 0, 0}},
			{Delays: []float64{0, 0, 1e-8}, Weights: []float64{0, faint, faint}},
			{Delays: []float64{0, 3e-8, 1e-8}, Weights: []float64{0, faint, -2 * faint}},
		}
		_, report, err := Decode(t.Context(), c, nil)
		if err != nil {
			t.Fatalf("weights of %v: %v", faint, err)
		}
		if !(math.Abs(report.Resolved-1.0/3) <= 1e-4) {
			t.Errorf("weights of %v: %v of the matrix resolved, want a third", faint, report.Resolved)
		}
	}
}

// FuzzRoundTrip: no event makes encoding or decoding fail other than by an error, and
// what comes back is finite.
func FuzzRoundTrip(f *testing.F) {
	f.Add(uint64(1), uint8(2), uint8(3), uint8(20), 1e-7, -1e-8, 1., -1.)
	f.Add(uint64(2), uint8(0), uint8(0), uint8(0), 0., 0., 0., 0.)
	f.Add(uint64(3), uint8(7), uint8(1), uint8(200), 1e300, 1e-300, 1e30, 1e-30)
	f.Fuzz(func(t *testing.T, seed uint64, elements, events, samples uint8, delay, step, weight, slope float64) {
		n := 1 + int(elements%8)
		full := noise(seed, n, 1+int(samples))
		list := make([]fmc.Event, events%8)
		for e := range list {
			list[e] = silent(n)
			for i := range n {
				list[e].Delays[i] = delay + step*float64(i*(e+1))
				list[e].Weights[i] = weight + slope*float64((i+e)%3)
			}
		}
		c, err := Encode(t.Context(), full, list, nil)
		if err != nil {
			return
		}
		back, report, err := Decode(t.Context(), c, nil)
		if err != nil {
			return
		}
		if err := back.Validate(); err != nil {
			t.Error(err)
		}
		if !(report.Condition >= 1) || !(report.Resolved >= 0 && report.Resolved <= 1+1e-9) {
			t.Errorf("report %+v", report)
		}
	})
}
