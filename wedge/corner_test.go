// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestSurfacesThatMeet checks rays through two planes that meet below the array. The least time
// may belong to a path through the line where the planes meet. Such a path does not obey Snell's
// law, so it is not a ray.
func TestSurfacesThatMeet(t *testing.T) {
	rng := rand.New(rand.NewPCG(29, 30))
	within := func(a, b float64) float64 { return a + rng.Float64()*(b-a) }
	count := map[Status]int{}
	for i := range geometries {
		upper := check.Must(NewPlane(r3.Vec{}, r3.Vec{X: within(-.3, .3), Z: 1}))
		lower := check.Must(NewPlane(mm(within(-6, 6), 0), r3.Vec{X: within(-.3, .3), Y: within(-.1, .1) * float64(i%2), Z: 1}))
		speeds := []float64{within(1, 7), within(1, 7), within(1, 7)}
		from := r3.Vec{X: within(-8e-3, 8e-3), Z: -within(8e-3, 20e-3)}
		to := r3.Vec{X: within(-8e-3, 8e-3), Z: within(8e-3, 20e-3)}
		p := refracting(speeds, upper, lower)
		r := p.Solve(from, to)
		count[r.Status]++
		// In the table, the ray is the last ray of a row of points that leads to this point.
		var row []r3.Vec
		for k := range 30 {
			row = append(row, r3.Vec{X: to.X - 0.1e-3*float64(29-k), Z: to.Z})
		}
		table := check.Must(p.Times(background, []r3.Vec{from}, row, nil))
		// Half of the last bit of a time above 30.5 µs in single precision is 1.8e-12 s.
		if got := float64(table.Seconds[29]); math.IsNaN(got) != (r.Status != OK) || r.Status == OK && !(math.Abs(got-r.Time) <= 2e-12) {
			t.Errorf("case %d: %v s in a table, alone %v s (%v)", i, got, r.Time, r.Status)
		}
		for k := range r.Normals {
			before, after := speeds[k]*1e3, speeds[k+1]*1e3
			// The cusp of the solver changes the length of a leg of 0.1 µm by a relative 5e-5.
			if residual := snellResidual(&r, k, before, after) * min(before, after); !(residual <= 1e-4) {
				t.Errorf("case %d: Snell's law broken by %g at crossing %d of %v",
					i, residual, k, r.Points)
			}
		}
	}
	if count[OK] < geometries*2/5 || count[NotConverged] < geometries/20 {
		t.Errorf("%v: too few to tell", count)
	}
}
