// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/fmc/npy"
)

// TestChooseViews checks the views of a set-up. By Snell's law the first critical angle of steel
// (5,920 m/s) is 23.3° for polystyrene (2,340 m/s) and 14.5° for water (1,482 m/s).
func TestChooseViews(t *testing.T) {
	for _, test := range []struct {
		name, capture string
		tilt          float64 // of the array in degrees, NaN to leave it
		want          string
	}{
		{"in contact", "notch32", math.NaN(), "L-L"},
		{"wedge of 36°", "weld32", math.NaN(), "T-T TT-T TT-TT"},
		{"wedge below the critical angle", "weld32", 23, "L-L"},
		{"wedge beyond it", "weld32", 23.6, "T-T TT-T TT-TT"},
		{"wedge the other way", "weld32", -36, "T-T TT-T TT-TT"},
		{"water, square on", "pipe32", math.NaN(), "L-L"},
		{"water, tilted a little", "pipe32", 14, "L-L"},
		{"water, tilted", "pipe32", 15, "T-T TT-T TT-TT"},
	} {
		t.Run(test.name, func(t *testing.T) {
			r, err := npy.ReadFile("../../testdata/"+test.capture+".json", nil)
			if err != nil {
				t.Fatal(err)
			}
			if !math.IsNaN(test.tilt) {
				elements := r.Capture.Array.Elements
				for i := range elements {
					elements[i].Z = -20e-3 - elements[i].X*math.Tan(test.tilt*math.Pi/180)
				}
			}
			views, why := chooseViews(r)
			var names []string
			for _, v := range views {
				names = append(names, v.String())
			}
			if got := strings.Join(names, " "); got != test.want || why == "" {
				t.Errorf("views %s because of %q, want %s", got, why, test.want)
			}
		})
	}
}
