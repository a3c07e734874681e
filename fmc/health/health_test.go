// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
)

func assess(t testing.TB, c *fmc.Capture, o *health.Options) *health.Report {
	t.Helper()
	r, err := health.Assess(c, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

func TestSpecialCases(t *testing.T) {
	for _, row := range []struct {
		name, reason string
		capture      func() *fmc.Capture
		want         []string
	}{
		{"one element", "there is nothing to compare it with",
			func() *fmc.Capture { return plate{elements: 1, noise: 0.01}.capture(t, source(1)) }, nil},
		{"two elements", "two sound ones agree",
			func() *fmc.Capture { return plate{elements: 2, noise: 0.01}.capture(t, source(1)) }, nil},
		{"no noise", "a synthetic record has none",
			func() *fmc.Capture { return plate{elements: 8}.capture(t, source(1)) }, nil},
		{"all zeros", "nothing was recorded", func() *fmc.Capture {
			c := plate{elements: 4}.capture(t, source(1))
			clear(c.Data)
			return c
		}, []string{"low signal-to-noise: both []", "no echo: both []"}},
		{"noise alone", "the array was not coupled", func() *fmc.Capture {
			c := plate{elements: 8, noise: 0.1}.capture(t, source(1))
			rng := source(2)
			for k := range c.Data {
				c.Data[k] = float32(rng.NormFloat64())
			}
			return c
		}, []string{"low signal-to-noise: both []", "no echo: both []"}},
		{"one transmitter", "a list of pairs in which most elements only receive",
			func() *fmc.Capture {
				pairs := []fmc.Pair{{Tx: 0, Rx: 0}, {Tx: 0, Rx: 1}, {Tx: 0, Rx: 2}, {Tx: 0, Rx: 3}}
				return plate{elements: 6, noise: 0.01, pairs: pairs}.capture(t, source(1))
			}, nil},
		{"hot receiver that clips", "its echoes are cut off", func() *fmc.Capture {
			faults := map[int]fault{2: {receive: 39}}
			return plate{elements: 3, noise: 0.01, faults: faults, clip: 10}.capture(t, source(1))
		}, []string{"reciprocity: both [0 2]", "reciprocity: both [1 2]", "saturated: both [0 2]", "saturated: both [1 2]", "saturated: both [2 2]", "spread: both []"}},
		{"first element reversed", "the search for polarities begins at it", func() *fmc.Capture {
			return plate{elements: 12, noise: 0.1, faults: map[int]fault{0: {transmit: -2, receive: -2}}}.capture(t, source(1))
		}, []string{"reversed: both [0]"}},
		{"matrix array", "neighbours lie along both axes", func() *fmc.Capture {
			faults := map[int]fault{
				3:  {transmit: -1, receive: -1},
				7:  {transmit: -0.5, receive: -0.5},
				12: {transmit: -2, receive: -2},
				18: {late: 0.45 / frequency},
			}
			return plate{elements: 20, rows: 4, noise: 0.1, faults: faults}.capture(t, source(1))
		}, []string{"dead: both [3]", "drift of the time zero: both [18]", "reversed: both [12]", "weak: both [7]"}},
		{"narrow pulse of a wrong frequency", "the array is not the one it is said to be", func() *fmc.Capture {
			c := plate{elements: 4, noise: 0.001}.capture(t, source(1))
			c.Array.CentreFrequency, c.Array.Bandwidth = 3.5e6, 1.5
			return c
		}, []string{"centre frequency: both []", "narrow band: both []"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			compare(t, row.want, assess(t, row.capture(), nil))
		})
	}
}

// TestNumbers checks measured values against those that were planted.
func TestNumbers(t *testing.T) {
	c := plate{elements: 12, noise: 0.01, faults: map[int]fault{
		3: {transmit: 0.4125 - 1}, // -7.69 dB
		7: {late: 30e-9},
		9: {offset: 0.02},
	}}.capture(t, source(3))
	r := assess(t, c, nil)
	// What the echo of a wall 2·15 mm off loses at 3.3 mm of distance, the median one,
	// against none.
	const spreading = 1.006
	for _, row := range []struct {
		name            string
		got             health.Number
		want, tolerance float64
	}{
		{"noise", r.NoiseFloor, 0.01 * unit, 0.5},
		{"signal-to-noise, dB", r.SNR, 40, 1},
		{"echo", r.EchoPeak, unit / spreading, 0.02 * unit},
		{"transmitter, dB", r.Elements[3].Transmit.Relative, 20 * math.Log10(0.4125), 0.2},
		{"its receiver, dB", r.Elements[3].Receive.Relative, 0, 0.2},
		{"late transmitter, s", r.Elements[7].Transmit.Drift, 30e-9, 1e-9},
		{"late receiver, s", r.Elements[7].Receive.Drift, 30e-9, 1e-9},
		{"time zero of another, s", r.Elements[5].Receive.Drift, 0, 1e-9},
		{"offset", r.Elements[9].Offset, 0.02, 0.002},
		// The pulse that plate_test.go adds, by its definition.
		{"centre frequency, Hz", r.CentreFrequency, frequency, 0.01 * frequency},
		{"bandwidth", r.Bandwidth, bandwidth, 0.02 * bandwidth},
	} {
		if !(math.Abs(float64(row.got)-row.want) <= row.tolerance) {
			t.Errorf("%s: %v, want %v ± %v", row.name, row.got, row.want, row.tolerance)
		}
	}
}

// TestUnchanged wants the same report, up to rounding, of a capture in other units of
// the samples, and the same findings of the array at another place.
func TestUnchanged(t *testing.T) {
	c, want := trial(t, 4)
	before := assess(t, c, nil)
	for k := range c.Data {
		c.Data[k] *= 1.0 / 4096 // exact
	}
	for e := range c.Array.Elements {
		c.Array.Elements[e].Z -= 0.02
	}
	after := assess(t, c, nil)
	compare(t, want, before)
	compare(t, want, after)
	if len(want) == 0 {
		t.Error("the trial has no fault")
	}
}

func TestCouplingGate(t *testing.T) {
	c := plate{elements: 10, noise: 0.02}.capture(t, source(6))
	for p, pair := range c.Pairs {
		// A second echo, which all elements hear, and the first is lost to element 4.
		if pair.Tx == 4 || pair.Rx == 4 {
			for k := range c.Trace(p) {
				if c.Time(k) > 4e-6 {
					c.Trace(p)[k] *= 0.05
				}
			}
		}
		add(c, c.Trace(p), unit, 2.5e-6)
	}
	o := &health.Options{Echo: health.Gate{From: 2e-6, To: 3e-6}, Coupling: health.Gate{From: 4.5e-6, To: 6.5e-6}}
	compare(t, []string{describe(health.Uncoupled, both, 4)}, assess(t, c, o))
}

// TestShortRecord: where no part of the record is clear of the initial pulse, the noise is
// measured in all of it.
func TestShortRecord(t *testing.T) {
	c := plate{elements: 4, noise: 0.1}.capture(t, source(1))
	c.Samples = 70 // to 0.75 µs; the pulse lasts from -0.4 to 1.2 µs
	c.FirstSample = -0.4e-6
	c.Data = c.Data[:c.Samples*len(c.Pairs)]
	r := assess(t, c, nil)
	want := health.Gate{From: c.Time(0), To: c.Time(c.Samples - 1)}
	if r.Noise != want {
		t.Errorf("noise gate %v: want %v", r.Noise, want)
	}
}

// TestNoJudgement wants no finding where every limit is infinite, but that nothing can
// be judged.
func TestNoJudgement(t *testing.T) {
	t.Parallel()
	inf := math.Inf(1)
	limits := health.Limits{Dead: inf, Weak: inf, Uncoupled: inf, Spread: inf, Reversed: inf, Drift: inf, Noisy: inf, Offset: inf,
		Saturated: inf, CrossTalk: inf, Reciprocity: inf, SNR: inf, Frequency: inf, Bandwidth: inf, LostShots: inf, Jitter: inf, Spike: inf, Step: inf, Exchanged: inf, Rate: inf, GainDrift: inf, Lost: inf, Interference: inf}
	for seed := range uint64(5) {
		c, _ := trial(t, seed)
		compare(t, nil, assess(t, c, &health.Options{Limits: limits}))
	}
	c := plate{elements: 2}.capture(t, source(1))
	clear(c.Data)
	compare(t, []string{describe(health.NoEcho, both)}, assess(t, c, &health.Options{Limits: limits}))
}

func TestJSON(t *testing.T) {
	c, _ := trial(t, 4)
	r := assess(t, c, nil)
	text, err := json.Marshal(r)
	if err != nil {
		t.Fatal(err)
	}
	back := new(health.Report)
	if err := json.Unmarshal(text, back); err != nil {
		t.Fatal(err)
	}
	same := cmp.Comparer(func(x, y health.Number) bool { return x == y || !x.Known() && !y.Known() })
	if diff := cmp.Diff(r, back, same); diff != "" {
		t.Errorf("written and read back:\n%s", diff)
	}
	if !strings.Contains(string(text), "null") {
		t.Error("no number is unknown: the test does not reach NaN")
	}
}

// TestJSONOfExtremes: a drift of more periods than there are numbers is written too.
func TestJSONOfExtremes(t *testing.T) {
	const elements, late = 8, 4
	array, err := fmc.LinearArray(elements, 1e-3, fmc.Array{Width: 1e-3, CentreFrequency: 1e308, Bandwidth: 0.6})
	if err != nil {
		t.Fatal(err)
	}
	c, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(elements), Samples: 8, SampleRate: 1e-300})
	if err != nil {
		t.Fatal(err)
	}
	for p, pair := range c.Pairs {
		at := 2
		for _, e := range []int{pair.Tx, pair.Rx} {
			if e == late {
				at++
			}
		}
		c.Trace(p)[at], c.Trace(p)[at+1] = 3, -1
	}
	r := assess(t, c, nil)
	if !slices.ContainsFunc(r.Findings, func(f health.Finding) bool { return f.Value == math.MaxFloat64 }) {
		t.Errorf("nothing without bounds in\n%v", r)
	}
	if _, err := json.Marshal(r); err != nil {
		t.Error(err)
	}
}

func TestErrors(t *testing.T) {
	c := plate{elements: 3, noise: 0.1}.capture(t, source(1))
	bad := *c
	bad.SampleRate = math.NaN()
	many := *c
	array, err := fmc.LinearArray(4097, 1e-3, c.Array)
	if err != nil {
		t.Fatal(err)
	}
	many.Array = array
	events := *c
	for range 4 { // more than elements
		events.Events = append(events.Events, fmc.Event{Delays: make([]float64, 3), Weights: []float64{1, 0, 0}})
	}
	events.Pairs = fmc.EventPairs(4, 3)
	events.Data = make([]float32, 12*c.Samples)
	for _, row := range []struct {
		name    string
		capture *fmc.Capture
		options health.Options
		want    string
	}{
		{"nil", nil, health.Options{}, "no capture"},
		{"rate", &bad, health.Options{}, "sample rate NaN"},
		{"events", &events, health.Options{}, fmc.ErrEvents.Error()},
		{"elements", &many, health.Options{}, "4097 elements"},
		{"empty gate", c, health.Options{Noise: health.Gate{From: 2e-6, To: 1e-6}}, "noise gate"},
		{"gate of NaN", c, health.Options{Echo: health.Gate{From: math.NaN(), To: 1}}, "echo gate"},
		{"gate elsewhere", c, health.Options{Coupling: health.Gate{From: 1, To: 2}}, "coupling gate"},
		{"limit", c, health.Options{Limits: health.Limits{Weak: -1}}, "weak limit -1"},
		{"limit NaN", c, health.Options{Limits: health.Limits{SNR: math.NaN()}}, "signal-to-noise limit NaN"},
		{"full scale", c, health.Options{FullScale: math.Inf(1)}, "full scale +Inf"},
		{"speed in km/s", c, health.Options{FastestWave: 6.5}, "fastest wave 6.5 m/s: want"},
		{"speed in mm/s", c, health.Options{FastestWave: 6.5e6}, "fastest wave 6.5e+06 m/s: want"},
		{"speed", c, health.Options{FastestWave: -1}, "fastest wave -1"},
	} {
		t.Run(row.name, func(t *testing.T) {
			_, err := health.Assess(row.capture, &row.options)
			if err == nil || !strings.Contains(err.Error(), row.want) || !strings.HasPrefix(err.Error(), "health: ") {
				t.Errorf("error %v: want one of health with %q", err, row.want)
			}
		})
	}
}

// FuzzAssess wants no panic, and numbers that JSON can hold, whatever is recorded.
func FuzzAssess(f *testing.F) {
	f.Add(uint8(3), uint16(40), int16(100), []byte{1, 2, 3}, 1.0, 5e6)
	f.Add(uint8(1), uint16(1), int16(-3), []byte{}, 1e30, 1e3)
	f.Add(uint8(4), uint16(9), int16(7), []byte{255, 0, 128, 4}, 1e-30, 1e12)
	f.Add(uint8(2), uint16(3), int16(156), []byte("\x8e\x8e\x8e\x8e\x8e\x8e\x8e\x8e\x8e\x8e\x8e\x8e\x8e\x8e\x8e\x8e\x8e\x8e\x8e\x04"), 1e-30, 1.25e11) // no element has a known level
	f.Add(uint8('Y'), uint16(91), int16(100), []byte("\x010C"), 1.0, 9.999906e6)                                                                       // tones, but no echo: their levels are not known
	f.Fuzz(func(t *testing.T, elements uint8, count uint16, begin int16, pattern []byte, scale, centre float64) {
		n := 1 + int(elements)%6
		array, err := fmc.LinearArray(n, 1e-3, fmc.Array{Width: 1e-3, CentreFrequency: centre, Bandwidth: 0.5})
		if err != nil {
			t.Skip()
		}
		pairs := fmc.FullPairs(n)
		if begin%2 == 0 {
			pairs = pairs[:1+int(count)%len(pairs)]
		}
		c := fmc.Capture{Array: array, Pairs: pairs, Samples: 1 + int(count)%300, SampleRate: 4e7, FirstSample: float64(begin) * 1e-8}
		c.Data = make([]float32, len(pairs)*c.Samples)
		for k := range c.Data {
			if len(pattern) > 0 {
				c.Data[k] = float32(scale * float64(int8(pattern[(k*7+k/11)%len(pattern)])))
			}
		}
		r, err := health.Assess(&c, nil)
		if err != nil {
			t.Skip()
		}
		if _, err := json.Marshal(r); err != nil {
			t.Error(err)
		}
		if len(r.String()) == 0 {
			t.Error("no table")
		}
		if repair, err := health.NewRepair(&c, r, &health.RepairOptions{LargestShare: 1}); err == nil && slices.ContainsFunc(repair.Weights, func(w float32) bool { return !(math.Abs(float64(w)) < 1e6) }) {
			t.Errorf("weights %v", repair.Weights)
		}
	})
}

// FuzzReadReport reads reports from JSON. A report that is read has a table, makes finite weights
// or none, and is written unchanged.
func FuzzReadReport(f *testing.F) {
	c := plate{elements: 3, noise: 0.02}.capture(f, source(1))
	r := assess(f, c, nil)
	r.Findings = append(r.Findings,
		health.Finding{Kind: health.Dead, Transmit: true, Elements: []int{1}, Value: 20, Limit: 12},
		health.Finding{Kind: health.Weak, Elements: []int{2}, Transmit: true, Receive: true, Value: 6, Limit: 4})
	whole, err := json.Marshal(r)
	if err != nil {
		f.Fatal(err)
	}
	f.Add(whole)
	f.Add([]byte(`{"Findings":[{"Kind":"dead","Transmit":true,"Elements":[-1]}],"SNR":null,"Echo":{"From":1e308}}`))
	f.Add([]byte(`{"Elements":[{"Transmit":{"Relative":-1e308}},{},{}]}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		var read health.Report
		if json.Unmarshal(b, &read) != nil {
			return
		}
		if !strings.Contains(read.String(), "element") {
			t.Error("no table")
		}
		repair, err := health.NewRepair(c, &read, &health.RepairOptions{LargestGain: 4, LargestShare: 1})
		if err == nil && slices.ContainsFunc(repair.Weights, func(w float32) bool { return !(math.Abs(float64(w)) < 1e6) }) {
			t.Errorf("weights %v", repair.Weights)
		}
		first, err := json.Marshal(read)
		if err != nil {
			t.Fatal(err)
		}
		var again health.Report
		if err := json.Unmarshal(first, &again); err != nil {
			t.Fatal(err)
		}
		if second, err := json.Marshal(again); err != nil || string(second) != string(first) {
			t.Errorf("error %v, written %s, then %s", err, first, second)
		}
	})
}
