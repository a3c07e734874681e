// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy_test

import (
	"fmt"
	"log"
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
)

const captures = "../../testdata/"

// The views and the section in which a weld is usually imaged.
func ExampleRecord_UsualViews() {
	record, err := npy.ReadFile("../../testdata/weld32.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("incidence at %.0f°\n", record.Incidence()*180/math.Pi)
	for _, v := range record.UsualViews() {
		from, to := record.UsualSection(v)
		fmt.Printf("%v: x %.0f to %.0f mm, z %.0f to %.0f mm\n", v, from.X*1e3, to.X*1e3, from.Z*1e3, to.Z*1e3)
	}
	// Output:
	// incidence at 36°
	// T-T: x 4 to 33 mm, z 1 to 17 mm
	// TT-T: x 4 to 33 mm, z 1 to 17 mm
	// TT-TT: x 4 to 33 mm, z 1 to 17 mm
}

// TestUsualViews checks the views of a set-up. By Snell's law the first critical angle of steel
// (5,920 m/s) is 23.3° for polystyrene (2,340 m/s) and 14.5° for water (1,482 m/s).
func TestUsualViews(t *testing.T) {
	for _, test := range []struct {
		name, capture string
		tilt          float64 // of the array in degrees, NaN to leave it
		want          string
	}{
		{"in contact", "notch32", math.NaN(), "[L-L]"},
		{"wedge of 36°", "weld32", math.NaN(), "[T-T TT-T TT-TT]"},
		{"wedge below the critical angle", "weld32", 23, "[L-L]"},
		{"wedge beyond it", "weld32", 23.6, "[T-T TT-T TT-TT]"},
		{"wedge the other way", "weld32", -36, "[T-T TT-T TT-TT]"},
		{"water, square on", "pipe32", math.NaN(), "[L-L]"},
		{"water, tilted a little", "pipe32", 14, "[L-L]"},
		{"water, tilted", "pipe32", 15, "[T-T TT-T TT-TT]"},
	} {
		r := check.Must(npy.ReadFile(captures+test.capture+".json", nil))
		if !math.IsNaN(test.tilt) {
			elements := r.Capture.Array.Elements
			for i := range elements {
				elements[i].Z = -20e-3 - elements[i].X*math.Tan(test.tilt*math.Pi/180)
			}
			check.Within(t, test.name+": incidence in degrees", r.Incidence()*180/math.Pi, test.tilt, 1e-9)
		}
		if got := fmt.Sprint(r.UsualViews()); got != test.want {
			t.Errorf("%s: views %s, want %s", test.name, got, test.want)
		}
		r.Weld = new(npy.Weld)
		if views := r.UsualViews(); len(views) != 1 {
			t.Errorf("%s: views %v with grains, want one", test.name, views)
		}
	}
}

// TestUsualSection checks that the section follows the array along the surface, and that the order
// of the elements does not matter. It mirrors the section with the array. Edges are whole
// millimetres.
func TestUsualSection(t *testing.T) {
	for _, capture := range []string{"weld32", "block16"} {
		record := check.Must(npy.ReadFile(captures+capture+".json", nil))
		view := record.UsualViews()[0]
		from, to := record.UsualSection(view)
		for _, test := range []struct {
			name         string
			scale, shift float64
			from, to     float64
		}{
			{"moved by 100 mm", 1, 0.1, from.X + 0.1, to.X + 0.1},
			{"mirrored", -1, 0, -to.X, -from.X},
		} {
			r := check.Must(npy.ReadFile(captures+capture+".json", nil))
			for i := range r.Capture.Array.Elements {
				e := &r.Capture.Array.Elements[i]
				e.X = test.scale*e.X + test.shift
			}
			a, b := r.UsualSection(view)
			check.Within(t, capture+" "+test.name+": x from in mm", a.X*1e3, test.from*1e3, 1e-9)
			check.Within(t, capture+" "+test.name+": x to in mm", b.X*1e3, test.to*1e3, 1e-9)
			if a.Z != from.Z || b.Z != to.Z {
				t.Errorf("%s %s: z from %v to %v, want %v to %v", capture, test.name, a.Z, b.Z, from.Z, to.Z)
			}
		}
	}
}
