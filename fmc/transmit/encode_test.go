// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package transmit

import (
	"errors"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// TestEncodeWholeDelays compares with the plain sum over elements.
func TestEncodeWholeDelays(t *testing.T) {
	for _, n := range []int{1, 2, 5} {
		for _, samples := range []int{1, 2, 50} {
			full, events := noise(1, n, samples), randomEvents(2, 4, n, 60, true)
			got := check.Must(Encode(t.Context(), full, events, nil))
			want := make([]float32, 0, len(got.Data))
			for _, e := range events {
				for r := range n {
					for k := range samples {
						sum := 0.0
						for i := range n {
							at := k - int(math.Round(e.Delays[i]*50e6))
							if at >= 0 && at < samples {
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
			times := got.FirstSample == full.FirstSample && got.Samples == samples
			if got.Layout() != fmc.Full || !times {
				t.Errorf("%d elements: capture %v of %d samples from %v s", n, got.Layout(),
					got.Samples, got.FirstSample)
			}
		}
	}
}

// TestEncodeAgainstPulses compares delays of any length with pulses that are evaluated at the
// delayed times, which is exact.
func TestEncodeAgainstPulses(t *testing.T) {
	const n, samples = 6, 400
	full := echoes(n, samples)
	array := full.Array
	sets := map[string][]fmc.Event{
		"random": randomEvents(3, 5, n, 40, false),
		"plane waves": check.Must(PlaneWaves(array, 5900,
			[]r3.Vec{{X: -0.3, Z: 1}, {Z: 1}, {X: 0.5, Z: 0.8}})),
		"diverging": check.Must(Diverging(array, 5900,
			[]r3.Vec{{Z: -8e-3}, {X: 4e-3, Z: -3e-3}})),
		"focused": check.Must(Focused(array, 5900, []r3.Vec{{Z: 10e-3}, {X: -4e-3, Z: 12e-3}})),
	}
	for name, events := range sets {
		got := check.Must(Encode(t.Context(), full, events, nil))
		for p, pair := range got.Pairs {
			want := make([]float32, samples)
			for k := range want {
				sum := 0.0
				for i, w := range events[pair.Tx].Weights {
					sum += w * pulse(got.Time(k)-events[pair.Tx].Delays[i]-echoTime(full, i,
						pair.Rx), 0.6)
				}
				want[k] = float32(sum)
			}
			if d := difference(got.Trace(p), want); !(d <= 1e-6) {
				t.Errorf("%s: %v differs by %.2g of its peak", name, pair, d)
			}
		}
	}
}

// TestEncodeIsLinear checks that the result is linear in the traces, and in the weights.
func TestEncodeIsLinear(t *testing.T) {
	const n, samples = 4, 80
	events := randomEvents(4, 3, n, 30, false)
	a, b, sum := noise(5, n, samples), noise(6, n, samples), blank(n, samples)
	for i := range sum.Data {
		sum.Data[i] = 2*a.Data[i] - 3*b.Data[i]
	}
	encoded := func(c *fmc.Capture, events []fmc.Event) []float32 {
		return check.Must(Encode(t.Context(), c, events, nil)).Data
	}
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

// TestEncodeElements checks that elements that fire alone give rows of the full matrix bit for bit,
// and that the full matrix returns from all of them, also for a half matrix.
func TestEncodeElements(t *testing.T) {
	const n, samples = 5, 9
	full := noise(7, n, samples)
	sparse := check.Must(Encode(t.Context(), full, alone(n, 3, 1), nil))
	want := check.Must(full.Select(fmc.SparsePairs([]int{3, 1}, n)))
	if diff := cmp.Diff(want.Data, sparse.Data); diff != "" {
		t.Errorf("rows 3 and 1 (-want +got):\n%s", diff)
	}
	half := check.Must(full.Half())
	events := check.Must(Encode(t.Context(), half, alone(n, 0, 1, 2, 3, 4), nil))
	back, recovery, err := Decode(t.Context(), events, nil)
	if err != nil || !recovery.Exact {
		t.Fatalf("recovery %+v, error %v", recovery, err)
	}
	if diff := cmp.Diff(check.Must(half.Full()), back); diff != "" {
		t.Errorf("half → elements → full (-want +got):\n%s", diff)
	}
}

// TestDelaysBeyondTheRecord checks that delays longer than the record leave no samples, do not
// overflow and do not exhaust the memory.
func TestDelaysBeyondTheRecord(t *testing.T) {
	const n, samples = 2, 20
	full := noise(8, n, samples)
	for _, delay := range []float64{
		samples / 50e6, -samples / 50e6, 20.5 / 50e6, 1, -1, 1e9, -1e300, math.MaxFloat64,
	} {
		e := silent(n)
		e.Delays[0], e.Weights[0] = delay, 1
		e.Delays[1], e.Weights[1] = 0.5/50e6, 1e-30 // so that one delay is not whole
		got := check.Must(Encode(t.Context(), full, []fmc.Event{e}, nil))
		if !(largest(got.Data) <= 1e-28) {
			t.Errorf("delay %v s: samples up to %v, want none", delay, largest(got.Data))
		}
	}
}

func TestEncodeRefuses(t *testing.T) {
	full := noise(15, 3, 20)
	bad := randomEvents(16, 1, 3, 2, false)
	bad[0].Delays[1] = math.NaN()
	_, err := Encode(t.Context(), full, bad, nil)
	check.Error(t, err, "transmit: ", "delay NaN s of element 1")
	_, err = Encode(t.Context(), nil, randomEvents(16, 1, 3, 2, false), nil)
	check.Error(t, err, "transmit: ", "no capture")
	_, err = Encode(t.Context(), full, nil, nil)
	check.Error(t, err, "transmit: ", "0 events")
	_, err = Encode(t.Context(), full, randomEvents(16, 1, 4, 2, false), nil)
	check.Error(t, err, "transmit: ", "want 3 of each")
	events := check.Must(Encode(t.Context(), full, alone(3, 0, 1), nil))
	if _, err = Encode(t.Context(), events, events.Events, nil); !errors.Is(err, fmc.ErrEvents) {
		t.Errorf("error %v for the events of events, want %v", err, fmc.ErrEvents)
	}
	sparse := *full
	sparse.Pairs, sparse.Data = sparse.Pairs[:3], sparse.Data[:60]
	if _, err = Encode(t.Context(), &sparse, events.Events, nil); !errors.Is(err, fmc.ErrNoTrace) {
		t.Errorf("error %v for part of a matrix, want %v", err, fmc.ErrNoTrace)
	}
	loud := noise(15, 3, 20)
	loud.Data[0] = math.MaxFloat32
	tenfold := []fmc.Event{{Delays: make([]float64, 3), Weights: []float64{10, 0, 0}}}
	_, err = Encode(t.Context(), loud, tenfold, nil)
	var sample *fmc.SampleError
	if !errors.As(err, &sample) {
		t.Errorf("error %v for samples beyond float32, want a SampleError", err)
	}
	_, err = Encode(t.Context(), new(fmc.Capture), events.Events, nil)
	check.Error(t, err, "transmit: ", "array of 0 elements")
}
