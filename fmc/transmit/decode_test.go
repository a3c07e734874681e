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
	"github.com/isochron-imaging/isochron/internal/check"
)

// TestRoundTripOfCodes checks that integers return from Hadamard codes bit for bit, and other
// samples to rounding.
func TestRoundTripOfCodes(t *testing.T) {
	for _, n := range []int{1, 2, 4, 8, 12, 16, 20, 24, 32} {
		rng := rand.New(rand.NewPCG(uint64(n), 1))
		for _, test := range []struct {
			name   string
			sample func() float64
			limit  float64
		}{
			{"int16", func() float64 { return float64(rng.IntN(1<<16) - 1<<15) }, 0},
			{"real", rng.NormFloat64, 2e-7},
		} {
			full := blank(n, 11)
			for i := range full.Data {
				full.Data[i] = float32(test.sample())
			}
			coded := check.Must(Encode(t.Context(), full, check.Must(Hadamard(n)), nil))
			back, recovery, err := Decode(t.Context(), coded, nil)
			if err != nil {
				t.Fatal(err)
			}
			if d := difference(back.Data, full.Data); !(d <= test.limit) {
				t.Errorf("%d elements, %s: differs by %.2g, want at most %.2g", n, test.name, d,
					test.limit)
			}
			want := &Recovery{Exact: true, Condition: 1, Resolved: 1}
			if diff := cmp.Diff(want, recovery); diff != "" {
				t.Errorf("%d elements: recovery (-want +got):\n%s", n, diff)
			}
			if back.Events != nil || back.Layout() != fmc.Full || back.Validate() != nil {
				t.Errorf("%d elements: not a full matrix", n)
			}
		}
	}
}

// TestNoiseGain checks that noise of unit level in the traces of N codes is 1/√N after the
// decoding.
func TestNoiseGain(t *testing.T) {
	const n, samples = 16, 400
	coded := check.Must(Encode(t.Context(), blank(n, samples), check.Must(Hadamard(n)), nil))
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
	// The relative error of the level of 102,400 samples is 1/√(2·102400) = 0.22 %. The limit is
	// five times as much.
	if gain := level(coded) / level(back); !(math.Abs(gain/math.Sqrt(n)-1) <= 0.011) {
		t.Errorf("noise is %.4f times lower, want √16 = 4", gain)
	}
}

// TestDecodeLeastSquares checks that events that determine the full matrix return it, except for
// the part that the damping removes.
func TestDecodeLeastSquares(t *testing.T) {
	const n, samples = 8, 400
	full := echoes(n, samples)
	own := alone(n, 0, 1, 2, 3, 4, 5, 6, 7)
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
		// All singular values are 1. The damping of 0.01 removes a share of 1e-4, the damping of
		// 1e-4 a share of 1e-8. A pulse has about 1e-5 of its peak at frequency 0, which is not
		// decoded.
		{"delayed elements", own, 0.01, 1.1e-4, 1},
		{"delayed elements, less damping", own, 1e-4, 1e-5, 1},
		{"random delays and weights", random, 1e-4, 1e-5, 40},
	} {
		t.Run(test.name, func(t *testing.T) {
			events := check.Must(Encode(t.Context(), full, test.events, nil))
			options := &DecodeOptions{Low: 1, High: 25e6, Damping: test.damping}
			back, recovery, err := Decode(t.Context(), events, options)
			if err != nil {
				t.Fatal(err)
			}
			if d := difference(back.Data, full.Data); !(d <= test.limit) {
				t.Errorf("differs by %.2g of the peak, want at most %.2g", d, test.limit)
			}
			within := recovery.Condition >= 1 && recovery.Condition <= test.condition*(1+1e-9)
			if !within || recovery.Exact {
				t.Errorf("recovery %+v, want a condition of 1 to %v", recovery, test.condition)
			}
			if !(recovery.Resolved > 0.999 && recovery.Resolved <= 1) {
				t.Errorf("resolved %v, want nearly 1", recovery.Resolved)
			}
		})
	}
}

// TestDecodeSilent checks events in which one element is always silent. They are orthogonal, but do
// not determine the traces of that element. Its decoded traces are zero.
func TestDecodeSilent(t *testing.T) {
	const n, samples, silent = 3, 200, 1
	full := echoes(n, samples)
	events := check.Must(Encode(t.Context(), full, alone(n, 0, 2), nil))
	back, recovery, err := Decode(t.Context(), events, nil)
	if err != nil {
		t.Fatal(err)
	}
	if recovery.Exact || !(math.Abs(recovery.Resolved-2./3) <= 1e-4) {
		t.Errorf("recovery %+v, want two thirds resolved and nothing exact", recovery)
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

// TestDecodeDamping compares the damping and the recovery with their closed form. Delayed elements
// of weight 1 have singular values of 1. For a damping of d, the decoded traces are the traces
// times 1/(1 + d²), and the same share of the matrix is resolved. The unit of the weights has no
// effect.
func TestDecodeDamping(t *testing.T) {
	const n, samples, damping = 4, 400, 0.5
	full := echoes(n, samples)
	for _, scale := range []float64{1e-15, 1, 1e15} {
		events := alone(n, 0, 1, 2, 3)
		for i, e := range events {
			e.Delays[i], e.Weights[i] = 13.7e-9*float64(i+1), scale
		}
		options := &DecodeOptions{Low: 1, High: 25e6, Damping: damping}
		encoded := check.Must(Encode(t.Context(), full, events, nil))
		back, recovery, err := Decode(t.Context(), encoded, options)
		if err != nil {
			t.Fatalf("weights of %v: %v", scale, err)
		}
		want := 1 / (1 + damping*damping)
		check.Within(t, "condition", recovery.Condition, 1, 1e-9)
		if !(math.Abs(recovery.Resolved-want) <= 1e-9) {
			t.Errorf("weights of %v: recovery %+v, want %v resolved", scale,
				recovery, want)
		}
		for i := range full.Data {
			full.Data[i] *= float32(want)
		}
		if d := difference(back.Data, full.Data); !(d <= 1e-4) {
			t.Errorf("weights of %v: differs by %.2g of the peak from %v of the matrix", scale, d,
				want)
		}
		for i := range full.Data {
			full.Data[i] /= float32(want)
		}
	}
}

// TestDecodeDefaults checks the default band: three times the bandwidth around the centre
// frequency, cut at 0 and at half the sample rate.
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
		low, high := math.Abs(o.Low-row.low) <= 1, math.Abs(o.High-row.high) <= 1
		if err != nil || !low || !high || o.Damping != 0.01 {
			t.Errorf("%s: %+v, %v; want %v to %v Hz, damping 0.01", row.name, o, err, row.low,
				row.high)
		}
	}
}

// TestDecodeFewEvents decodes fewer plane waves than elements. The plane waves of the decoded
// matrix are the same again, and the resolved share is at most the number of waves over the number
// of elements.
func TestDecodeFewEvents(t *testing.T) {
	const n, samples = 12, 400
	full := echoes(n, samples)
	var directions []r3.Vec
	for _, angle := range []float64{-0.4, -0.2, 0, 0.2, 0.4} {
		directions = append(directions, r3.Vec{X: math.Sin(angle), Z: math.Cos(angle)})
	}
	waves := check.Must(Encode(t.Context(), full,
		check.Must(PlaneWaves(full.Array, 5900, directions)), nil))
	options := &DecodeOptions{Low: 5e5, High: 15e6, Damping: 1e-5}
	back, recovery, err := Decode(t.Context(), waves, options)
	if err != nil {
		t.Fatal(err)
	}
	again := check.Must(Encode(t.Context(), back, waves.Events, nil))
	if d := difference(again.Data, waves.Data); !(d <= 1e-3) {
		t.Errorf("plane waves of the decoded matrix differ by %.2g of their peak", d)
	}
	if !(recovery.Resolved <= 5./n && recovery.Resolved >= 4.5/n) {
		t.Errorf("resolved %v of the matrix, want nearly 5/12", recovery.Resolved)
	}
	if !(recovery.Condition > 1) || math.IsNaN(recovery.Condition) {
		t.Errorf("condition %v", recovery.Condition)
	}
	// The same event twice adds nothing.
	twice := check.Must(Encode(t.Context(), full, append(waves.Events[:1:1], waves.Events[0]), nil))
	_, recovery, err = Decode(t.Context(), twice, nil)
	if err != nil || !math.IsInf(recovery.Condition, 1) {
		t.Errorf("recovery %+v and error %v of one event twice, want an infinite condition",
			recovery, err)
	}
}

// TestWorkers checks that results have the same bits for any number of workers.
func TestWorkers(t *testing.T) {
	full := noise(11, 6, 64)
	run := func(workers int) (*fmc.Capture, *fmc.Capture) {
		list := randomEvents(12, 7, 6, 9, false)
		events := check.Must(Encode(t.Context(), full, list, &EncodeOptions{Workers: workers}))
		back, _, err := Decode(t.Context(), events, &DecodeOptions{Workers: workers})
		return events, check.Must(back, err)
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
	if _, err := Encode(ctx, full, alone(3, 0), nil); !errors.Is(err, context.Canceled) {
		t.Errorf("encoding: error %v", err)
	}
	for _, events := range [][]fmc.Event{alone(3, 0, 1, 2), randomEvents(14, 3, 3, 2, false)} {
		c := check.Must(Encode(t.Context(), full, events, nil))
		if _, _, err := Decode(ctx, c, nil); !errors.Is(err, context.Canceled) {
			t.Errorf("decoding: error %v", err)
		}
	}
}

func TestDecodeRefuses(t *testing.T) {
	full := noise(17, 3, 20)
	events := check.Must(Encode(t.Context(), full, randomEvents(18, 2, 3, 2, false), nil))
	decode := func(c *fmc.Capture, o *DecodeOptions) error {
		_, _, err := Decode(t.Context(), c, o)
		return err
	}
	nan := math.NaN()
	check.Error(t, decode(full, nil), "transmit: ", "without events")
	check.Error(t, decode(nil, nil), "transmit: ", "no capture")
	check.Error(t, decode(new(fmc.Capture), nil), "transmit: ", "array of 0 elements")
	part := *events
	part.Pairs, part.Data = part.Pairs[:5], part.Data[:100]
	check.Error(t, decode(&part, nil), "transmit: ", "every receiver")
	check.Error(t, decode(events, &DecodeOptions{Low: nan}), "transmit: ", "NaN")
	check.Error(t, decode(events, &DecodeOptions{Low: -1}), "transmit: ", "-1")
	check.Error(t, decode(events, &DecodeOptions{High: 26e6}), "transmit: ", "half the sample rate")
	check.Error(t, decode(events, &DecodeOptions{Low: 5e6, High: 4e6}), "transmit: ", "ascending")
	check.Error(t, decode(events, &DecodeOptions{Low: 5.0000001e6, High: 5.0000002e6}),
		"transmit: ", "a frequency of the record")
	check.Error(t, decode(events, &DecodeOptions{Damping: 2}), "transmit: ", "damping 2")
	check.Error(t, decode(events, &DecodeOptions{Damping: nan}), "transmit: ", "damping NaN")
	check.Error(t, decode(events, &DecodeOptions{Damping: -1}), "transmit: ", "damping -1")
	for _, size := range []float64{1e200, 1e80, 1e-80, 1e-200} {
		huge := *events
		huge.Events = []fmc.Event{{Delays: []float64{0, 0, 1e-8},
			Weights: []float64{size, size, size}}, events.Events[1]}
		if size < 1 {
			huge.Events[1] = huge.Events[0]
		}
		check.Error(t, decode(&huge, nil), "transmit: ", "ordinary size")
	}
}

// TestDecodeFaintEvents checks that the damping removes events of small weights, however small they
// are.
func TestDecodeFaintEvents(t *testing.T) {
	c := check.Must(Encode(t.Context(), noise(19, 3, 20), randomEvents(20, 3, 3, 2, false), nil))
	for _, faint := range []float64{1e-10, 1e-25, 1e-80, 1e-200, 5e-324} {
		c.Events = []fmc.Event{
			{Delays: []float64{1e-8, 0, 0}, Weights: []float64{1, 0, 0}},
			{Delays: []float64{0, 0, 1e-8}, Weights: []float64{0, faint, faint}},
			{Delays: []float64{0, 3e-8, 1e-8}, Weights: []float64{0, faint, -2 * faint}},
		}
		_, recovery, err := Decode(t.Context(), c, nil)
		if err != nil {
			t.Fatalf("weights of %v: %v", faint, err)
		}
		if !(math.Abs(recovery.Resolved-1.0/3) <= 1e-4) {
			t.Errorf("weights of %v: %v of the matrix resolved, want a third", faint,
				recovery.Resolved)
		}
	}
}

// FuzzRoundTrip checks that no event makes encoding or decoding fail except by an error, and that
// the decoded samples are finite.
func FuzzRoundTrip(f *testing.F) {
	f.Add(uint64(1), uint8(2), uint8(3), uint8(20), 1e-7, -1e-8, 1., -1.)
	f.Add(uint64(2), uint8(0), uint8(0), uint8(0), 0., 0., 0., 0.)
	f.Add(uint64(3), uint8(7), uint8(1), uint8(200), 1e300, 1e-300, 1e30, 1e-30)
	f.Fuzz(func(t *testing.T, seed uint64, elements, events, samples uint8,
		delay, step, weight, slope float64,
	) {
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
			t.Skip(err)
		}
		back, recovery, err := Decode(t.Context(), c, nil)
		if err != nil {
			t.Skip(err)
		}
		if err := back.Validate(); err != nil {
			t.Error(err)
		}
		if !(recovery.Condition >= 1) || !(recovery.Resolved >= 0 && recovery.Resolved <= 1+1e-9) {
			t.Errorf("recovery %+v", recovery)
		}
	})
}
