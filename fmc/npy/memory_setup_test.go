// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"errors"
	"io"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
)

// setups returns set-ups with lists of n elements of every kind, sound and faulty. Each set-up is
// as short as possible for its content.
func setups(n int) map[string]string {
	repeat := func(element string) string { return "[" + strings.Repeat(element+",", n-1) + element + "]" }
	replace := func(old, new string) string { return strings.Replace(plain, old, new, 1) }
	capture := func(fields string) string { return replace(`"first_sample_s"`, fields+`, "first_sample_s"`) }
	numbers := distinct(n, "%d")
	centres := `[[-0.0005, 0], [0.0005, 0]]`
	all := map[string]string{
		"elements":            replace(centres, distinct(n, "[%d,0]")),
		"elements in space":   replace(centres, distinct(n, "[0,%d,0]")),
		"coincident elements": replace(centres, repeat("[0,0]")),
		"pairs": strings.Replace(capture(`"pairs": `+distinct(n, "[%d,0]")), centres,
			distinct(n, "[%d,0]"), 1),
		"pairs of no element": capture(`"pairs": ` + distinct(n, "[%d,9]")),
		"profile":             replace(`"plane"`, `"profile", "points_m": `+distinct(n, "[%d,0]")),
		"holes": replace(`[{"x_m": 0, "z_m": 0.01, "diameter_m": 0.002}]`,
			repeat(`{"x_m":0,"z_m":0,"diameter_m":1}`)),
		"slits": replace(`"slits": [`,
			`"slits": `+repeat(`{"x0_m":0,"z0_m":0,"x1_m":0,"z1_m":1,"width_m":0}`)+`, "x": [`),
		"events":        strings.Replace(capture(`"events": `+repeat(`{"delays_s":[0],"weights":[1]}`)), centres, "[[0,0]]", 1),
		"event of many": capture(`"events": [{"delays_s":` + repeat("0") + `,"weights":` + repeat("1") + `}]`),
		"frames": strings.NewReplacer("[4, 7]", numbers, "[0, 0.5]", repeat("0"),
			"[0.25, 0]", repeat("0")).Replace(plainScan),
		"long title":    replace(`"t"`, `"`+strings.Repeat("t", n)+`"`),
		"escaped title": replace(`"t"`, `"`+strings.Repeat(`\n`, n)+`"`),
		"long name":     replace(`"title"`, `"`+strings.Repeat("t", n)+`"`),
		"long number":   replace("50e6", strings.Repeat("9", n)),
		"long fraction": replace("50e6", "50000000."+strings.Repeat("9", n)),
		"space":         plain + strings.Repeat("\n", n),
		"long note":     withNotes(`{"a": "` + strings.Repeat("t", n) + `"}`),
		"nested":        withNotes(strings.Repeat(`{"":`, n) + strings.Repeat("}", n)),
		"cut":           replace(`"t"`, strings.Repeat("[", n)),
	}
	notes := strings.Trim(distinct(n, `"%d":0`), "[]")
	all["notes"] = withNotes("{" + notes + "}")
	for _, element := range []string{"0", "[]", "{}", `""`, "null", "[0]", `{"":0}`} {
		all["centres "+element] = replace(centres, repeat(element))
		all["pairs "+element] = capture(`"pairs": ` + repeat(element))
		all["events "+element] = capture(`"events": ` + repeat(element))
		all["delays "+element] = capture(`"events": [{"delays_s": ` + repeat(element) + `}]`)
		all["holes "+element] = replace(`"holes": [`, `"holes": `+repeat(element)+`, "x": [`)
		all["slits "+element] = replace(`"slits": [`, `"slits": `+repeat(element)+`, "x": [`)
		all["points "+element] = replace(`"plane"`, `"profile", "points_m": `+repeat(element))
		all["frames "+element] = strings.Replace(plainScan, "[4, 7]", repeat(element), 1)
		all["title "+element] = replace(`"t"`, repeat(element))
		all["note "+element] = withNotes(`{"a": ` + repeat(element) + `}`)
	}
	return all
}

// setupMultiple is the multiple of its length that a set-up may allocate to be decoded, as the
// document of maxSetup states. Package fmc may allocate as much again to validate the lists, so the
// document of [ReadOptions] states twice this multiple.
const setupMultiple = 24

// TestSetupMemory: to decode a set-up allocates at most setupMultiple times its length.
func TestSetupMemory(t *testing.T) {
	const n = 20000
	for name, setup := range setups(n) {
		got := allocated(func() { readDescription(strings.NewReader(setup)) })
		t.Logf("%s: %.1f", name, float64(got)/float64(len(setup)))
		if most := setupMultiple*len(setup) + 1<<16; got > most {
			t.Errorf("%s: %d bytes allocated for a set-up of %d, want %d at most", name, got,
				len(setup), most)
		}
	}
}

// TestSetupLimit: a set-up longer than the limit is neither read to its end nor written.
func TestSetupLimit(t *testing.T) {
	long := plain + strings.Repeat(" ", maxSetup-len(plain))
	if _, err := read(long, plainFile()); err != nil {
		t.Error(err)
	}
	endless := io.MultiReader(strings.NewReader(long+" "), neverRead{t})
	_, err := Read(endless, bytes.NewReader(plainFile()), nil)
	wantFault(t, err, ErrSetup, "text of more than 33554432 bytes")
	r := invented(t, fmc.HalfPairs(3))
	r.Title = strings.Repeat("t", maxSetup)
	if err := writeDescription(io.Discard, r, "a.npy", nil); !errors.Is(err, ErrSetup) ||
		!strings.Contains(err.Error(), "want 33554432 bytes at most") {
		t.Errorf("error %v, want ErrSetup and the limit", err)
	}
}

// neverRead is a reader that fails the test when it is read.
type neverRead struct{ t *testing.T }

func (n neverRead) Read([]byte) (int, error) {
	n.t.Error("a set-up was read beyond its limit")
	return 0, io.EOF
}
