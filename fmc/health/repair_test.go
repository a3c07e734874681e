// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
)

// TestRepairKeepsAmplitude sums equal echoes over the pairs, as an image does, with the
// weights of a repair, and wants the sum of a sound array.
func TestRepairKeepsAmplitude(t *testing.T) {
	for _, layout := range []struct {
		name  string
		pairs []fmc.Pair
	}{{"full", fmc.FullPairs(12)}, {"half", fmc.HalfPairs(12)}} {
		t.Run(layout.name, func(t *testing.T) {
			faults := map[int]fault{2: {transmit: -1, receive: -1}, 6: {transmit: -2, receive: -2}}
			c := plate{elements: 12, noise: 0.02, pairs: layout.pairs, faults: faults}.capture(t, source(8))
			repair, err := health.NewRepair(c, assess(t, c, nil), nil)
			if err != nil {
				t.Fatal(err)
			}
			sound, repaired, plain := 0.0, 0.0, 0.0
			for p, pair := range c.Pairs {
				count := 1.0
				if c.Layout() == fmc.Half && pair.Tx != pair.Rx {
					count = 2
				}
				echo := (1 + faults[pair.Tx].transmit) * (1 + faults[pair.Rx].receive)
				sound += count
				plain += count * echo
				repaired += count * echo * float64(repair.Weights[p])
			}
			if !(math.Abs(repaired/sound-1) <= 1e-6) {
				t.Errorf("sum of the repaired echoes %v, of sound ones %v", repaired, sound)
			}
			if !(plain < 0.9*sound) {
				t.Errorf("sum of the echoes without repair is %v of %v: the test needs a loss", plain, sound)
			}
			want := &health.Repair{Weights: repair.Weights, Scale: 144.0 / 121, LeftOut: []int{2}, Flipped: []int{6}}
			if diff := cmp.Diff(want, repair); diff != "" {
				t.Errorf("want (-) and got (+):\n%s", diff)
			}
		})
	}
}

// TestRepairedEnds wants a repair of the ends that have findings and of no others.
func TestRepairedEnds(t *testing.T) {
	faults := map[int]fault{1: {transmit: -1, receive: -1}, 5: {transmit: -2}, 8: {transmit: -0.5, receive: -0.5}}
	c := plate{elements: 12, noise: 0.02, faults: faults}.capture(t, source(9))
	repair, err := health.NewRepair(c, assess(t, c, nil), &health.RepairOptions{LargestGain: 4})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([][]int{{1}, {5}, {8}}, [][]int{repair.LeftOut, repair.Flipped, repair.Balanced}); diff != "" {
		t.Errorf("left out, flipped, balanced:\n%s", diff)
	}
	for _, row := range []struct {
		tx, rx int
		want   float64
	}{{0, 2, 1}, {5, 2, -1}, {2, 5, 1}, {1, 2, 0}, {2, 1, 0}, {8, 2, 2}, {5, 8, -2}} {
		p, _ := c.Index(row.tx, row.rx)
		if got := float64(repair.Weights[p]) / repair.Scale; !(math.Abs(got-row.want) <= 0.05) {
			t.Errorf("factor of %d→%d is %v, want %v", row.tx, row.rx, got, row.want)
		}
	}
}

func TestRepairDrops(t *testing.T) {
	c := plate{elements: 12, noise: 0.02, faults: map[int]fault{5: {transmit: -2, receive: -2}}}.capture(t, source(9))
	r := assess(t, c, nil)
	for drop, want := range map[bool]float32{true: 0, false: -1} {
		repair, err := health.NewRepair(c, r, &health.RepairOptions{DropReversed: drop})
		if err != nil {
			t.Fatal(err)
		}
		p, _ := c.Index(5, 0)
		if got := repair.Weights[p]; got != want {
			t.Errorf("dropped: %v: weight of 5→0 is %v, want %v", drop, got, want)
		}
	}
}

func TestRepairErrors(t *testing.T) {
	c := plate{elements: 3, noise: 0.02}.capture(t, source(1))
	r := assess(t, c, nil)
	other := plate{elements: 4, noise: 0.02}.capture(t, source(1))
	dead := *r
	for e := range 3 {
		dead.Findings = append(dead.Findings, health.Finding{Kind: health.Dead, Elements: []int{e}, Transmit: true, Receive: true, Value: 20, Limit: 12})
	}
	events := *c
	for range 3 {
		events.Events = append(events.Events, fmc.Event{Delays: make([]float64, 3), Weights: []float64{1, 0, 0}})
	}
	for _, row := range []struct {
		name    string
		capture *fmc.Capture
		report  *health.Report
		options health.RepairOptions
		want    string
	}{
		{"nil", nil, nil, health.RepairOptions{}, "without a capture"},
		{"other array", other, r, health.RepairOptions{}, "9 pairs of 3 elements"},
		{"events", &events, r, health.RepairOptions{}, fmc.ErrEvents.Error()},
		{"gain", c, r, health.RepairOptions{LargestGain: 0.5}, "largest gain 0.5"},
		{"gain NaN", c, r, health.RepairOptions{LargestGain: math.NaN()}, "largest gain NaN"},
		{"share", c, r, health.RepairOptions{LargestShare: 1.1}, "largest share 1.1"},
		{"share NaN", c, r, health.RepairOptions{LargestShare: math.NaN()}, "largest share NaN"},
		{"too many", c, &dead, health.RepairOptions{}, "3 of 3 elements, [0 1 2]: want at most a share of 0.25"},
		{"all dead", c, &dead, health.RepairOptions{LargestShare: 1}, "at least one"},
	} {
		t.Run(row.name, func(t *testing.T) {
			_, err := health.NewRepair(row.capture, row.report, &row.options)
			if err == nil || !strings.Contains(err.Error(), row.want) {
				t.Errorf("error %v: want one with %q", err, row.want)
			}
		})
	}
}

// TestRepairRefuses: a quarter of the elements may be changed, not one more.
func TestRepairRefuses(t *testing.T) {
	for _, row := range []struct {
		bad     int
		refused bool
	}{{3, false}, {4, true}} {
		c := plate{elements: 12, noise: 0.02}.capture(t, source(3))
		r := assess(t, c, nil)
		for e := range row.bad {
			r.Findings = append(r.Findings, health.Finding{Kind: health.Reversed, Elements: []int{e}, Transmit: true, Receive: true, Value: 0.9, Limit: 0.3})
		}
		repair, err := health.NewRepair(c, r, nil)
		if (err != nil) != row.refused {
			t.Errorf("%d of 12 elements reversed: error %v, want one: %v", row.bad, err, row.refused)
		}
		if err == nil && len(repair.Flipped) != row.bad {
			t.Errorf("flipped %v, want %d elements", repair.Flipped, row.bad)
		}
	}
}

// TestRepairWantsProof: a finding that does not exceed its limit changes nothing.
func TestRepairWantsProof(t *testing.T) {
	c := plate{elements: 12, noise: 0.02}.capture(t, source(3))
	r := assess(t, c, nil)
	for _, value := range []float64{0.3, 0.2, math.NaN()} {
		r.Findings = []health.Finding{{Kind: health.Reversed, Elements: []int{4}, Transmit: true, Receive: true, Value: value, Limit: 0.3}}
		repair, err := health.NewRepair(c, r, nil)
		if err != nil {
			t.Fatal(err)
		}
		if len(repair.Flipped) > 0 {
			t.Errorf("a reversal of %v at a limit of 0.3 was turned", value)
		}
	}
}
