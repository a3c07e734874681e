// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"context"
	"math"
	"path/filepath"
	"testing"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// The captures of testdata come from a full-wave solver that shares nothing with the ray model of
// the pictures. The measured sizes are compared with the reflectors in the set-ups.

// inspect focuses a capture of testdata in a view, on a grid of 0.1 mm from (x0, z0) to
// (x1, z1) in mm, and returns its indications, its record and its wall.
func inspect(t *testing.T, name, view string, x0, x1, z0, z1 float64) ([]sizing.Indication, *npy.Record, sizing.Wall) {
	t.Helper()
	fail := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	record, err := npy.ReadFile(filepath.Join("..", "testdata", name+".json"), nil)
	fail(err)
	geometry, err := record.Geometry()
	fail(err)
	grid, err := tfm.NewSection(x0*1e-3, x1*1e-3, z0*1e-3, z1*1e-3, 0.1e-3)
	fail(err)
	ctx := context.Background()
	plan, err := tfm.PlanView(ctx, record.Capture, geometry, view, grid, nil)
	fail(err)
	image, err := plan.Image(ctx, record.Capture)
	fail(err)
	wall, err := sizing.NewWall(geometry.Entry, geometry.Back)
	fail(err)
	return find(t, image.Envelope(nil), nil), record, wall
}

// The lack of fusion mirrors the beam into the array in the direct view: its picture
// lies along the face. By the 6 dB drop it is shorter than the face, as a smooth
// face's picture may be, so its length is not checked.
func TestFusionFace(t *testing.T) {
	found, record, _ := inspect(t, "weld32", "T-T", 17, 24, 5, 13)
	face := record.Truth.Slits[0]
	dx, dz := face.X1-face.X0, face.Z1-face.Z0
	length := math.Hypot(dx, dz)
	in := found[0]
	within(t, "distance of the peak from the face, m", ((in.X-face.X0)*dz-(in.Z-face.Z0)*dx)/length, 0, 0.4e-3)
	within(t, "tilt", in.Tilt, math.Atan2(dx, -dz), 3*math.Pi/180)
	for _, p := range in.Contour {
		within(t, "distance of the contour from the face, m", ((p.X-face.X0)*dz-(p.Z-face.Z0)*dx)/length, 0, 0.75e-3)
	}
}

// The root notch stands on the far surface. By one skip it is seen from below as well
// as from the side: an upright indication as high as the notch.
func TestRootNotch(t *testing.T) {
	found, record, wall := inspect(t, "weld32", "TT-T", 12, 20, 10, 17)
	notch := record.Truth.Slits[1]
	in := found[0]
	within(t, "x", in.X, notch.X0, 0.3e-3)
	within(t, "length", in.Length, math.Abs(notch.Z1-notch.Z0), 0.6e-3)
	within(t, "height", in.ExtentZ[1]-in.ExtentZ[0], math.Abs(notch.Z1-notch.Z0), 0.6e-3)
	within(t, "tilt", in.Tilt, 0, 3*math.Pi/180)
	span := wall.Span(in)
	within(t, "far ligament", span.FarLigament, 0, 0.3e-3)
	within(t, "near ligament", span.NearLigament, notch.Z0, 0.3e-3)
}

// Upright slits under the array return their tips. The window ends above the far
// surface, whose echo is more than 20 dB stronger.
func TestHeightByTips(t *testing.T) {
	found, record, wall := inspect(t, "notch32", "L-L", -12, 12, 4, 24)
	inside, notch := record.Truth.Slits[0], record.Truth.Slits[1]
	tips := [3]struct{ x, z float64 }{
		{inside.X0, min(inside.Z0, inside.Z1)},
		{inside.X0, max(inside.Z0, inside.Z1)},
		{notch.X0, min(notch.Z0, notch.Z1)},
	}
	var places [3]sizing.Place
	for i, tip := range tips {
		for _, in := range found[:3] {
			if math.Hypot(in.X-tip.x, in.Z-tip.z) < 0.25e-3 {
				places[i] = wall.Span(in).Peak
			}
		}
		if places[i] == (sizing.Place{}) {
			t.Fatalf("no tip within 0.25 mm of (%v, %v) m among the three strongest indications", tip.x, tip.z)
		}
	}
	within(t, "height of the slit", places[1].Depth-places[0].Depth, tips[1].z-tips[0].z, 0.3e-3)
	within(t, "height of the notch", places[2].Remaining, record.Thickness-tips[2].z, 0.3e-3)
}
