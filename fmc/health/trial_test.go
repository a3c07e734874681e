// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
)

// planted are the faults of the trials, each beyond its limit by a margin, and what
// must be found of each. Values are invented; that an element 6 dB below the others is
// weak is common practice, no source.
var planted = []struct {
	name  string
	kind  health.Kind
	fault fault
	full  bool   // can be told only in a full matrix
	ends  string // that must be named
}{
	{name: "dead", kind: health.Dead, fault: fault{transmit: -1, receive: -1}},
	{name: "weak by 6 dB", kind: health.Weak, fault: fault{transmit: -0.5, receive: -0.5}},
	{name: "weak by 9 dB", kind: health.Weak, fault: fault{transmit: -0.645, receive: -0.645}},
	{name: "reversed", kind: health.Reversed, fault: fault{transmit: -2, receive: -2}},
	{name: "late by 0.45 of a period", kind: health.Drift, fault: fault{late: 0.45 / frequency}},
	{name: "early by 0.4 of a period", kind: health.Drift, fault: fault{late: -0.4 / frequency}},
	{name: "noise up by 9.5 dB", kind: health.Noisy, fault: fault{noise: 2}, ends: receive},
	{name: "offset by 0.1 of the echo", kind: health.Offset, fault: fault{offset: 0.1}, ends: receive},
	{name: "uncoupled by 8 dB each way", kind: health.Uncoupled, fault: fault{loss: 0.6}},
	{name: "uncoupled altogether", kind: health.Uncoupled, fault: fault{loss: 1}},
	{name: "dead transmitter", kind: health.Dead, fault: fault{transmit: -1}, full: true, ends: transmit},
	{name: "weak receiver", kind: health.Weak, fault: fault{receive: -0.5}, full: true, ends: receive},
	{name: "reversed receiver", kind: health.Reversed, fault: fault{receive: -2}, full: true, ends: receive},
}

// trial plants up to three faults in distinct elements and at times cross-talk in a
// pair. It returns what must be found: kind, ends and elements, nothing more.
func trial(t *testing.T, seed uint64) (*fmc.Capture, []string) {
	rng := source(seed)
	q := plate{elements: 12, noise: 0.1, faults: make(map[int]fault), crossed: make(map[fmc.Pair]float64)}
	if rng.IntN(3) == 0 {
		q.pairs = fmc.HalfPairs(q.elements)
	}
	var want []string
	at := rng.Perm(q.elements)
	for i := range rng.IntN(4) {
		f := planted[rng.IntN(len(planted))]
		if f.full && q.pairs != nil {
			continue
		}
		q.faults[at[i]] = f.fault
		want = append(want, describe(f.kind, cmp.Or(f.ends, both), at[i]))
	}
	if rng.IntN(4) == 0 {
		tx := rng.IntN(q.elements - 8)
		pair := fmc.Pair{Tx: tx, Rx: tx + 8}
		q.crossed[pair] = 1.4
		want = append(want, describe(health.CrossTalk, both, pair.Tx, pair.Rx))
	}
	slices.Sort(want)
	return q.capture(t, rng), want
}

// The ends of an element that a finding is about.
const (
	both     = "both"
	transmit = "transmit"
	receive  = "receive"
)

func describe(kind health.Kind, ends string, elements ...int) string {
	return fmt.Sprintf("%v: %v %v", kind, ends, elements)
}

// found lists kind, ends and elements of the findings.
func found(r *health.Report) []string {
	var s []string
	for _, f := range r.Findings {
		ends := both
		if f.Transmit != f.Receive {
			ends = receive
			if f.Transmit {
				ends = transmit
			}
		}
		s = append(s, describe(f.Kind, ends, f.Elements...))
	}
	slices.Sort(s)
	return s
}

// compare wants exactly the findings described.
func compare(t *testing.T, want []string, r *health.Report) bool {
	t.Helper()
	diff := gocmp.Diff(want, found(r))
	if diff != "" {
		t.Errorf("planted (-) and found (+):\n%s%v", diff, r)
	}
	return diff == ""
}

// TestTrials plants faults at random in noise at 20 dB and wants exactly those found, at the
// default limits. The build tag long runs six hundred trials.
func TestTrials(t *testing.T) {
	count := 40
	if testing.Short() {
		count = 20
	}
	trials(t, 0, count)
}

// trials runs count trials from a seed on.
func trials(t *testing.T, first, count int) {
	const workers = 4
	counts := make([]map[string]int, workers) // of trials by the kinds planted in them
	var group sync.WaitGroup
	for w := range workers {
		counts[w] = make(map[string]int)
		group.Go(func() {
			for seed := first + w; seed < first+count; seed += workers {
				c, want := trial(t, uint64(seed))
				r, err := health.Assess(c, nil)
				if err != nil {
					t.Error(err)
					return
				}
				missed := slices.DeleteFunc(slices.Clone(want), func(f string) bool { return slices.Contains(found(r), f) })
				if len(missed) > 0 && !slices.ContainsFunc(missed, func(f string) bool { return !notKnown(r, f) }) {
					counts[w]["not known"]++
				} else if !compare(t, want, r) {
					t.Errorf("that was trial %d", seed)
				}
				for _, f := range want {
					kind, _, _ := strings.Cut(f, ":")
					counts[w][kind]++
				}
				if len(want) == 0 {
					counts[w]["none"]++
				}
			}
		})
	}
	group.Wait()
	unknown := 0
	for _, c := range counts {
		unknown += c["not known"]
	}
	if t.Logf("not known in %d of %d trials", unknown, count); 200*unknown > count {
		t.Errorf("not known in %d of %d trials: want at most one in 200", unknown, count)
	}
	kinds := []string{"none", "dead", "weak", "reversed", "drift of the time zero", "noisy", "offset", "uncoupled", "cross-talk"}
	for _, kind := range kinds {
		total := 0
		for _, c := range counts {
			total += c[kind]
		}
		if total < count/30 {
			t.Errorf("%q was planted in %d of %d trials: want a thirtieth", kind, total, count)
		}
	}
}

// notKnown reports whether a drift or a reversal that was not found is not known in the report.
func notKnown(r *health.Report, finding string) bool {
	var e int
	if _, err := fmt.Sscanf(finding[strings.Index(finding, "["):], "[%d]", &e); err != nil {
		return false
	}
	q := r.Elements[e]
	switch kind, _, _ := strings.Cut(finding, ":"); health.Kind(kind) {
	case health.Drift:
		return !q.Transmit.Drift.Known() && !q.Receive.Drift.Known()
	case health.Reversed:
		return !q.Transmit.Polarity.Known() && !q.Receive.Polarity.Known()
	}
	return false
}
