// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestReciprocalRoundTrip: on reciprocal data full → half → full is the
// identity, bit for bit, whichever reduction makes the half.
func TestReciprocalRoundTrip(t *testing.T) {
	for n := 1; n <= 5; n++ {
		for _, samples := range []int{1, 2, 7} {
			for _, reduction := range []Reduction{Mean, Captured} {
				full := must(random(t, n, HalfPairs(n), samples).Full())(t)
				half := must(full.Half(reduction))(t)
				back := must(half.Full())(t)
				if diff := cmp.Diff(full, back); diff != "" {
					t.Errorf("%d elements, %d samples, %v: full → half → full (-want +got):\n%s", n, samples, reduction, diff)
				}
				if n > 1 && half.Layout() != Half {
					t.Errorf("%d elements: layout %v, want half", n, half.Layout())
				}
			}
		}
	}
}

// TestHalfRoundTrip: half → full → half is the identity on any data.
func TestHalfRoundTrip(t *testing.T) {
	for n := 1; n <= 5; n++ {
		for _, reduction := range []Reduction{Mean, Captured} {
			half := random(t, n, HalfPairs(n), 3)
			back := must(must(half.Full())(t).Half(reduction))(t)
			if diff := cmp.Diff(half, back); diff != "" {
				t.Errorf("%d elements, %v: half → full → half (-want +got):\n%s", n, reduction, diff)
			}
		}
	}
}

func TestHalf(t *testing.T) {
	full := random(t, 2, FullPairs(2), 2)
	full.Data = []float32{1, 2, 3, math.MaxFloat32, 6, math.MaxFloat32, 7, 8}
	for _, test := range []struct {
		reduction Reduction
		want      []float32
	}{
		{Mean, []float32{1, 2, 4.5, math.MaxFloat32, 7, 8}},
		{Captured, []float32{1, 2, 3, math.MaxFloat32, 7, 8}},
	} {
		half := must(full.Half(test.reduction))(t)
		if diff := cmp.Diff(test.want, half.Data); diff != "" {
			t.Errorf("%v (-want +got):\n%s", test.reduction, diff)
		}
	}
	_, err := full.Half(Reduction(2))
	wantError(t, err, "fmc: ", "Reduction(2): want mean or captured")
}

// TestConversionsOfListed: any order of enough pairs becomes what the same
// traces in order would.
func TestConversionsOfListed(t *testing.T) {
	const n = 4
	full := random(t, n, FullPairs(n), 3)
	rng := rand.New(rand.NewPCG(1, 2))
	shuffled := *full
	shuffled.Pairs, shuffled.Data = nil, nil
	for _, p := range rng.Perm(n * n) {
		shuffled.Pairs = append(shuffled.Pairs, full.Pairs[p])
		shuffled.Data = append(shuffled.Data, full.Trace(p)...)
	}
	if got := shuffled.Layout(); got != Listed {
		t.Fatalf("layout %v, want listed", got)
	}
	if diff := cmp.Diff(full, must(shuffled.Full())(t)); diff != "" {
		t.Errorf("full (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(must(full.Half(Mean))(t), must(shuffled.Half(Mean))(t)); diff != "" {
		t.Errorf("half (-want +got):\n%s", diff)
	}

	// The lower half, as some instruments deliver it: rx ≤ tx.
	half := must(full.Half(Captured))(t)
	lower := *half
	lower.Pairs = make([]Pair, len(half.Pairs))
	for p, pair := range half.Pairs {
		lower.Pairs[p] = pair.Reciprocal()
	}
	if diff := cmp.Diff(half, must(lower.Half(Captured))(t)); diff != "" {
		t.Errorf("lower half (-want +got):\n%s", diff)
	}
}

func TestConversionsRefuse(t *testing.T) {
	c := random(t, 3, []Pair{{0, 0}, {1, 1}, {2, 2}, {0, 1}, {2, 0}}, 2)
	_, fullErr := c.Full()
	_, halfErr := c.Half(Mean)
	for _, err := range []error{fullErr, halfErr} {
		if !errors.Is(err, ErrNoTrace) {
			t.Errorf("error %v, want one that wraps ErrNoTrace", err)
		}
		wantError(t, err, "fmc: ", "1→2")
	}
}

// TestConversionsCopy: writing to a result leaves its source alone.
func TestConversionsCopy(t *testing.T) {
	source := random(t, 3, FullPairs(3), 4)
	before := random(t, 3, FullPairs(3), 4)
	for _, result := range []*Capture{
		must(source.Full())(t),
		must(source.Half(Captured))(t),
		must(source.Gate(math.Inf(-1), math.Inf(1)))(t),
		must(source.SubAperture([]int{0, 1, 2}))(t),
	} {
		clear(result.Data)
	}
	if diff := cmp.Diff(before, source); diff != "" {
		t.Errorf("source (-want +got):\n%s", diff)
	}
}

// must turns a result and its error into a function that fails the test on the
// error, or returns the result after checking that it is valid.
func must(c *Capture, err error) func(testing.TB) *Capture {
	return func(t testing.TB) *Capture {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		if err := c.Validate(); err != nil {
			t.Fatal(err)
		}
		return c
	}
}
