// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/internal/check"
)

// halves are the two ways to a half matrix: by the mean, and as captured.
var halves = map[string]func(*Capture) (*Capture, error){
	"mean": (*Capture).Half,
	"captured": func(c *Capture) (*Capture,
		error) {
		return c.Select(HalfPairs(len(c.Array.Elements)))
	},
}

// TestReciprocalRoundTrip checks that full → half → full returns reciprocal data bit for bit, for
// both ways to a half matrix.
func TestReciprocalRoundTrip(t *testing.T) {
	for n := 1; n <= 5; n++ {
		for _, samples := range []int{1, 2, 7} {
			for name, halve := range halves {
				full := check.Must(random(t, n, HalfPairs(n), samples).Full())
				half := check.Must(halve(full))
				back := check.Must(half.Full())
				if diff := cmp.Diff(full, back); diff != "" {
					t.Errorf("%d elements, %d samples, %v: full → half → full (-want +got):\n%s",
						n, samples, name, diff)
				}
				if n > 1 && half.Layout() != Half {
					t.Errorf("%d elements: layout %v, want half", n, half.Layout())
				}
			}
		}
	}
}

// TestHalfRoundTrip checks that half → full → half returns any data bit for bit.
func TestHalfRoundTrip(t *testing.T) {
	for n := 1; n <= 5; n++ {
		for name, halve := range halves {
			half := random(t, n, HalfPairs(n), 3)
			back := check.Must(halve(check.Must(half.Full())))
			if diff := cmp.Diff(half, back); diff != "" {
				t.Errorf("%d elements, %v: half → full → half (-want +got):\n%s", n, name, diff)
			}
		}
	}
}

func TestHalf(t *testing.T) {
	full := random(t, 2, FullPairs(2), 2)
	full.Data = []float32{1, 2, 3, math.MaxFloat32, 6, math.MaxFloat32, 7, 8}
	for name, want := range map[string][]float32{
		"mean":     {1, 2, 4.5, math.MaxFloat32, 7, 8},
		"captured": {1, 2, 3, math.MaxFloat32, 7, 8},
	} {
		if diff := cmp.Diff(want, check.Must(halves[name](full)).Data); diff != "" {
			t.Errorf("%v (-want +got):\n%s", name, diff)
		}
	}
}

// TestConversionsOfListed checks that the order of the pairs has no effect on the full and the half
// matrix.
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
	if diff := cmp.Diff(full, check.Must(shuffled.Full())); diff != "" {
		t.Errorf("full (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(check.Must(full.Half()), check.Must(shuffled.Half())); diff != "" {
		t.Errorf("half (-want +got):\n%s", diff)
	}

	// Some instruments deliver the lower half, rx ≤ tx.
	half := check.Must(full.Select(HalfPairs(n)))
	lower := *half
	lower.Pairs = make([]Pair, len(half.Pairs))
	for p, pair := range half.Pairs {
		lower.Pairs[p] = pair.Reciprocal()
	}
	if diff := cmp.Diff(half, check.Must(lower.Half())); diff != "" {
		t.Errorf("lower half (-want +got):\n%s", diff)
	}
}

func TestConversionsRefuse(t *testing.T) {
	c := random(t, 3, []Pair{{0, 0}, {1, 1}, {2, 2}, {0, 1}, {2, 0}}, 2)
	_, fullErr := c.Full()
	_, halfErr := c.Half()
	for _, err := range []error{fullErr, halfErr} {
		if !errors.Is(err, ErrNoTrace) {
			t.Errorf("error %v, want one that wraps ErrNoTrace", err)
		}
		check.Error(t, err, "fmc: ", "1→2")
	}
}

// TestConversionsOfTemplates checks that parts of a capture without samples are the parts of a capture
// with samples, without them, and that too few or too many samples are an error.
func TestConversionsOfTemplates(t *testing.T) {
	for name, convert := range map[string]func(c *Capture) (*Capture, error){
		"Full":        (*Capture).Full,
		"Half":        (*Capture).Half,
		"Select":      func(c *Capture) (*Capture, error) { return c.Select([]Pair{{2, 1}, {0, 0}}) },
		"SubAperture": func(c *Capture) (*Capture, error) { return c.SubAperture([]int{1, 2}) },
		"Gate":        func(c *Capture) (*Capture, error) { return c.Gate(c.Time(1), c.Time(2)) },
	} {
		c := random(t, 3, FullPairs(3), 4)
		want := check.Must(convert(c))
		want.Data = nil
		samples := c.Data
		c.Data = nil
		if diff := cmp.Diff(want, check.Must(convert(c))); diff != "" {
			t.Errorf("%s of a template (-want +got):\n%s", name, diff)
		}
		for _, data := range [][]float32{{}, samples[:35], append(samples, 1)} {
			c.Data = data
			_, err := convert(c)
			check.Error(t, err, "fmc: ", "samples in Data: want 36")
		}
	}
}

// TestConversionsCopy checks that results are valid captures, and that writing to a result does not
// change its source.
func TestConversionsCopy(t *testing.T) {
	source := random(t, 3, FullPairs(3), 4)
	before := random(t, 3, FullPairs(3), 4)
	for _, result := range []*Capture{
		check.Must(source.Full()),
		check.Must(source.Half()),
		check.Must(source.Select(HalfPairs(3))),
		check.Must(source.Gate(math.Inf(-1), math.Inf(1))),
		check.Must(source.SubAperture([]int{0, 1, 2})),
	} {
		if err := result.Validate(); err != nil {
			t.Error(err)
		}
		clear(result.Data)
	}
	if diff := cmp.Diff(before, source); diff != "" {
		t.Errorf("source (-want +got):\n%s", diff)
	}
}
