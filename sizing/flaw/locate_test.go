// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestLigamentAtSurface checks that a contour that ends on a surface has a ligament of 0. A
// negative zero would be written as "-0".
func TestLigamentAtSurface(t *testing.T) {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230}
	l := &lister{setup: check.Must(wedge.NewPlate(nil, steel, 10e-3))}
	for _, test := range []struct {
		name       string
		upper, low float64 // ends of the contour, m
	}{{"back wall", 8e-3, 10e-3}, {"entry surface", 0, 2e-3}, {"entry surface, negative zero", math.Copysign(0, -1), 2e-3}} {
		in := sizing.Indication{Contour: []r3.Vec{{Z: test.upper}, {Z: test.low}}}
		f := Flaw{Z: 5e-3}
		l.locate(&f, &entry{sightings: []*sighting{{Indication: in, view: &view{}}}})
		if f.Ligament != 0 || math.Signbit(f.Ligament) {
			t.Errorf("%s: ligament %v m, want 0", test.name, f.Ligament)
		}
	}
}
