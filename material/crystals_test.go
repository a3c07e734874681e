// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"strings"
	"testing"
)

// trialCrystals are solids of strong anisotropy to test calculations on. Their constants are from
// memory and their authors are not known, so that the library does not offer them. The speeds
// in the tests were calculated from these very constants.
var trialCrystals = map[string]Anisotropic{
	"austenitic steel":       {7874, Cubic{C11: 203.6e9, C12: 133.5e9, C44: 129.8e9}.Stiffness()},
	"weld metal type 308":    {8120, TransverselyIsotropic{C11: 262.75e9, C12: 98.25e9, C13: 145e9, C33: 216e9, C44: 129e9}.Stiffness()},
	"weld metal, austenitic": {7850, TransverselyIsotropic{C11: 249e9, C12: 124e9, C13: 133e9, C33: 205e9, C44: 125e9}.Stiffness()},
}

// publishedCrystal returns the medium of that name, published or for trials.
func publishedCrystal(t testing.TB, name string) Anisotropic {
	t.Helper()
	if m, ok := trialCrystals[name]; ok {
		return m
	}
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
		if c.Source == "" || strings.Contains(c.Source, "uncertain") {
			t.Errorf("%s: source %q, want one that names its authors", c.Name, c.Source)
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
// printed beside the others in the source (from memory, as the set is).
func TestWeldMetalC66(t *testing.T) {
	const want = 72.092e9
	got := publishedCrystal(t, "weld metal X6CrNi18-11").Stiffness[5][5]
	if !(math.Abs(got-want) <= 0.005e9) { // it was rounded apart
		t.Errorf("C66 %v Pa, want %v", got, want)
	}
}
