// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"context"
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

const degree = math.Pi / 180

// box is a range of a section in mm.
type box struct{ x0, x1, z0, z1, step float64 }

var (
	plateBox = box{-9, 9, 7.5, 25.5, 0.12}
	weldBox  = box{12, 25, 5, 16.5, 0.12}
)

// examine returns the flaws of a capture of testdata, and its record.
func examine(t *testing.T, name string, b box, views ...string) ([]Flaw, *npy.Record) {
	t.Helper()
	ctx := context.Background()
	record := check.Must(npy.ReadFile("../../testdata/"+name+".json", nil))
	setup := check.Must(record.Geometry())
	grid := check.Must(tfm.NewSection(b.x0*1e-3, b.x1*1e-3, b.z0*1e-3, b.z1*1e-3, b.step*1e-3))
	var pictures []View
	for _, view := range views {
		plan := check.Must(tfm.PlanView(ctx, record.Capture, setup, view, grid, nil))
		pictures = append(pictures, View{view, check.Must(plan.Image(ctx, record.Capture))})
	}
	return check.Must(Find(ctx, record.Capture, setup, pictures, &Options{Dimension: wedge.Section})), record
}

// TestCaptures compares flaws with the true reflectors of full-wave captures, which contain no ray
// model and no diffraction coefficients. The limits of the package were chosen on tips_plate1 and
// tips_weld1. The other captures judge. The build tag long runs all of them.
func TestCaptures(t *testing.T) {
	names := []string{"tips_plate2", "tips_weld2"}
	if !testing.Short() {
		names = append(names, "notch32", "sdh32")
	}
	compareCaptures(t, names...)
}

// compareCaptures is TestCaptures for captures of the given names.
func compareCaptures(t *testing.T, names ...string) {
	plates, welds := []string{"L-L", "TL-L"}, []string{"T-T", "TT-T"}
	const plate, throughWedge = 0.3e-3, 0.4e-3 // largest errors of a length
	known := map[string]struct {
		box       box
		views     []string
		methods   []Method // of each slit in the set-up
		tolerance float64
	}{
		"notch32":     {plateBox, plates, []Method{TwoTips, TipAndWall}, plate},
		"tips_plate1": {plateBox, plates, []Method{TwoTips, TipAndWall}, plate},
		"tips_plate2": {plateBox, plates, []Method{TwoTips}, plate},
		"weld32":      {weldBox, welds, []Method{Face, TipAndWall}, throughWedge},
		"tips_weld1":  {weldBox, welds, []Method{TipAndWall, Face}, throughWedge},
		"tips_weld2":  {weldBox, append(welds, "TT-TT"), []Method{FaceAndWall, TwoTips}, throughWedge},
		// Holes and their creeping waves are no flaws.
		"sdh32": {box{10, 28, 5, 23, 0.12}, []string{"T-T"}, nil, 0},
	}
	for _, name := range names {
		t.Run(name, func(t *testing.T) {
			c := known[name]
			flaws, record := examine(t, name, c.box, c.views...)
			if len(flaws) != len(c.methods) {
				t.Errorf("%d flaws, want %d: %+v", len(flaws), len(c.methods), flaws)
			}
			for i, method := range c.methods {
				s := record.Truth.Slits[i]
				if s.Z0 > s.Z1 {
					s.X0, s.Z0, s.X1, s.Z1 = s.X1, s.Z1, s.X0, s.Z0
				}
				f := nearest(flaws, (s.X0+s.X1)/2, (s.Z0+s.Z1)/2)
				if f == nil {
					t.Fatal("no flaw")
				}
				compare(t, f, s, method, c.tolerance)
			}
		})
	}
}

// TestNotAtWall reads the back wall of sdh32, below its three holes. Echoes of the holes cross the
// wall there. In view TT-T they make a spot as long and narrow as a face that stands on the wall.
func TestNotAtWall(t *testing.T) {
	flaws, _ := examine(t, "sdh32", box{8, 20, 21, 30.5, 0.15}, "T-T", "TT-T")
	if len(flaws) != 0 {
		t.Errorf("%d flaws, want none: %+v", len(flaws), flaws)
	}
}

// nearest returns the flaw whose centre is nearest to a point.
func nearest(flaws []Flaw, x, z float64) (best *Flaw) {
	far := func(f *Flaw) float64 { return math.Hypot(f.Centre.X-x, f.Centre.Z-z) }
	for i := range flaws {
		if best == nil || far(&flaws[i]) < far(best) {
			best = &flaws[i]
		}
	}
	return best
}

// compare compares a flaw with a slit, whose first end is the upper end.
func compare(t *testing.T, f *Flaw, s npy.Slit, method Method, tolerance float64) {
	t.Helper()
	length, tilt := math.Hypot(s.X1-s.X0, s.Z1-s.Z0), math.Atan((s.X0-s.X1)/(s.Z1-s.Z0))
	t.Logf("%s in %s: %.2f ± %.2f mm, %s (%.2f mm), tilt %.1f° (%.1f°), fit %.2f", f.Method, f.Evidence[0].View,
		f.Length*1e3, f.LengthUncertainty*1e3, f.LengthIs, length*1e3, f.Tilt/degree, tilt/degree, f.Evidence[0].Fit)
	if f.Method != method {
		t.Errorf("method %q, want %q", f.Method, method)
	}
	check.Within(t, "tilt, degrees", f.Tilt/degree, tilt/degree, 5)
	if method == Face {
		if f.LengthIs != LowerBound || !(f.Length <= length) || !(f.Length > length/3) {
			t.Errorf("length %v m is %s, want a lower bound of %v m", f.Length, f.LengthIs, length)
		}
		return
	}
	if f.LengthIs != Measured {
		t.Errorf("length is %s, want measured", f.LengthIs)
	}
	check.Within(t, "length, mm", f.Length*1e3, length*1e3, tolerance*1e3)
	check.Within(t, "x of the centre, mm", f.Centre.X*1e3, (s.X0+s.X1)/2*1e3, 0.3)
	check.Within(t, "z of the centre, mm", f.Centre.Z*1e3, (s.Z0+s.Z1)/2*1e3, 0.3)
	if !(math.Abs(f.Length-length) <= 3*f.LengthUncertainty) {
		t.Errorf("length %v m, want %v m within three standard uncertainties of %v m", f.Length, length, f.LengthUncertainty)
	}
}
