// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/tfm/ghost"
)

// TestPredictedGhosts checks the lines of two ghosts, the second without lines.
func TestPredictedGhosts(t *testing.T) {
	line := []r3.Vec{{X: 1, Y: 2, Z: 3}, {X: 4, Y: 5, Z: 6}}
	got := Ghosts([]ghost.Ghost{{Echo: "a", Lines: [][]r3.Vec{line, line[:1]}}, {Echo: "b"}})
	want := []Ghost{{Lines: [][]r2.Vec{{{X: 1, Y: 3}, {X: 4, Y: 6}}, {{X: 1, Y: 3}}}}, {}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}
