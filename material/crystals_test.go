// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"testing"
)

// publishedCrystal returns the medium of that name.
func publishedCrystal(t testing.TB, name string) Anisotropic {
	t.Helper()
	c, ok := FindCrystal(name)
	if !ok {
		t.Fatalf("no crystal %q", name)
	}
	return c.Medium
}

func TestCrystals(t *testing.T) {
	names := map[string]bool{}
	for _, c := range Crystals() {
		if names[c.Name] {
			t.Errorf("%s: listed twice", c.Name)
		}
		names[c.Name] = true
		if c.Source == "" {
			t.Errorf("%s: no source", c.Name)
		}
		if err := c.Medium.Validate(); err != nil {
			t.Errorf("%s: %v", c.Name, err)
		}
		if got, ok := FindCrystal(c.Name); !ok || got != c {
			t.Errorf("FindCrystal(%q) = %v, %v", c.Name, got, ok)
		}
	}
	if len(names) != len(crystalTable) {
		t.Errorf("%d crystals, want %d", len(names), len(crystalTable))
	}
	if _, ok := FindCrystal("kryptonite"); ok {
		t.Error("found a crystal that is not listed")
	}
	Crystals()[0].Medium.Stiffness[0][0] = 0
	if got := Crystals()[0].Medium.Stiffness[0][0]; got != 108.2e9 {
		t.Errorf("the table changed with a caller's copy: C11 of aluminium %v", got)
	}
}

// TestWeldMetalC66 compares the sixth constant, which is not free, with the one
// printed beside the others in the sources (from memory, as the sets are).
func TestWeldMetalC66(t *testing.T) {
	for name, want := range map[string]float64{
		"weld metal X6CrNi18-11": 72.092e9,
		"weld metal type 308":    82.25e9,
		"weld metal, austenitic": 62.5e9,
	} {
		got := publishedCrystal(t, name).Stiffness[5][5]
		if !(math.Abs(got-want) <= 0.005e9) { // the first was rounded apart
			t.Errorf("%s: C66 %v Pa, want %v", name, got, want)
		}
	}
}
