// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"bytes"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/graded"
)

const weldText = `{"weld": {"density_kg_m3": 8120, "stiffness_pa": {"c11": 262.75e9, "c13": 145e9, "c33": 216e9, "c44": 129e9,
	"c66": 82.25e9}, "half_root_m": 0.0025, "bevel_rad": 0.5, "root_z_m": 0.025, "cap_z_m": 0, "centre_x_m": 0.004,
	"law": {"t": 1.2, "eta": 0.9}}}`

// weldRecord returns notch32 with the weld of weldText.
func weldRecord(t *testing.T) *Record {
	r := reference(t, "notch32")
	r.Weld = check.Must(readWeld(strings.NewReader(weldText)))
	return r
}

// TestWeldRoundTrip writes a weld with a set-up and reads it again.
func TestWeldRoundTrip(t *testing.T) {
	r := weldRecord(t)
	name := filepath.Join(t.TempDir(), "weld.json")
	if err := WriteFile(name, r, Int16); err != nil {
		t.Fatal(err)
	}
	got := check.Must(ReadFile(name, nil))
	want := &Weld{
		Density: 8120, Stiffness: Stiffness{262.75e9, 145e9, 216e9, 129e9, 82.25e9},
		HalfRoot: 2.5e-3, Bevel: 0.5, Root: 25e-3, Centre: 4e-3, Law: GrainLaw{1.2, 0.9},
	}
	if diff := cmp.Diff(want, got.Weld); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
	if err := os.WriteFile(name, []byte(weldText), 0o600); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(want, check.Must(ReadWeld(name))); diff != "" {
		t.Errorf("-want +got:\n%s", diff)
	}
}

// TestWelded checks the part of a record by the zones on a level line, and by the time of a ray that
// does not meet the weld.
func TestWelded(t *testing.T) {
	r := weldRecord(t)
	for _, wide := range []bool{false, true} {
		if wide {
			r.Weld.Root, r.Weld.Cap = 0, 25e-3
		}
		part := check.Must(r.Welded())
		half := 2.5e-3 + 20e-3*math.Tan(0.5)
		z := 5e-3
		if wide {
			z = 20e-3
		}
		for _, x := range []float64{4e-3 - half, 4e-3 + half} {
			least := math.Inf(1)
			for _, f := range part.Faces {
				least = min(least, math.Abs(f.Depth(r3.Vec{X: x, Z: z})))
			}
			check.Within(t, "distance of the nearest face", least, 0, 1e-9)
		}
		// On the centre line the grains stand upright. An SH wave crosses them with the stiffness C66.
		middle := part.Media[len(part.Media)-1]
		speed := middle.Phase(graded.ShearHorizontal, r3.Vec{X: 4e-3, Z: z}, 0).Speed
		check.Within(t, "speed of SH across the grains", speed, math.Sqrt(82.25e9/8120), 1e-3)
		ray := check.Must(part.Ray(graded.QuasiLongitudinal, r3.Vec{X: -20e-3}, r3.Vec{X: -18e-3, Z: 8e-3}, nil))
		if ray.Status != wedge.OK {
			t.Fatal(ray.Status)
		}
		check.Within(t, "time in the parent metal", ray.Time, math.Hypot(2e-3, 8e-3)/r.Part.Longitudinal, 1e-12)
	}
	r.Weld = nil
	_, err := r.Welded()
	check.Error(t, err, "weld missing")
}

// TestWeldRefuses checks the errors of welds.
func TestWeldRefuses(t *testing.T) {
	for _, row := range []struct{ name, from, to, want string }{
		{"no field", `"eta": 0.9`, `"eta": null`, "weld.law.eta"},
		{"missing", `, "eta": 0.9`, ``, "weld.law.eta"},
		{"unknown", `"t": 1.2`, `"t": 1.2, "u": 1`, "unknown field"},
		{"more than a weld", `{"weld": {`, `{"part": {}, "weld": {`, "unknown field"},
		{"law", `1.2`, `1000`, "T of the grain law"},
		{"metal", `"c44": 129e9`, `"c44": -1`, "tiffness"},
		{"root", `0.0025`, `0`, "root gap"},
		{"bevel", `0.5`, `2`, "bevel angle"},
		{"no depth", `"root_z_m": 0.025`, `"root_z_m": 0`, "thickness"},
		{"above the part", `"cap_z_m": 0,`, `"cap_z_m": -0.01,`, "root_z_m and cap_z_m"},
		{"centre", `"centre_x_m": 0.004`, `"centre_x_m": 1e999`, "centre_x_m"},
		{"not JSON", `{"weld"`, `{weld`, ""},
	} {
		text := strings.Replace(weldText, row.from, row.to, 1)
		_, err := readWeld(strings.NewReader(text))
		check.Error(t, err, row.want)
	}
	_, err := readWeld(strings.NewReader(strings.Repeat(" ", maxWeld+1)))
	check.Error(t, err, "text of more than 65536 bytes")
	_, err = ReadWeld(filepath.Join(t.TempDir(), "none.json"))
	check.Error(t, err, "none.json")

	r := weldRecord(t)
	r.Thickness = 30e-3
	check.Error(t, r.Validate(), "thickness of the part, 0.03")
	r = weldRecord(t)
	r.Surface.Radius = 1
	check.Error(t, r.Validate(), "want a plane")
	r = weldRecord(t)
	r.Weld.Stiffness.C13 /= 1000
	check.Error(t, r.Validate(), "weld.stiffness_pa.c13")
	r = weldRecord(t)
	r.Weld.Centre *= 1000
	check.Error(t, r.Validate(), "weld.centre_x_m")
}

// FuzzReadWeld checks that no text makes the reader panic, and that a weld that is read has a part.
func FuzzReadWeld(f *testing.F) {
	f.Add([]byte(weldText))
	f.Add([]byte(`{"weld": {}}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		w, err := readWeld(bytes.NewReader(text))
		if err != nil {
			return
		}
		r := &Record{
			Part:      Material{Name: "steel", Density: 7900, Longitudinal: 5790, Transverse: 3100},
			Thickness: max(w.Root, w.Cap), Weld: w,
		}
		if _, err := r.Welded(); err != nil {
			t.Errorf("weld %+v without a part: %v", w, err)
		}
	})
}
