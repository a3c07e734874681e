// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestPlates compares the plates of joints with values derived by hand, in mm.
func TestPlates(t *testing.T) {
	all, inf := preparations(), math.Inf(1)
	gaps := func(ends ...float64) (g []wedge.Interval) {
		for i := 0; i < len(ends); i += 2 {
			g = append(g, wedge.Interval{Min: ends[i] * 1e-3, Max: ends[i+1] * 1e-3})
		}
		return g
	}
	below, centred := 5/math.Tan(14*deg), 3/math.Tan(20*deg)
	for _, test := range []struct {
		name  string
		p     preparation
		plate Plate
		other *Plate
	}{
		{"flush", singleVee(plates, 30*deg, 2e-3), Plate{Thickness: 20}, &Plate{Thickness: 20}},
		{"cap and root bead", singleV,
			Plate{Thickness: 20, EntryGaps: gaps(-14, 14), BackGaps: gaps(-3, 3)},
			&Plate{Thickness: 20, EntryGaps: gaps(-14, 14), BackGaps: gaps(-3, 3)}},
		{"right plate 1 mm higher", all["single V, mismatch"],
			Plate{Thickness: 20, EntryGaps: gaps(-14, inf), BackGaps: gaps(-3, inf)},
			&Plate{Top: -1, Thickness: 20, EntryGaps: gaps(-inf, 14), BackGaps: gaps(-inf, 3)}},
		{"right plate thicker, flush on the entry side", all["single V, thick right"],
			Plate{Thickness: 20, EntryGaps: gaps(-14, 14), BackGaps: gaps(-3, inf)},
			&Plate{Thickness: 25, EntryGaps: gaps(-14, 14), BackGaps: gaps(-inf, 3+below)}},
		{"left plate thicker, centred", all["single V, thick left"],
			Plate{Top: -3, Thickness: 26, EntryGaps: gaps(-14-centred, inf),
				BackGaps: gaps(-3-centred, inf)},
			&Plate{Thickness: 20, EntryGaps: gaps(-inf, 14), BackGaps: gaps(-inf, 3)}},
		{"right plate 1 mm deeper, and a step of 4 mm", all["single V, step"],
			Plate{Thickness: 20, EntryGaps: gaps(-14, inf), BackGaps: gaps(-3, inf)},
			&Plate{Top: -3, Thickness: 24, EntryGaps: gaps(-inf, 14), BackGaps: gaps(-inf, 3)}},
		{"two fillets on a flange", filletT, Plate{Thickness: 16, BackGaps: gaps(-14, -6, 6, 14)},
			nil},
		{"one, which penetrates", all["fillet tee, one side"],
			Plate{Thickness: 16, BackGaps: gaps(-14, -4)}, nil},
		{"web welded through", buttT, Plate{Thickness: 20, BackGaps: gaps(-12, 12)}, nil},
		{"lap", lapped,
			Plate{Thickness: 10, EntryGaps: gaps(20, inf), BackGaps: gaps(20, inf, -28, -20)},
			&Plate{Top: 10.5, Thickness: 12, EntryGaps: gaps(-inf, -20, 20, 28),
				BackGaps: gaps(-inf, -20)}},
		{"lap, left side only", Lap{Upper: 10e-3, Lower: 12e-3, Overlap: 40e-3, Left: leg8},
			Plate{Thickness: 10, EntryGaps: gaps(20, inf), BackGaps: gaps(20, inf, -28, -20)},
			&Plate{Top: 10, Thickness: 12, EntryGaps: gaps(-inf, -20), BackGaps: gaps(-inf, -20)}},
		{"lap, right side only", all["lap, right side only"],
			Plate{Thickness: 10, EntryGaps: gaps(20, inf), BackGaps: gaps(20, inf)},
			&Plate{Top: 10, Thickness: 12, EntryGaps: gaps(-inf, -20, 20, 28),
				BackGaps: gaps(-inf, -20)}},
	} {
		j := check.Must(test.p.Joint())
		near := cmp.Options{cmpopts.EquateApprox(0, 1e-12), cmpopts.IgnoreFields(Plate{}, "Name")}
		scale := func(p *Plate) {
			if p != nil {
				p.Top, p.Thickness = p.Top*1e-3, p.Thickness*1e-3
			}
		}
		scale(&test.plate)
		scale(test.other)
		if d := cmp.Diff(test.plate, j.Plate, near); d != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, d)
		}
		if d := cmp.Diff(test.other, j.Other, near); d != "" {
			t.Errorf("%s, the other plate (-want +got):\n%s", test.name, d)
		}
		s := j.Shifted(mm(7, 2))
		if got, want := s.Top+s.Thickness, j.Top+j.Thickness+2e-3; !(math.Abs(got-want) <= 1e-15) {
			t.Errorf("%s, shifted: back wall at %v m, want %v m", test.name, got, want)
		}
		for i := range j.BackGaps {
			got, want := s.BackGaps[i].Min, j.BackGaps[i].Min+7e-3
			if !(math.Abs(got-want) <= 1e-15) {
				t.Errorf("%s, shifted: gap from %v m, want %v m", test.name, got, want)
			}
		}
	}
}

// TestSkips follows rays with one skip in both plates of joints. The reference is the ray in a
// plate without weld. The joint has the ray if three things hold. Samples of both legs lie within
// the joint. The ray starts and skips where the plate lies on one side. Nothing lies on the other
// side.
func TestSkips(t *testing.T) {
	all, rounds := preparations(), 150
	if testing.Short() {
		rounds = 75
	}
	rng := rand.New(rand.NewPCG(31, 32))
	for _, name := range []string{
		"single V", "single V, mismatch", "single V, unwelded", "double V", "single U",
		"single V, thick right", "single V, thick left", "single V, step", "double J, unwelded",
		"fillet tee, one side", "double-bevel tee", "lap",
	} {
		j := check.Must(all[name].Joint())
		// surface reports whether the joint has a free surface at p, with the joint on the side of
		// the sign along z.
		surface := func(p r3.Vec, sign float64) bool {
			const off = 10e-9
			return j.Zone(r2.Vec{X: p.X, Y: p.Z + sign*off}, 0) != Outside &&
				j.Zone(r2.Vec{X: p.X, Y: p.Z - sign*off}, 0) == Outside
		}
		count := map[wedge.Status]int{}
		for _, plate := range []*Plate{&j.Plate, j.Other} {
			if plate == nil {
				continue
			}
			setup := check.Must(j.Setup(*plate, steel, 1e-6))
			whole := &wedge.Setup{Part: steel, Entry: setup.Entry, Back: setup.Back}
			modes := []material.Mode{material.T, material.T}
			path, free := check.Must(setup.Path(modes)), check.Must(whole.Path(modes))
			for range rounds {
				from := r3.Vec{X: 0.1 * (rng.Float64() - 0.5), Z: plate.Top}
				to := r3.Vec{X: 0.1 * (rng.Float64() - 0.5),
					Z: plate.Top + plate.Thickness*rng.Float64()}
				got, ray := path.Solve(from, to).Status, free.Solve(from, to)
				want := surface(from, 1) && surface(ray.Points[1], -1) &&
					!passesOutside(j, from, ray.Points[1], 200) &&
					!passesOutside(j, to, ray.Points[1], 200)
				if want && got != wedge.OK {
					want = !passesOutside(j, from, ray.Points[1], 30000) &&
						!passesOutside(j, to, ray.Points[1], 30000)
				}
				if want != (got == wedge.OK) {
					t.Fatalf("%s, %s: %v by %v to %v: %v, want a ray: %v", name, plate.Name, from,
						ray.Points[1], to, got, want)
				}
				count[got]++
			}
		}
		if count[wedge.OK] < rounds/15 || count[wedge.OffSurface] < rounds/15 &&
			name != "single V, unwelded" && name != "single U" && name != "double J, unwelded" {
			t.Errorf("%s: %v: too few to tell", name, count)
		}
	}
}

// TestSquareInOther compares a beam in the thicker plate with mirror images, derived by hand.
func TestSquareInOther(t *testing.T) {
	j := check.Must(preparations()["single V, thick right"].Joint())
	face, _ := j.Face("right bevel")
	beam := check.Must(j.Other.Square(face, 0.5, 1))
	// The middle of the bevel is 9 mm deep. Its mirror image is 2·25 - 9 = 41 mm deep.
	if want := 1.5e-3 + 9e-3*math.Tan(30*deg) +
		41e-3*math.Tan(60*deg); !(math.Abs(beam.Index-want) <= 1e-12) {
		t.Errorf("beam from %v m, want %v m", beam.Index, want)
	}
}
