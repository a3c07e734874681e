// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"context"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/internal/check"
)

func TestReadEvents(t *testing.T) {
	listed := strings.NewReplacer(`"event, receiver, sample"`, `"pair, sample"`, `"events"`,
		`"pairs": [[2, 1], [0, 0]], "events"`).Replace(plainEvents)
	events := []fmc.Event{
		{Delays: []float64{0, 1e-7}, Weights: []float64{1, 0}},
		{Delays: []float64{0, 0}, Weights: []float64{1, -1}},
		{Delays: []float64{2e-7, 0}, Weights: []float64{1, 1}},
	}
	tests := []struct {
		name, setup string
		array       []byte
		pairs       []fmc.Pair
	}{
		{"all pairs", plainEvents, plainEventsFile(),
			[]fmc.Pair{{Tx: 0, Rx: 0}, {Tx: 0, Rx: 1}, {Tx: 1, Rx: 0}, {Tx: 1, Rx: 1},
				{Tx: 2, Rx: 0}, {Tx: 2, Rx: 1}}},
		{"listed", listed, file(dictionary("'<i2'", "False", "(2, 1)"), make([]byte, 4)),
			[]fmc.Pair{{Tx: 2, Rx: 1}, {Tx: 0, Rx: 0}}},
	}
	for _, test := range tests {
		r, err := read(test.setup, test.array)
		if err != nil {
			t.Errorf("%s: %v", test.name, err)
			continue
		}
		if diff := cmp.Diff(events, r.Capture.Events); diff != "" {
			t.Errorf("%s: events (-want +got):\n%s", test.name, diff)
		}
		if diff := cmp.Diff(test.pairs, r.Capture.Pairs); diff != "" {
			t.Errorf("%s: pairs (-want +got):\n%s", test.name, diff)
		}
	}
}

// TestEventFaults changes one detail of a sound set-up at a time.
func TestEventFaults(t *testing.T) {
	from := strings.Index(plainEvents, `[{"delays_s"`)
	list := plainEvents[from:strings.Index(plainEvents, `},`+"\n"+` "array"`)]
	tests := []struct {
		name, old, new string
		want           string
	}{
		{"no events", list, "[]", "capture.events of length 0: want at least 1"},
		{"null", `[2e-7, 0]`, `[null, 0]`, "capture.events[2].delays_s[0]: null"},
		{"null list", `"delays_s": [2e-7, 0]`, `"delays_s": null`,
			"capture.events[2].delays_s: null"},
		{"no delays", `, "delays_s": [2e-7, 0]`, ``, "capture.events[2].delays_s: missing"},
		{"no weights", `, "weights": [1, -1]`, ``, "capture.events[1].weights: missing"},
		{"unknown field", `{"weights"`, `{"angle": 0, "weights"`, `unknown field "angle"`},
		{"weights twice", `{"weights"`, `{"weights": [], "weights"`,
			`capture.events[2]: field "weights" is repeated`},
		{"delay for each element but one", `[2e-7, 0]`, `[2e-7]`,
			"capture.events[2]: fmc: event of 1 delays and 2 weights: want 2 of each"},
		{"a weight too many", `[1, -1]`, `[1, -1, 1]`,
			"capture.events[1]: fmc: event of 2 delays and 3 weights: want 2 of each"},
		{"empty lists", `"weights": [1, 1], "delays_s": [2e-7, 0]`, `"weights": [], "delays_s": []`,
			"capture.events[2]: fmc: event of 0 delays and 0 weights"},
		{"silent", `[1, -1]`, `[0, -0.0]`,
			"capture.events[1]: fmc: event of weights that are all 0"},
		{"delay beyond float64", `2e-7`, `2e999`,
			"capture.events[2].delays_s[0]: the number 2e999: want a number that fits a float64"},
		{"weight is text", `[1, -1]`, `["1", -1]`,
			"capture.events[1].weights[0]: a text: want a number"},
		{"NaN", `[1, -1]`, `[NaN, -1]`, "invalid character 'N'"},
		{"not a list", `[1, -1]`, `1`, "capture.events[1].weights: the number 1: want a list"},
		{"order of elements", `"event, receiver, sample"`, `"transmitter, receiver, sample"`,
			`want "event, receiver, sample" or "pair, sample" with capture.events`},
		{"half matrix", `"event, receiver, sample"`, `"pair, sample"`,
			`capture.pairs: want a list for events in the order "pair, sample"`},
		{"list of pairs in the order of events", `"events"`, `"pairs": [[0, 0]], "events"`,
			`capture.pairs: want none in the order "event, receiver, sample"`},
		{"scan in the order of a record", "0}]}\n}",
			`0}]}, "scan": {"indices": [0], "times_s": [0], "positions_m": [0]}` + "}",
			`want "frame, event, receiver, sample" or "frame, pair, sample" with capture.events`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			setup := strings.Replace(plainEvents, test.old, test.new, 1)
			if setup == plainEvents {
				t.Fatalf("%q is not in the set-up", test.old)
			}
			_, err := read(setup, plainEventsFile())
			wantFault(t, err, ErrSetup, test.want)
		})
	}
	setup := strings.Replace(plain, `"pair, sample"`, `"event, receiver, sample"`, 1)
	_, err := read(setup, plainEventsFile())
	wantFault(t, err, ErrSetup,
		`want "transmitter, receiver, sample" or "pair, sample" without capture.events`)
	setup = strings.NewReplacer(`"event, receiver, sample"`, `"pair, sample"`, `"events"`,
		`"pairs": [[3, 0]], "events"`).Replace(plainEvents)
	_, err = read(setup, file(dictionary("'<i2'", "False", "(1, 1)"), make([]byte, 2)))
	wantFault(t, err, ErrSetup, "pair 0 is 3→0: want events 0 to 2 and elements 0 to 1")
	for _, shape := range []string{"(2, 2, 1)", "(2, 3, 1)", "(3, 3, 1)", "(6, 1)", "(3, 2)"} {
		_, err = read(plainEvents, file(dictionary("'<i2'", "False", shape), nil))
		wantFault(t, err, ErrArray, "want [3 2] and the samples for 3 events and 2 elements")
	}
}

// TestEventsAreExact: delays and weights of every size and sign keep their bits.
func TestEventsAreExact(t *testing.T) {
	want := withEvents(t, fmc.EventPairs(2, 3))
	setup, array := encode(t, want, Int16)
	got := check.Must(read(string(setup), array))
	for e, event := range want.Capture.Events {
		for i := range event.Delays {
			got := got.Capture.Events[e]
			if got, want := got.Delays[i], event.Delays[i]; math.Float64bits(got) != math.Float64bits(want) {
				t.Errorf("event %d: delay %v of element %d, want %v", e, got, i, want)
			}
			if got, want := got.Weights[i], event.Weights[i]; math.Float64bits(got) != math.Float64bits(want) {
				t.Errorf("event %d: weight %v of element %d, want %v", e, got, i, want)
			}
		}
	}
}

// TestStoredCodes encodes a full matrix, stores it and decodes it. It comes back bit for bit, as it
// does in package transmit without storing.
func TestStoredCodes(t *testing.T) {
	want := reference(t, "block16")
	codes := check.Must(transmit.Hadamard(16))
	coded := *want
	coded.Capture = check.Must(transmit.Encode(context.Background(), want.Capture, codes, nil))
	name := filepath.Join(t.TempDir(), "coded.json")
	if err := WriteFile(name, &coded, Float32); err != nil {
		t.Fatal(err)
	}
	stored := check.Must(ReadFile(name, allow))
	samples := stored.Capture.Data
	if !slices.Equal(samples, coded.Capture.Data) {
		t.Error("other samples are stored")
	}
	coded.Capture.Data, stored.Capture.Data = nil, nil // which go-cmp compares slowly
	if diff := cmp.Diff(&coded, stored); diff != "" {
		t.Errorf("coded record (-want +got):\n%s", diff)
	}
	stored.Capture.Data = samples
	got, _, err := transmit.Decode(context.Background(), stored.Capture, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(want.Capture.Data, got.Data) || !slices.Equal(want.Capture.Pairs, got.Pairs) {
		t.Error("the full matrix did not come back")
	}
}
