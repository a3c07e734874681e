// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// The captures of testdata come from a full-wave solver that shares nothing with the ray model of
// the echoes. Their indications are judged by the reflectors in the set-ups.

// usualViews returns the views of the test. An array in contact or in water sends longitudinal
// waves, and a wedge sends transverse waves.
func usualViews(s *scene) []string {
	if s.record.Coupling != nil && s.record.Coupling.Transverse > 0 {
		return []string{"T-T", "TT-T"}
	}
	return []string{"L-L", "T-L"}
}

// tally counts indications of one kind.
type tally struct{ explained, all int }

func (c *tally) add(explained bool) {
	c.all++
	if explained {
		c.explained++
	}
}

// judged is the result of several captures.
type judged struct{ ghosts, walls, reflectors tally }

// judge explains the complete indications down to -20 dB in the views of a capture. A reflector of
// the set-up is judged as if it were not known, because a flaw is not known either.
func (j *judged) judge(t *testing.T, s *scene, views []string) {
	for _, name := range views {
		for _, f := range s.indications(t, name) {
			kind, which := s.kind(f)
			e := s.echoes
			if kind == "reflector" {
				e = s.without(which)
			}
			found, err := e.Explain(ctx, s.record.Capture, view(t, name), []r3.Vec{{X: f.X, Z: f.Z}}, tfm.Band{})
			noError(t, err)
			x := found[0]
			t.Logf("%s %s (%.2f, %.2f) mm %.1f dB: %s: %+v", s.name, name, f.X*1e3, f.Z*1e3, f.LevelDB, kind, x)
			switch explained := x.Echo != ""; kind {
			case "ghost":
				j.ghosts.add(explained)
			case "wall":
				j.walls.add(explained)
			case "reflector":
				j.reflectors.add(explained)
				if explained {
					t.Errorf("%s, view %s: the reflector at (%.2f, %.2f) mm is taken for the %s",
						s.name, name, f.X*1e3, f.Z*1e3, x.Echo)
				}
			}
		}
	}
}

// scene is a capture with its echoes.
type scene struct {
	name   string
	record *npy.Record
	setup  *wedge.Setup
	known  []Reflector
	echoes *Echoes
}

// openRecord reads a capture of testdata.
func openRecord(t testing.TB, name string) (*npy.Record, *wedge.Setup) {
	t.Helper()
	record, err := npy.ReadFile(filepath.Join("..", "..", "testdata", name+".json"), nil)
	noError(t, err)
	setup, err := record.Geometry()
	noError(t, err)
	return record, setup
}

func openScene(t testing.TB, name string) *scene {
	t.Helper()
	record, setup := openRecord(t, name)
	s := &scene{name: name, record: record, setup: setup}
	for i, h := range record.Truth.Holes {
		s.known = append(s.known, Reflector{fmt.Sprintf("hole %d", i+1), wedge.Outline{{X: h.X, Y: h.Z}}, h.Diameter / 2})
	}
	for i, l := range record.Truth.Slits {
		s.known = append(s.known, Reflector{fmt.Sprintf("slit %d", i+1), wedge.Outline{{X: l.X0, Y: l.Z0}, {X: l.X1, Y: l.Z1}}, 0})
	}
	s.echoes = echoes(t, s.setup, record.Capture.Array, s.known...)
	return s
}

// without returns the echoes of the set-up without one of the reflectors.
func (s *scene) without(which int) *Echoes {
	rest := *s.echoes
	rest.echoes = slices.Clone(rest.echoes)
	rest.echoes = slices.DeleteFunc(rest.echoes, func(e echo) bool { return strings.HasSuffix(e.name, s.known[which].Name) })
	rest.reflects = slices.Delete(slices.Clone(rest.reflects), which, which+1)
	return &rest
}

// indications returns the complete indications of a view down to 20 dB below the strongest one that
// is no wall.
func (s *scene) indications(t testing.TB, name string) []sizing.Indication {
	t.Helper()
	c, thickness := s.record.Capture, s.record.Thickness
	first, last := c.Array.Elements[0], c.Array.Elements[len(c.Array.Elements)-1]
	x0, x1 := first.X-thickness/4, last.X+thickness/4
	if slope := (last.Z - first.Z) / (last.X - first.X); slope != 0 {
		exit := (first.X+last.X)/2 + slope*(first.Z+last.Z)/2 // where the normal of the array enters the part
		x0, x1 = exit+thickness/4, exit+2*thickness
	}
	top := min(2*s.setup.Part.Transverse/c.Array.CentreFrequency, thickness/4) // below the first waves
	g := section(t, x0, x1, top, thickness+1e-3, 0.1e-3)
	plan, err := tfm.PlanView(ctx, c, s.setup, name, g, nil)
	noError(t, err)
	image, err := plan.Image(ctx, c)
	noError(t, err)
	envelope := image.Envelope(nil)
	all, err := sizing.Find(envelope, &sizing.Options{Floor: -40})
	noError(t, err)
	strongest := slices.IndexFunc(all, func(f sizing.Indication) bool { kind, _ := s.kind(f); return kind != "wall" })
	found, err := sizing.Find(envelope, &sizing.Options{Floor: -20, Reference: all[strongest].Amplitude})
	noError(t, err)
	return slices.DeleteFunc(found, func(f sizing.Indication) bool { return !f.Complete() })
}

// kind returns what an indication is. A peak within 0.5 mm of a reflector is an image of the
// reflector. A peak within 1 mm may be a wave that follows the echo of the reflector, and does not
// count. A peak within 0.6 mm of a surface is an echo of a wall.
func (s *scene) kind(f sizing.Indication) (kind string, reflector int) {
	distance := math.Inf(1)
	for i, r := range s.known {
		if d := math.Abs(fromLine(r.Outline, r2.Vec{X: f.X, Y: f.Z}) - r.Radius); d < distance {
			distance, reflector = d, i
		}
	}
	if distance < 0.5e-3 {
		return "reflector", reflector
	}
	for _, w := range []wedge.Surface{s.setup.Entry, s.setup.Back} {
		if math.Abs(w.Depth(r3.Vec{X: f.X, Z: f.Z})) < 0.6e-3 {
			return "wall", reflector
		}
	}
	if distance < 1e-3 {
		return "beside a reflector", reflector
	}
	return "ghost", reflector
}

// judgeAll judges captures in views.
func judgeAll(t *testing.T, names []string, views func(*scene) []string) (j judged) {
	for _, name := range names {
		s := openScene(t, name)
		j.judge(t, s, views(s))
	}
	return j
}

// The strongest ghost in the view T-L of block16 lies where the L-L echo of the back wall must show:
// at the depth z with z/cL + z/cT = 2d/cL. The echo of the wall is the cause. An echo of a hole comes
// at the same time, and is weaker.
func TestNamesWall(t *testing.T) {
	s := openScene(t, "block16")
	d, part := s.record.Thickness, s.setup.Part
	z := 2 * d / part.Longitudinal / (1/part.Longitudinal + 1/part.Transverse)
	found, err := s.echoes.Explain(ctx, s.record.Capture, view(t, "T-L"), []r3.Vec{{Z: z}}, tfm.Band{})
	noError(t, err)
	if want := "L-L echo of the back wall"; found[0].Echo != want {
		t.Errorf("at z = %v m: %+v, want the %s", z, found[0], want)
	}
}

// The first views of the usual ones: of the captures for the choice of the limits, and of the
// others. The long trial judges all usual views.
func TestCaptures(t *testing.T) {
	firstViews := func(s *scene) []string { return usualViews(s)[:1] }
	names := []string{"notch32"}
	if !testing.Short() {
		names = append(names, "block16", "weld32")
	}
	j := judgeAll(t, names, firstViews)
	if !(j.ghosts.all >= 10 && j.ghosts.explained >= j.ghosts.all*8/10) {
		t.Errorf("%d of %d ghosts explained, want at least 10 ghosts and 80 %%", j.ghosts.explained, j.ghosts.all)
	}
	if j.walls.explained != j.walls.all || j.walls.all < 2 {
		t.Errorf("%d of %d echoes of walls explained, want all, at least 2", j.walls.explained, j.walls.all)
	}
	if least := 3 * len(names); j.reflectors.all < least {
		t.Errorf("%d reflectors, want at least %d", j.reflectors.all, least)
	}
}
