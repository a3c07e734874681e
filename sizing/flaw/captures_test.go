// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"context"
	"math"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// box is a range of a section in mm.
type box struct{ x0, x1, z0, z1, step float64 }

var (
	plateBox = box{-9, 9, 7.5, 25.5, 0.12}
	weldBox  = box{12, 25, 5, 16.5, 0.12}
)

// scene is a capture of testdata with pictures in several views.
type scene struct {
	record *npy.Record
	setup  *wedge.Setup
	views  []View
}

// openScene images a capture of testdata.
func openScene(t testing.TB, name string, b box, views ...string) *scene {
	t.Helper()
	ctx := context.Background()
	s := &scene{record: check.Must(npy.ReadFile("../../testdata/"+name+".json", nil))}
	s.setup = check.Must(s.record.Geometry())
	grid := check.Must(tfm.NewSection(b.x0*1e-3, b.x1*1e-3, b.z0*1e-3, b.z1*1e-3, b.step*1e-3))
	for _, view := range views {
		plan := check.Must(tfm.PlanView(ctx, s.record.Capture, s.setup, view, grid, nil))
		s.views = append(s.views, View{Name: view, Image: check.Must(plan.Image(ctx, s.record.Capture))})
	}
	return s
}

// list returns the entries of a capture. The captures are sections.
func (s *scene) list(t testing.TB, views []View, workers int) []Flaw {
	t.Helper()
	return check.Must(List(context.Background(), s.record.Capture, s.setup, views,
		&Options{Dimension: wedge.Section, Workers: workers}))
}

// TestCaptures compares the lists of full-wave captures, which contain no ray model, with the true
// reflectors. The limits were chosen on block16, sdh32, weld32 and tips_plate1. The others judge.
func TestCaptures(t *testing.T) {
	for _, c := range captures {
		t.Run(c.name, func(t *testing.T) {
			if c.long && !long || testing.Short() && c.name != "tips_plate2" {
				t.Skip("some captures, and one in short mode")
			}
			s := openScene(t, c.name, c.box, c.views...)
			s.compare(t, s.list(t, s.views, 0))
		})
	}
}

// captures are the captures of testdata, and how they are imaged.
var captures = []struct {
	name  string
	box   box
	views []string
	long  bool // only in the long trials
}{
	{"block16", box{-14, 14, 5, 41, 0.2}, []string{"L-L"}, false},
	{"sdh32", box{10, 28, 5, 23, 0.12}, []string{"T-T", "TT-T"}, true},
	{"weld32", weldBox, []string{"T-T", "TT-T"}, true},
	{"tips_plate1", plateBox, []string{"L-L", "TL-L"}, true},
	{"notch32", plateBox, []string{"L-L", "TL-L"}, true},
	{"tips_plate2", plateBox, []string{"L-L"}, false},
	{"tips_weld1", weldBox, []string{"T-T", "TT-T", "TT-TT"}, true},
	{"tips_weld2", weldBox, []string{"T-T", "TT-T", "TT-TT"}, true},
	{"pipe32", box{-11, 11, 2, 14.5, 0.15}, []string{"L-L"}, true},
	{"wavy32", box{-11, 11, 3, 20.5, 0.15}, []string{"L-L"}, true},
}

// compare compares entries with the true reflectors: each reflector is one entry of its kind, no
// other entry is planar or a point, and an entry is geometry only for a reason.
func (s *scene) compare(t *testing.T, flaws []Flaw) {
	t.Helper()
	spurious := map[Kind]int{}
	used := map[int]int{} // entries of each reflector
	for _, f := range flaws {
		which, kind := s.nearest(f)
		t.Logf("%d %s %s (%.2f, %.2f) mm %.1f dB, %.2f ± %.2f mm %s, tilt %.2f ± %.2f, %v %q", f.ID, f.Kind, f.Method,
			f.X*1e3, f.Z*1e3, f.LevelDB, f.Length*1e3, f.LengthU*1e3, f.LengthIs, f.Tilt, f.TiltU, f.Views, f.Explained)
		switch f.Kind {
		case Planar, Point:
			if f.Kind != kind {
				t.Errorf("entry %d at (%.2f, %.2f) mm is %s, want %q", f.ID, f.X*1e3, f.Z*1e3, f.Kind, kind)
			}
			used[which]++
		case Geometry:
			if f.Explained == "" || strings.Contains(f.Explained, "flaw") {
				t.Errorf("entry %d is geometry, explained by %q", f.ID, f.Explained)
			}
		}
		spurious[f.Kind]++
	}
	if want := len(s.record.Truth.Holes) + len(s.record.Truth.Slits); len(used) != want {
		t.Errorf("%d reflectors have an entry, want %d", len(used), want)
	}
	for which, n := range used {
		if n != 1 {
			t.Errorf("reflector %d has %d entries, want 1", which, n)
		}
	}
	t.Logf("%d reflectors, entries %v", len(used), spurious)
}

// nearest returns the number and the kind of the true reflector within 0.6 mm of the centre of an
// entry, and an empty kind if there is none.
func (s *scene) nearest(f Flaw) (which int, kind Kind) {
	const most = 0.6e-3
	for i, h := range s.record.Truth.Holes {
		if math.Hypot(f.X-h.X, f.Z-h.Z) <= h.Diameter/2+most {
			return i, Point
		}
	}
	for i, l := range s.record.Truth.Slits {
		dx, dz := l.X1-l.X0, l.Z1-l.Z0
		along := min(1, max(0, ((f.X-l.X0)*dx+(f.Z-l.Z0)*dz)/(dx*dx+dz*dz)))
		if math.Hypot(f.X-l.X0-along*dx, f.Z-l.Z0-along*dz) <= most {
			return len(s.record.Truth.Holes) + i, Planar
		}
	}
	return -1, ""
}
