// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
)

// TestOutside checks the notes on invented reflectors, for two views with different ranges.
func TestOutside(t *testing.T) {
	grids := []tfm.Grid{
		check.Must(tfm.NewSection(10e-3, 30e-3, 2e-3, 12e-3, 1e-3)),
		check.Must(tfm.NewSection(10e-3, 30e-3, 8e-3, 17e-3, 1e-3)),
	}
	const want = " lies outside the image: -x and -z choose the range"
	for _, test := range []struct {
		name  string
		truth npy.Truth
		want  []string
	}{
		{"nothing known", npy.Truth{}, nil},
		{"in one view", npy.Truth{Holes: []npy.Hole{{X: 20e-3, Z: 15e-3, Diameter: 1e-3}}}, nil},
		{"through the image, both ends beyond it",
			npy.Truth{Slits: []npy.Slit{{X0: 5e-3, Z0: 5e-3, X1: 35e-3, Z1: 6e-3}}}, nil},
		{"hole at the edge", npy.Truth{Holes: []npy.Hole{{X: 9.6e-3, Z: 5e-3, Diameter: 1e-3}}}, nil},
		{"left of all views",
			npy.Truth{Slits: []npy.Slit{{X0: 7e-3, Z0: 5e-3, X1: 4e-3, Z1: 9e-3}}},
			[]string{"a known reflector at x 4.0 to 7.0 mm, z 5.0 to 9.0 mm" + want}},
		{"below all views", npy.Truth{Holes: []npy.Hole{{X: 20e-3, Z: 19e-3, Diameter: 2e-3}}},
			[]string{"a known reflector at x 19.0 to 21.0 mm, z 18.0 to 20.0 mm" + want}},
	} {
		t.Run(test.name, func(t *testing.T) {
			if diff := cmp.Diff(test.want, outside(test.truth, grids)); diff != "" {
				t.Error(diff)
			}
		})
	}
}
