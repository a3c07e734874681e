// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package transmit

import (
	"context"
	"errors"
	"math"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
)

// The arrays, media and samples of these tests are invented.

// must unwraps a result whose arguments are known to be good.
func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// wantError fails unless err begins with the package's name and holds text.
func wantError(t *testing.T, err error, text string) {
	t.Helper()
	if err == nil || !strings.HasPrefix(err.Error(), "transmit: ") || !strings.Contains(err.Error(), text) {
		t.Errorf("error %v, want one that begins with %q and holds %q", err, "transmit: ", text)
	}
}

// linear returns n elements, 0.6 mm apart.
func linear(n int) fmc.Array {
	return must(fmc.LinearArray(n, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
}

// blank returns the full matrix of n elements, all zeros.
func blank(n, samples int) *fmc.Capture {
	return must(fmc.New(fmc.Capture{
		Array: linear(n), Pairs: fmc.FullPairs(n), Samples: samples, SampleRate: 50e6, FirstSample: -1.3e-6,
	}))
}

// noise returns a full matrix of Gaussian noise of unit variance.
func noise(seed uint64, n, samples int) *fmc.Capture {
	c, rng := blank(n, samples), rand.New(rand.NewPCG(seed, 3))
	for i := range c.Data {
		c.Data[i] = float32(rng.NormFloat64())
	}
	return c
}

// pulse is a Gaussian tone of the given bandwidth at 5 MHz, centred on t = 0.
func pulse(t, bandwidth float64) float64 {
	width := 2 * math.Sqrt(math.Ln2) / (math.Pi * 5e6 * bandwidth) // where exp(-t²/width²) has that bandwidth at half its height
	return math.Exp(-t*t/(width*width)) * math.Cos(2*math.Pi*5e6*t)
}

// echoTime is when the echo of pair i→j comes in c, in the middle of the record.
func echoTime(c *fmc.Capture, i, j int) float64 {
	return c.Time(c.Samples/2) + 37e-9*float64(i) - 21.7e-9*float64(j)
}

// echoes returns a full matrix of n elements with a pulse in each trace.
func echoes(n, samples int) *fmc.Capture {
	c := blank(n, samples)
	for pair, trace := range c.Traces() {
		for k := range trace {
			trace[k] = float32(pulse(c.Time(k)-echoTime(c, pair.Tx, pair.Rx), 0.6))
		}
	}
	return c
}

// largest returns the largest magnitude of samples.
func largest(samples []float32) float64 {
	peak := 0.0
	for _, v := range samples {
		peak = max(peak, math.Abs(float64(v)))
	}
	return peak
}

// difference returns the largest difference of samples as a share of the largest of
// want; NaN if they cannot be compared.
func difference(got, want []float32) float64 {
	if len(got) != len(want) {
		return math.NaN()
	}
	most := 0.0
	for i := range got {
		d := math.Abs(float64(got[i]) - float64(want[i]))
		if !(d <= most) {
			most = d
		}
	}
	return most / largest(want)
}

// randomEvents returns events with weights and delays, up to so many samples, of
// whole numbers of samples or not.
func randomEvents(seed uint64, events, n int, samples float64, whole bool) []fmc.Event {
	rng := rand.New(rand.NewPCG(seed, 5))
	var list []fmc.Event
	for range events {
		e := silent(n)
		for i := range n {
			delay := (2*rng.Float64() - 1) * samples
			if whole {
				delay = math.Round(delay)
			}
			e.Delays[i], e.Weights[i] = delay/50e6, rng.NormFloat64()
		}
		list = append(list, e)
	}
	return list
}

// TestEncodeWholeDelays compares with the sum as one would write it.
func TestEncodeWholeDelays(t *testing.T) {
	for _, n := range []int{1, 2, 5} {
		for _, samples := range []int{1, 2, 50} {
			full, events := noise(1, n, samples), randomEvents(2, 4, n, 60, true)
			got := must(Encode(t.Context(), full, events))
			want := make([]float32, 0, len(got.Data))
			for _, e := range events {
				for r := range n {
					for k := range samples {
						sum := 0.0
						for i := range n {
							if at := k - int(math.Round(e.Delays[i]*50e6)); at >= 0 && at < samples {
								sum += e.Weights[i] * float64(full.Trace(i*n + r)[at])
							}
						}
						want = append(want, float32(sum))
					}
				}
			}
			if diff := cmp.Diff(want, got.Data); diff != "" {
				t.Errorf("%d elements, %d samples (-want +got):\n%s", n, samples, diff)
			}
			if got.Layout() != fmc.Full || got.FirstSample != full.FirstSample || got.Samples != samples {
				t.Errorf("%d elements: capture %v of %d samples from %v s", n, got.Layout(), got.Samples, got.FirstSample)
			}
		}
	}
}

// TestEncodeAgainstPulses compares delays of any length with the pulse evaluated
// later, which is exact.
func TestEncodeAgainstPulses(t *testing.T) {
	const n, samples = 6, 400
	full := echoes(n, samples)
	array := full.Array
	sets := map[string][]fmc.Event{
		"random":      randomEvents(3, 5, n, 40, false),
		"plane waves": must(PlaneWaves(array, 5900, []r3.Vec{{X: -0.3, Z: 1}, {Z: 1}, {X: 0.5, Z: 0.8}})),
		"diverging":   must(Diverging(array, 5900, []r3.Vec{{Z: -8e-3}, {X: 4e-3, Z: -3e-3}})),
		"focused":     must(Focused(array, 5900, []r3.Vec{{Z: 10e-3}, {X: -4e-3, Z: 12e-3}})),
	}
	for name, events := range sets {
		got := must(Encode(t.Context(), full, events))
		for p, pair := range got.Pairs {
			want := make([]float32, samples)
			for k := range want {
				sum := 0.0
				for i, w := range events[pair.Tx].Weights {
					sum += w * pulse(got.Time(k)-events[pair.Tx].Delays[i]-echoTime(full, i, pair.Rx), 0.6)
				}
				want[k] = float32(sum)
			}
			if d := difference(got.Trace(p), want); !(d <= 1e-6) {
				t.Errorf("%s: %v differs by %.2g of its peak", name, pair, d)
			}
		}
	}
}

// TestEncodeIsLinear: in the traces, and in the weights.
func TestEncodeIsLinear(t *testing.T) {
	const n, samples = 4, 80
	events := randomEvents(4, 3, n, 30, false)
	a, b, sum := noise(5, n, samples), noise(6, n, samples), blank(n, samples)
	for i := range sum.Data {
		sum.Data[i] = 2*a.Data[i] - 3*b.Data[i]
	}
	encoded := func(c *fmc.Capture, events []fmc.Event) []float32 { return must(Encode(t.Context(), c, events)).Data }
	inA, inB := encoded(a, events), encoded(b, events)
	want := make([]float32, len(inA))
	for i := range want {
		want[i] = 2*inA[i] - 3*inB[i]
	}
	if d := difference(encoded(sum, events), want); !(d <= 1e-6) {
		t.Errorf("the events of a sum differ from the sum of events by %.2g", d)
	}
	var other, both []fmc.Event
	for _, e := range events {
		o, s := silent(n), silent(n)
		for i := range n {
			o.Delays[i], s.Delays[i] = e.Delays[i], e.Delays[i]
			o.Weights[i], s.Weights[i] = 0.5*float64(i+1), e.Weights[i]+0.5*float64(i+1)
		}
		other, both = append(other, o), append(both, s)
	}
	inOther := encoded(a, other)
	for i := range want {
		want[i] = inA[i] + inOther[i]
	}
	if d := difference(encoded(a, both), want); !(d <= 1e-6) {
		t.Errorf("an event of the sum of weights differs from the sum of events by %.2g", d)
	}
}

// TestEncodeElements: elements that fire alone give the rows of the full matrix, bit
// for bit, and back, also from a half matrix.
func TestEncodeElements(t *testing.T) {
	const n, samples = 5, 9
	full := noise(7, n, samples)
	sparse := must(Encode(t.Context(), full, must(Elements(n, []int{3, 1}))))
	want := append(append([]float32{}, full.Data[3*n*samples:4*n*samples]...), full.Data[n*samples:2*n*samples]...)
	if diff := cmp.Diff(want, sparse.Data); diff != "" {
		t.Errorf("rows 3 and 1 (-want +got):\n%s", diff)
	}
	half := must(full.Half(fmc.Mean))
	events := must(Encode(t.Context(), half, must(Elements(n, []int{0, 1, 2, 3, 4}))))
	back, report, err := Decode(t.Context(), events, nil)
	if err != nil || !report.Exact {
		t.Fatalf("report %+v, error %v", report, err)
	}
	if diff := cmp.Diff(must(half.Full()), back); diff != "" {
		t.Errorf("half → elements → full (-want +got):\n%s", diff)
	}
}

// TestDelaysBeyondTheRecord leave nothing, and neither overflow nor exhaust memory.
func TestDelaysBeyondTheRecord(t *testing.T) {
	const n, samples = 2, 20
	full := noise(8, n, samples)
	for _, delay := range []float64{samples / 50e6, -samples / 50e6, 20.5 / 50e6, 1, -1, 1e9, -1e300, math.MaxFloat64} {
		e := silent(n)
		e.Delays[0], e.Weights[0] = delay, 1
		e.Delays[1], e.Weights[1] = 0.5/50e6, 1e-30 // so that there is a fraction as well
		if got := must(Encode(t.Context(), full, []fmc.Event{e})); !(largest(got.Data) <= 1e-28) {
			t.Errorf("delay %v s: samples up to %v, want none", delay, largest(got.Data))
		}
	}
}

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
			coded := must(Encode(t.Context(), full, must(Hadamard(n))))
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
	coded := must(Encode(t.Context(), blank(n, samples), must(Hadamard(n))))
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
			events := must(Encode(t.Context(), full, test.events))
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

// TestDecodeFewEvents: what fewer plane waves than elements saw is explained by the
// traces that come back, and no more than their share is resolved.
func TestDecodeFewEvents(t *testing.T) {
	const n, samples = 12, 400
	full := echoes(n, samples)
	var directions []r3.Vec
	for _, angle := range []float64{-0.4, -0.2, 0, 0.2, 0.4} {
		directions = append(directions, r3.Vec{X: math.Sin(angle), Z: math.Cos(angle)})
	}
	waves := must(Encode(t.Context(), full, must(PlaneWaves(full.Array, 5900, directions))))
	options := &DecodeOptions{Low: 5e5, High: 15e6, Damping: 1e-5}
	back, report, err := Decode(t.Context(), waves, options)
	if err != nil {
		t.Fatal(err)
	}
	again := must(Encode(t.Context(), back, waves.Events))
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
	twice := must(Encode(t.Context(), full, append(waves.Events[:1:1], waves.Events[0])))
	if _, report, err = Decode(t.Context(), twice, nil); err != nil || !math.IsInf(report.Condition, 1) {
		t.Errorf("report %+v and error %v of one event twice, want an infinite condition", report, err)
	}
}

// TestCores: the same bits for any number of cores.
func TestCores(t *testing.T) {
	full := noise(11, 6, 64)
	run := func() (*fmc.Capture, *fmc.Capture) {
		events := must(Encode(t.Context(), full, randomEvents(12, 7, 6, 9, false)))
		back, _, err := Decode(t.Context(), events, nil)
		return events, must(back, err)
	}
	events, back := run()
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(5))
	againEvents, again := run()
	if !cmp.Equal(events, againEvents) || !cmp.Equal(back, again) {
		t.Error("results depend on the number of cores")
	}
}

func TestCancelled(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	full := noise(13, 3, 20)
	if _, err := Encode(ctx, full, must(Elements(3, []int{0}))); !errors.Is(err, context.Canceled) {
		t.Errorf("encoding: error %v", err)
	}
	for _, events := range [][]fmc.Event{must(Elements(3, []int{0, 1, 2})), randomEvents(14, 3, 3, 2, false)} {
		c := must(Encode(t.Context(), full, events))
		if _, _, err := Decode(ctx, c, nil); !errors.Is(err, context.Canceled) {
			t.Errorf("decoding: error %v", err)
		}
	}
}

func TestEncodeRefuses(t *testing.T) {
	full := noise(15, 3, 20)
	bad := randomEvents(16, 1, 3, 2, false)
	bad[0].Delays[1] = math.NaN()
	_, err := Encode(t.Context(), full, bad)
	wantError(t, err, "delay NaN s of element 1")
	_, err = Encode(t.Context(), full, nil)
	wantError(t, err, "0 events")
	_, err = Encode(t.Context(), full, randomEvents(16, 1, 4, 2, false))
	wantError(t, err, "want 3 of each")
	events := must(Encode(t.Context(), full, must(Elements(3, []int{0, 1}))))
	if _, err = Encode(t.Context(), events, events.Events); !errors.Is(err, fmc.ErrEvents) {
		t.Errorf("error %v for the events of events, want %v", err, fmc.ErrEvents)
	}
	sparse := *full
	sparse.Pairs, sparse.Data = sparse.Pairs[:3], sparse.Data[:60]
	if _, err = Encode(t.Context(), &sparse, events.Events); !errors.Is(err, fmc.ErrNoTrace) {
		t.Errorf("error %v for part of a matrix, want %v", err, fmc.ErrNoTrace)
	}
	loud := noise(15, 3, 20)
	loud.Data[0] = math.MaxFloat32
	_, err = Encode(t.Context(), loud, []fmc.Event{{Delays: make([]float64, 3), Weights: []float64{10, 0, 0}}})
	var sample *fmc.SampleError
	if !errors.As(err, &sample) {
		t.Errorf("error %v for samples beyond float32, want a SampleError", err)
	}
	_, err = Encode(t.Context(), new(fmc.Capture), events.Events)
	wantError(t, err, "array of 0 elements")
}

func TestDecodeRefuses(t *testing.T) {
	full := noise(17, 3, 20)
	events := must(Encode(t.Context(), full, randomEvents(18, 2, 3, 2, false)))
	decode := func(c *fmc.Capture, o *DecodeOptions) error {
		_, _, err := Decode(t.Context(), c, o)
		return err
	}
	nan := math.NaN()
	wantError(t, decode(full, nil), "without events")
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
	for _, size := range []float64{1e200, 1e-200} {
		huge := *events
		huge.Events = []fmc.Event{{Delays: []float64{0, 0, 1e-8}, Weights: []float64{size, size, size}}, events.Events[1]}
		if size < 1 {
			huge.Events[1] = huge.Events[0]
		}
		wantError(t, decode(&huge, nil), "ordinary size")
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
		c, err := Encode(t.Context(), full, list)
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
