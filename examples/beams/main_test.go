// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/examples/internal/picturetest"
	"github.com/isochron-imaging/isochron/internal/check"
)

// TestRun checks the reading of the tip against the root notch of the simulated weld, which ends at
// x = 16 mm, z = 13.5 mm. The corner of the notch lies beside the axis of the beam, so that its
// place is not checked.
func TestRun(t *testing.T) {
	start := filepath.Join(t.TempDir(), "beams")
	var out strings.Builder
	if err := run(context.Background(), &out, "../../testdata/weld32.json", start); err != nil {
		t.Fatal(err)
	}
	var height, path, depth, x [2]float64
	var skips [2]int
	const line = "height %f %%, sound path %f mm, depth %f mm, x = %f mm, skips %d\n"
	_, err := fmt.Sscanf(out.String(), "tip: "+line+"corner: "+line,
		&height[0], &path[0], &depth[0], &x[0], &skips[0], &height[1], &path[1], &depth[1], &x[1], &skips[1])
	if err != nil {
		t.Fatalf("%q: %v", out.String(), err)
	}
	check.Within(t, "depth of the tip", depth[0], 13.5, 0.2)
	check.Within(t, "x of the tip", x[0], 16, 0.2)
	check.Within(t, "skips", float64(skips[0]), 0, 0)
	if !(height[1] > height[0]) {
		t.Errorf("the tip is %v %% high, the corner %v %%, want a higher corner", height[0], height[1])
	}
	picturetest.Readable(t, start+"-ascan.png")
	picturetest.Readable(t, start+"-sector.png")
	if err := run(context.Background(), &out, "nowhere.json", start); err == nil {
		t.Error("no error without a capture")
	}
}
