// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"context"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// A full-wave capture has a slit of 2.5 mm that stands on the back wall. It is the root of a butt
// joint that is not welded over this height. If this root is known, its indication is geometry.
func TestKnownRoot(t *testing.T) {
	s := openScene(t, "tips_plate1", box{3, 9, 19, 24, 0.2}, "L-L")
	slit := s.record.Truth.Slits[1]
	edge := joint.Edge{Upper: joint.Bevel{Angle: 30 * math.Pi / 180}}
	weld := check.Must(joint.Butt{
		Thickness: slit.Z0, RootFace: 4e-3, Unwelded: slit.Z0 - slit.Z1, Left: edge, Right: edge,
	}.Joint()).Shifted(r2.Vec{X: slit.X0})
	tip := r2.Vec{X: slit.X1, Y: slit.Z1}
	for _, test := range []struct {
		name  string
		known []ghost.Reflector
		want  string
	}{
		{"unknown", nil, ""},
		{"known", check.Must(ghost.Weld(weld, 20e-6)), "the root"},
	} {
		options := Options{Dimension: wedge.Section, Known: test.known, Weld: weld}
		flaws := check.Must(List(context.Background(), s.record.Capture, s.setup, s.views, &options))
		found := false
		for _, f := range flaws {
			if r2.Norm(r2.Sub(r2.Vec{X: f.X, Y: f.Z}, tip)) > 0.6e-3 {
				continue
			}
			found = true
			if f.Explained != test.want || (f.Kind == Geometry) != (test.want != "") {
				t.Errorf("%s: the tip is %s, explained by %q, want %q", test.name, f.Kind, f.Explained, test.want)
			}
		}
		if !found {
			t.Errorf("%s: no entry at the tip %v in %d entries", test.name, tip, len(flaws))
		}
	}
}
