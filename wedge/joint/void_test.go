// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package joint

import (
	"context"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// steel is a mild steel, in values of common practice, no source.
var steel = material.Isotropic{Longitudinal: 5920, Transverse: 3240, Density: 7850}

// passesOutside reports whether one of n samples of a line lies outside the joint.
func passesOutside(j *Joint, from, to r3.Vec, n int) bool {
	for k := 1; k <= n; k++ {
		s := float64(k) / float64(n)
		q := r2.Vec{X: from.X + s*(to.X-from.X), Y: from.Z + s*(to.Z-from.Z)}
		inside := j.inMetal(q)
		for _, o := range j.parts {
			inside = inside || o.contains(q)
		}
		if !inside && j.Zone(q, 0) == Outside { // which counts edges as inside
			return true
		}
	}
	return false
}

// TestVoids checks direct rays of an array in contact, alone and in tables. A ray must exist
// exactly if no sample along it lies outside the joint.
func TestVoids(t *testing.T) {
	all := preparations()
	for _, name := range []string{
		"single V, unwelded", "double V, unwelded",
		"fillet tee", "fillet tee, one side", "double-bevel tee", "lap",
		"single V, mismatch", "single V, thick right", "single V, thick left", "single V, step",
	} {
		j := check.Must(all[name].Joint())
		setup := check.Must(j.Setup(j.Plate, steel, 1e-6))
		setup.EntryGaps = nil // elements may lie under the cap here
		path := check.Must(setup.Path([]material.Mode{material.T}))
		bottom := math.Inf(1) // below which voids do not bound the joint
		if j.Other != nil {
			bottom = math.Max(j.Top+j.Thickness, j.Other.Top+j.Other.Thickness)
		}
		elements := []r3.Vec{{X: -25e-3, Z: j.Top}, {X: -27e-3, Z: j.Top}, {X: -35e-3, Z: j.Top}}
		if strings.HasSuffix(name, "unwelded") || strings.Contains(name, "tee") {
			elements = []r3.Vec{{X: -25e-3}, {X: -3e-3}, {X: 10e-3}}
		}
		var points []r3.Vec
		for x := -30.1e-3; x < 30e-3; x += 3.1e-3 {
			for z := 0.3e-3; z < 35e-3; z += 2.3e-3 {
				points = append(points, r3.Vec{X: x, Z: z})
			}
		}
		for x := -4.1e-3; x < 4e-3; x += 0.5e-3 { // round what is not welded
			for z := 13.13e-3; z < 20e-3; z += 0.3e-3 {
				points = append(points, r3.Vec{X: x, Z: z})
			}
		}
		table := check.Must(path.Times(context.Background(), elements, points, nil))
		count := map[wedge.Status]int{}
		for e, from := range elements {
			for i, to := range points {
				if to.Z > bottom || to.Z < j.Top {
					continue
				}
				got, want := path.Solve(from, to).Status, wedge.OK
				if cross := from.X + 16e-3/to.Z*(to.X-from.X); name == "fillet tee" &&
					to.Z > 16e-3 && math.Abs(cross) < 6e-3 {
					want = wedge.Obstructed // samples do not see a gap of no width
				}
				if passesOutside(j, from, to, 100) || got != want && passesOutside(j, from, to,
					30000) {
					want = wedge.Obstructed
				}
				if got != want {
					t.Fatalf("%s: %v to %v: %v, want %v", name, from, to, got, want)
				}
				if math.IsNaN(float64(table.Seconds[e*len(points)+i])) != (got != wedge.OK) {
					t.Fatalf("%s: %v to %v: %v s, but %v", name, from, to,
						table.Seconds[e*len(points)+i], got)
				}
				count[got]++
			}
		}
		if count[wedge.OK] < 100 || count[wedge.Obstructed] < 25 {
			t.Errorf("%s: %v: too few to tell", name, count)
		}
	}
}
