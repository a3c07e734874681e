// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/health"
)

// TestExchangedOrNotKnown exchanges the channels of two elements at places where the echoes tell
// it, and where they do not: through a wedge, under a wavy surface, and at the end of an array,
// where the mirrored order fits as well. The exchange must be found or the order of the elements
// not known. No other element may be named, and nothing may be repaired.
func TestExchangedOrNotKnown(t *testing.T) {
	for _, row := range []struct {
		name  string
		x, y  int
		found bool
	}{
		{"block16", 6, 7, true},
		{"block16", 0, 3, false}, // 3, 1, 2, 0 is nearly 0, 2, 1, 3 mirrored
		{"weld32", 8, 9, true},
		{"sdh32", 7, 8, false},
		{"pipe32", 0, 1, false},
		{"wavy32", 15, 16, false},
	} {
		if !long && row.name != "block16" && row.name != "pipe32" {
			continue
		}
		t.Run(fmt.Sprintf("%s/%d and %d", row.name, row.x, row.y), func(t *testing.T) {
			if testing.Short() && row.name != "block16" {
				t.Skip("one capture is enough for a short run")
			}
			t.Parallel()
			c := noisy(t, row.name, 3)
			want := swapped(row.y-row.x).plant(c, row.x, 0, nil)
			r := assess(t, c, nil)
			named := slices.DeleteFunc(found(r), func(s string) bool { return !strings.HasPrefix(s, "exchanged") })
			known := true
			for _, e := range []int{row.x, row.y} {
				known = known && r.Elements[e].Transmit.Order.Known() && r.Elements[e].Receive.Order.Known()
			}
			if row.found && !slices.Equal(named, want) || !row.found && (len(named) > 0 || known) {
				t.Errorf("found %v, order known: %v, want it found: %v", named, known, row.found)
			}
			unchanged(t, c, r)
		})
	}
}

// noisy returns a full-wave capture with noise of 3 % of the echo.
func noisy(t *testing.T, name string, seed uint64) *fmc.Capture {
	c := reference(t, name)
	spoil(c, slices.Repeat([]float64{1}, len(c.Array.Elements)), 0.03*echoPeak(t, name), source(seed))
	return c
}

// unchanged wants a repair that changes no element but the given ones.
func unchanged(t *testing.T, c *fmc.Capture, r *health.Report, faulty ...int) {
	t.Helper()
	repair, err := health.NewRepair(c, r, &health.RepairOptions{LargestShare: 1})
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range slices.Concat(repair.LeftOut, repair.Flipped) {
		if !slices.Contains(faulty, e) {
			t.Errorf("element %d is sound and was changed", e)
		}
	}
}

// TestHalfDead: every second or third element is dead, and half of the array at random places.
func TestHalfDead(t *testing.T) {
	for i, name := range references {
		if !long && i > 1 {
			break
		}
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c := reference(t, name)
			n := len(c.Array.Elements)
			dead := source(uint64(i)).Perm(n)[:n/2]
			if i%2 == 0 {
				dead = nil
				for e := i / 2; e < n; e += 2 + i%3 {
					dead = append(dead, e)
				}
			}
			gains := slices.Repeat([]float64{1}, n)
			var want []string
			for _, e := range dead {
				gains[e] = 0
				want = append(want, describe(health.Dead, both, e))
			}
			slices.Sort(want)
			spoil(c, gains, 0.03*echoPeak(t, name), source(2))
			r := assess(t, c, nil)
			compare(t, want, r)
			unchanged(t, c, r, dead...)
		})
	}
}
