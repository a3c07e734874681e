// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// vWeld is a single V weld of 60° in a plate of 20 mm, with a gap of 3 mm and a root face of 2 mm.
func vWeld(t *testing.T) *joint.Joint {
	t.Helper()
	edge := joint.Edge{Upper: joint.Bevel{Angle: math.Pi / 6}}
	weld, err := joint.Butt{Thickness: 20e-3, Gap: 3e-3, RootFace: 2e-3, Left: edge, Right: edge}.Joint()
	if err != nil {
		t.Fatal(err)
	}
	return weld
}

// The bevel of the V runs from (-1.5, 18) mm up at 30°: the distance of (x, z) from it is
// |(x + 1.5)·cos 30° - (z - 18)·sin 30°| (analytic geometry).
func TestPositionInWeld(t *testing.T) {
	cos, sin := math.Sqrt(3)/2, 0.5
	left := func(x, z float64) float64 { return math.Abs((x+1.5e-3)*cos-(z-18e-3)*sin) * -1 }
	for _, shift := range []float64{0, 35e-3} {
		part := sizing.Part{Wall: plate(t, 20e-3), Weld: vWeld(t).Shifted(r2.Vec{X: shift}), HeatAffected: 2e-3}
		for _, test := range []struct {
			name     string
			x, z     float64
			zone     string
			face     string
			distance float64 // from the face
		}{
			{"in the weld", -5e-3, 9e-3, "weld metal", "left bevel", left(-5e-3, 9e-3)},
			{"beside the bevel", -7e-3, 9e-3, "heat-affected zone", "left bevel", -left(-7e-3, 9e-3)},
			{"on the other side", 7e-3, 9e-3, "heat-affected zone", "right bevel", -left(-7e-3, 9e-3)},
			{"parent part", -14e-3, 9e-3, "parent metal", "left bevel", -left(-14e-3, 9e-3)},
			{"at the root face", -2e-3, 19e-3, "heat-affected zone", "left root face", 0.5e-3},
			{"in the root", 0.5e-3, 19.5e-3, "weld metal", "right root face", -1e-3},
			{"above", 1e-3, -3e-3, "outside", "right bevel", math.NaN()},
		} {
			t.Run(fmt.Sprintf("%s, weld at %v", test.name, shift), func(t *testing.T) {
				got := part.Position(r3.Vec{X: test.x + shift, Z: test.z})
				check.Within(t, "along", got.Along, test.x+shift, 1e-15)
				check.Within(t, "depth", got.Depth, test.z, 1e-15)
				check.Within(t, "remaining", got.Remaining, 20e-3-test.z, 1e-15)
				check.Within(t, "from the centre line", got.Weld.FromCentre, test.x, 1e-15)
				if got.Weld.Zone != test.zone {
					t.Errorf("zone %q, want %q", got.Weld.Zone, test.zone)
				}
				nearest := got.Weld.Faces[got.Weld.Nearest]
				if nearest.Face != test.face {
					t.Errorf("nearest face %q, want %q", nearest.Face, test.face)
				}
				if !math.IsNaN(test.distance) {
					check.Within(t, "distance", nearest.Distance, test.distance, 1e-14)
				}
				if len(got.Weld.Faces) != 4 {
					t.Errorf("%d faces, want 4", len(got.Weld.Faces))
				}
			})
		}
		// The position is written as JSON and read back.
		want := part.Position(r3.Vec{X: shift - 5e-3, Z: 9e-3})
		var got sizing.Position
		if err := json.Unmarshal(check.Must(json.Marshal(want)), &got); err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Error(diff)
		}
	}
	bare := sizing.Part{Wall: plate(t, 20e-3)}
	if got := bare.Position(r3.Vec{X: 1e-3, Z: 2e-3}); got.Weld != nil || got.Depth != 2e-3 {
		t.Errorf("part without a weld: %+v", got)
	}
	bare.Weld = vWeld(t)
	if got := bare.Position(r3.Vec{X: math.NaN()}); got.Weld != nil || !math.IsNaN(got.Depth) {
		t.Errorf("no point: %+v, want NaN and no weld", got)
	}
}

// The seam along a pipe has the joint of a plate on the developed wall: a point at the arc a and
// the depth z has the place of the point (a, z) in the plate.
func TestPositionOnPipe(t *testing.T) {
	const radius = 150e-3
	round := sizing.Part{Wall: pipe(t, radius, 20e-3), Weld: vWeld(t).Shifted(r2.Vec{X: 40e-3})}
	flat := sizing.Part{Wall: plate(t, 20e-3), Weld: round.Weld}
	for _, p := range []r3.Vec{{X: 33e-3, Z: 9e-3}, {X: 45e-3, Z: 9e-3}, {X: 60e-3, Z: 15e-3}} {
		sin, cos := math.Sincos(p.X / radius)
		got := round.Position(r3.Vec{X: (radius - p.Z) * sin, Z: radius - (radius-p.Z)*cos})
		want := flat.Position(p)
		check.Within(t, "from the centre line", got.Weld.FromCentre, want.Weld.FromCentre, 1e-14)
		check.Within(t, "remaining", got.Remaining, want.Remaining, 1e-14)
		for i, f := range got.Weld.Faces {
			check.Within(t, f.Face, f.Distance, want.Weld.Faces[i].Distance, 1e-14)
		}
		if got.Weld.Zone != want.Weld.Zone || got.Weld.Nearest != want.Weld.Nearest {
			t.Errorf("at %v: %+v, want %+v", p, got.Weld, want.Weld)
		}
	}
}

// The entry surface of a plate may lie at any z: the joint lies there too.
func TestPositionBelowOrigin(t *testing.T) {
	const top = 5e-3
	near, far := check.Must(wedge.HorizontalPlane(top)), check.Must(wedge.HorizontalPlane(top+20e-3))
	low := sizing.Part{Wall: wall(t, near, far), Weld: vWeld(t).Shifted(r2.Vec{Y: top}), HeatAffected: 1e-3}
	high := sizing.Part{Wall: plate(t, 20e-3), Weld: vWeld(t), HeatAffected: 1e-3}
	for _, p := range []r3.Vec{{X: -5e-3, Z: 9e-3}, {X: 3e-3, Z: 19e-3}} {
		got, want := low.Position(r3.Vec{X: p.X, Z: p.Z + top}), high.Position(p)
		check.Within(t, "depth", got.Depth, want.Depth, 1e-15)
		for i, f := range got.Weld.Faces {
			check.Within(t, f.Face, f.Distance, want.Weld.Faces[i].Distance, 1e-15)
			check.Within(t, f.Face+", share", f.Share, want.Weld.Faces[i].Share, 1e-12)
		}
		if got.Weld.Zone != want.Weld.Zone {
			t.Errorf("zone %q, want %q", got.Weld.Zone, want.Weld.Zone)
		}
	}
}

// In a plate the unfolded beam is a straight line (Pythagoras). A full skip at 60° in 20 mm has the
// skip distance 2·20·tan 60° = 69.28 mm and the sound path 2·20/cos 60° = 80 mm (trade formulas).
func TestUnfoldPlate(t *testing.T) {
	const thickness = 20e-3
	w := plate(t, thickness)
	for leg := 1; leg <= 6; leg++ {
		for _, p := range []r3.Vec{{X: 31e-3, Z: 7e-3}, {X: -55e-3, Z: 16e-3}, {X: 4e-3, Z: 11e-3}} {
			const exit = 3e-3
			depth := p.Z + thickness*float64(leg-1)
			if leg%2 == 0 {
				depth = thickness*float64(leg) - p.Z
			}
			got, err := w.Unfold(r3.Vec{X: exit}, p, leg)
			if err != nil {
				t.Fatal(err)
			}
			what := fmt.Sprintf("leg %d to %v: ", leg, p)
			check.Within(t, what+"surface", got.Surface, p.X-exit, 1e-12)
			check.Within(t, what+"depth", got.Depth, depth, 1e-9)
			check.Within(t, what+"sound path", got.SoundPath, math.Hypot(p.X-exit, depth), 1e-9)
			check.Within(t, what+"angle", got.Angle, math.Atan2(p.X-exit, depth), 1e-7)
			if got.Leg != leg || len(got.Points) != leg+1 {
				t.Errorf("%sleg %d with %d points", what, got.Leg, len(got.Points))
			}
		}
	}
	full, err := w.Unfold(r3.Vec{}, r3.Vec{X: 69.2820323e-3}, 2)
	if err != nil {
		t.Fatal(err)
	}
	check.Within(t, "full skip", full.SoundPath, 80e-3, 1e-9)
	check.Within(t, "angle", full.Angle, math.Pi/3, 1e-7)
}

// On a pipe with the radii R and r a beam with the angle θ at the outer surface meets the bore at
// the angle asin(R·sin θ/r). Each leg turns by the difference of both, and has the length by the
// law of cosines.
func TestUnfoldPipe(t *testing.T) {
	const outer, thickness, θ = 60e-3, 12e-3, 40 * math.Pi / 180
	const bore = outer - thickness
	w := pipe(t, outer, thickness)
	turn := math.Asin(outer*math.Sin(θ)/bore) - θ
	length := math.Sqrt(outer*outer + bore*bore - 2*outer*bore*math.Cos(turn))
	at := func(r, angle float64) r3.Vec { return r3.Vec{X: r * math.Sin(angle), Z: outer - r*math.Cos(angle)} }
	for leg := 1; leg <= 4; leg++ {
		start, end := at(bore, float64(leg-1)*turn), at(outer, float64(leg)*turn)
		if leg%2 == 1 {
			start, end = at(outer, float64(leg-1)*turn), at(bore, float64(leg)*turn)
		}
		p := r3.Add(r3.Scale(0.3, start), r3.Scale(0.7, end))
		got, err := w.Unfold(r3.Vec{}, p, leg)
		if err != nil {
			t.Fatal(err)
		}
		what := fmt.Sprintf("leg %d: ", leg)
		check.Within(t, what+"sound path", got.SoundPath, (float64(leg)-0.3)*length, 1e-9)
		check.Within(t, what+"angle", got.Angle, θ, 1e-6)
		check.Within(t, what+"surface", got.Surface, w.Place(p).Along, 1e-15)
		depth := w.Place(p).Depth + thickness*float64(leg-1)
		if leg%2 == 0 {
			depth = thickness*float64(leg) - w.Place(p).Depth
		}
		check.Within(t, what+"depth", got.Depth, depth, 1e-8)
	}
	// A straight line to a point a quarter turn on passes through the bore.
	_, err := w.Unfold(r3.Vec{}, at(outer-1e-3, math.Pi/2), 1)
	if !errors.Is(err, wedge.ErrNoRay) {
		t.Errorf("beam through the bore: error %v, want ErrNoRay", err)
	}
}

func TestUnfoldInput(t *testing.T) {
	w := plate(t, 20e-3)
	in := r3.Vec{X: 10e-3, Z: 10e-3}
	for _, test := range []struct {
		name        string
		exit, point r3.Vec
		leg         int
		words       []string
	}{
		{"leg 0", r3.Vec{}, in, 0, []string{"leg 0", "1 to 64"}},
		{"leg 65", r3.Vec{}, in, 65, []string{"leg 65"}},
		{"exit", r3.Vec{Z: -5e-3}, in, 1, []string{"exit point", "on the near surface"}},
		{"exit NaN", r3.Vec{X: math.NaN()}, in, 1, []string{"exit point"}},
		{"beyond", r3.Vec{}, r3.Vec{Z: 21e-3}, 1, []string{"want a point in the wall"}},
		{"above", r3.Vec{}, r3.Vec{Z: -1e-3}, 2, []string{"want a point in the wall"}},
		{"point NaN", r3.Vec{}, r3.Vec{Z: math.NaN()}, 1, []string{"want a point in the wall"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := w.Unfold(test.exit, test.point, test.leg)
			check.Error(t, err, test.words...)
		})
	}
	_, err := sizing.Wall{}.Unfold(r3.Vec{}, in, 1)
	check.Error(t, err, "exit point")
}
