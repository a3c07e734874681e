// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// trialCrystals are solids of strong anisotropy for tests of calculations. Their constants are from
// memory and their authors are not known; therefore the library does not offer them. The speeds in
// the tests were calculated from these constants.
var trialCrystals = map[string]Anisotropic{
	"austenitic steel": {7874, Cubic{C11: 203.6e9, C12: 133.5e9, C44: 129.8e9}.Stiffness()},
	"weld metal type 308": {8120,
		TransverselyIsotropic{C11: 262.75e9, C12: 98.25e9, C13: 145e9, C33: 216e9,
			C44: 129e9}.Stiffness()},
	"weld metal, austenitic": {7850,
		TransverselyIsotropic{C11: 249e9, C12: 124e9, C13: 133e9, C33: 205e9,
			C44: 125e9}.Stiffness()},
}

// publishedCrystal returns the medium of that name, from FindCrystal or from trialCrystals.
func publishedCrystal(t testing.TB, name string) Anisotropic {
	t.Helper()
	if m, ok := trialCrystals[name]; ok {
		return m
	}
	return check.Must(FindCrystal(name)).Medium
}

func TestCrystals(t *testing.T) {
	for _, c := range crystals {
		if c.Source == "" || strings.Contains(c.Source, "uncertain") {
			t.Errorf("%s: source %q, want a source that names its authors", c.Name, c.Source)
		}
		if err := c.Medium.Validate(); err != nil {
			t.Errorf("%s: %v", c.Name, err)
		}
		if got, err := FindCrystal(c.Name); err != nil || got != c {
			t.Errorf("FindCrystal(%q) = %v, %v", c.Name, got, err)
		}
	}
	_, err := FindCrystal("kryptonite")
	check.Error(t, err, `material: crystal "kryptonite": want one of aluminium, iron, nickel,`, "weld metal X6CrNi18-11")
	c := check.Must(FindCrystal("aluminium"))
	c.Medium.Stiffness[0][0] = 0
	if got := check.Must(FindCrystal("aluminium")).Medium.Stiffness[0][0]; got != 108.2e9 {
		t.Errorf("the table changed with the copy of a caller: C11 of aluminium %v", got)
	}
}

// TestWeldMetalC66 compares the sixth constant, which follows from the other five, with the value
// that the source prints (from memory, as the set is).
func TestWeldMetalC66(t *testing.T) {
	const want = 72.092e9
	got := publishedCrystal(t, "weld metal X6CrNi18-11").Stiffness[5][5]
	if !(math.Abs(got-want) <= 0.005e9) { // it was rounded apart
		t.Errorf("C66 %v Pa, want %v", got, want)
	}
}
