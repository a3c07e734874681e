// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"errors"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestGateKeepsTimes checks that every sample of the gated capture is the sample of the whole
// capture at the same time, and that no sample between the limits is lost.
func TestGateKeepsTimes(t *testing.T) {
	const samples = 400
	c := random(t, 3, HalfPairs(3), samples)
	for _, limits := range [][2]float64{
		{math.Inf(-1), math.Inf(1)},
		{0, 1e-6},
		{1e-6, 1e-6 + 0.02e-6},
		{-1, 2e-6},
		{5e-6, 1},
		{c.Time(17), c.Time(17)},
		{c.Time(17), c.Time(200)},
		{c.Time(17) + 1e-14, c.Time(200) - 1e-14}, // inside the limits by half the tolerance
	} {
		got := check.Must(c.Gate(limits[0], limits[1]))
		const rounding = 1e-6 / 50e6 // s, the documented tolerance
		first := -1
		for k := range samples {
			if at := c.Time(k); at < limits[0]-rounding || at > limits[1]+rounding {
				continue
			}
			if first < 0 {
				first = k
			}
			j := k - first
			if j >= got.Samples {
				t.Fatalf("gate %v: %d samples, want sample %d of the whole too", limits,
					got.Samples, k)
			}
			check.Within(t, "time of a gated sample", got.Time(j), c.Time(k), 1e-18)
			for p := range c.Pairs {
				if got.Trace(p)[j] != c.Trace(p)[k] {
					t.Errorf("gate %v: sample %d of pair %d differs", limits, j, p)
				}
			}
		}
		if last := got.Time(got.Samples - 1); last > limits[1]+rounding {
			t.Errorf("gate %v: last sample at %v s", limits, last)
		}
	}
}

func TestGateTwice(t *testing.T) {
	c := random(t, 2, FullPairs(2), 300)
	once := check.Must(c.Gate(2e-6, 3e-6))
	twice := check.Must(check.Must(c.Gate(1e-6, 4e-6)).Gate(2e-6, 3e-6))
	check.Within(t, "time of the first sample", twice.FirstSample, once.FirstSample, 1e-18)
	twice.FirstSample = once.FirstSample
	if diff := cmp.Diff(once, twice); diff != "" {
		t.Errorf("a gate within a gate (-want +got):\n%s", diff)
	}
}

func TestGateRefuses(t *testing.T) {
	c := random(t, 1, FullPairs(1), 100)
	last := c.Time(99)
	for _, test := range []struct {
		name     string
		from, to float64
	}{
		{"before the record", -2, -1},
		{"after the record", last + 1e-6, last + 2e-6},
		{"limits swapped", 1e-6, 0.5e-6},
		{"between two samples", c.Time(3) + 5e-9, c.Time(3) + 6e-9},
		{"from NaN", math.NaN(), 1},
		{"to NaN", 0, math.NaN()},
		{"from +Inf", math.Inf(1), math.Inf(1)},
		{"to -Inf", math.Inf(-1), math.Inf(-1)},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := c.Gate(test.from, test.to)
			check.Error(t, err, "fmc: gate from ", "want limits that enclose a sample")
		})
	}
}

func TestSubAperture(t *testing.T) {
	elements := []int{0, 2, 3}
	for _, test := range []struct {
		name  string
		pairs []Pair
		want  []Pair
	}{
		{"full stays full", FullPairs(4), FullPairs(3)},
		{"half stays half", HalfPairs(4), HalfPairs(3)},
		{"a list keeps its order", []Pair{{3, 0}, {1, 2}, {2, 2}, {0, 1}, {2, 3}},
			[]Pair{{2, 0}, {1, 1}, {1, 2}}},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := random(t, 4, test.pairs, 3)
			got := check.Must(c.SubAperture(elements))
			if diff := cmp.Diff(test.want, got.Pairs); diff != "" {
				t.Fatalf("pairs (-want +got):\n%s", diff)
			}
			for pair, trace := range got.Traces() {
				p, ok := c.Index(elements[pair.Tx], elements[pair.Rx])
				if !ok || !cmp.Equal(c.Trace(p), trace) {
					t.Errorf("trace %v is not the trace of elements %d and %d", pair,
						elements[pair.Tx], elements[pair.Rx])
				}
				if got.Array.Elements[pair.Tx] != c.Array.Elements[elements[pair.Tx]] {
					t.Errorf("element %d is not where element %d was", pair.Tx, elements[pair.Tx])
				}
			}
		})
	}
}

// TestSubApertureCommutes checks that a sub-aperture commutes with the conversions and with the
// gate.
func TestSubApertureCommutes(t *testing.T) {
	full := random(t, 5, FullPairs(5), 6)
	half := check.Must(full.Half())
	for _, elements := range [][]int{{0}, {4}, {1, 3}, {0, 2, 4}, {0, 1, 2, 3, 4}} {
		for _, test := range []struct {
			name      string
			one, then *Capture
		}{
			{"to half", check.Must(check.Must(full.SubAperture(elements)).Half()),
				check.Must(half.SubAperture(elements))},
			{"to full", check.Must(check.Must(half.SubAperture(elements)).Full()),
				check.Must(check.Must(half.Full()).SubAperture(elements))},
			{"gate", check.Must(check.Must(full.SubAperture(elements)).Gate(-0.6e-6, 0)),
				check.Must(check.Must(full.Gate(-0.6e-6, 0)).SubAperture(elements))},
		} {
			if diff := cmp.Diff(test.one, test.then); diff != "" {
				t.Errorf("elements %v, %s (-first +last):\n%s", elements, test.name, diff)
			}
		}
	}
}

func TestSubApertureRefuses(t *testing.T) {
	c := random(t, 3, []Pair{{0, 1}, {1, 2}}, 2)
	for _, test := range []struct {
		name     string
		elements []int
		want     string
	}{
		{"no elements", nil, "array of 0 elements"},
		{"element beyond the array", []int{3}, "element 3 of the sub-aperture: want 0 to 2"},
		{"not ascending", []int{1, 0}, "want ascending order"},
		{"no pair among them", []int{0, 2}, "no pair among elements [0 2]: want at least 1"},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := c.SubAperture(test.elements)
			check.Error(t, err, "fmc: ", test.want)
		})
	}
}

// TestSelect checks that traces are copied as captured, or by reciprocity.
func TestSelect(t *testing.T) {
	const n = 4
	full := random(t, n, FullPairs(n), 3)
	sparse := check.Must(full.Select(SparsePairs([]int{3, 1}, n)))
	want := append(slices.Clone(full.Data[3*n*3:4*n*3]), full.Data[n*3:2*n*3]...)
	if diff := cmp.Diff(want, sparse.Data); diff != "" || sparse.Layout() != Listed {
		t.Errorf("layout %v, transmitters 3 and 1 (-want +got):\n%s", sparse.Layout(), diff)
	}
	sparse.Data[0]++
	if sparse.Data[0] == full.Data[3*n*3] {
		t.Error("samples are shared")
	}
	half := check.Must(full.Select(HalfPairs(n)))
	got := check.Must(half.Select([]Pair{{2, 1}, {0, 3}, {1, 2}}))
	want = nil
	for _, p := range []Pair{{1, 2}, {0, 3}, {1, 2}} {
		trace, _ := full.Between(p.Tx, p.Rx)
		want = append(want, trace...)
	}
	if diff := cmp.Diff(want, got.Data); diff != "" {
		t.Errorf("of a half matrix (-want +got):\n%s", diff)
	}
	if _, err := sparse.Select([]Pair{{0, 2}}); !errors.Is(err, ErrNoTrace) {
		t.Errorf("error %v of a pair that is missing, want %v", err, ErrNoTrace)
	}
	events := ofEvents(t, 3, n, 2)
	got = check.Must(events.Select([]Pair{{2, 1}}))
	if !cmp.Equal(got.Data, events.Trace(2*n+1)) || len(got.Events) != 3 {
		t.Error("wrong trace of event 2 at receiver 1")
	}
	events = check.Must(events.Select([]Pair{{0, 1}}))
	if _, err := events.Select([]Pair{{1, 0}}); !errors.Is(err, ErrNoTrace) {
		t.Errorf("error %v of an event that is missing, want %v", err, ErrNoTrace)
	}
	for want, pairs := range map[string][]Pair{
		"0 pairs": nil, "want elements 0 to 3": {{0, 4}}, "distinct pairs": {{1, 1}, {1, 1}},
	} {
		_, err := full.Select(pairs)
		check.Error(t, err, "fmc: ", want)
	}
}
