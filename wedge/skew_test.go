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

// leastOver returns the least time through one surface: over a lattice of points, then over finer
// lattices around the best point.
func leastOver(p *Path, from, to r3.Vec) float64 {
	params := make([]float64, 2)
	params[0], params[1] = p.crossings[0].Surface.Locate(between(from, to, 0.5))
	least := math.Inf(1)
	scan := func(reach float64, n int) {
		u, v := params[0], params[1]
		best := [2]float64{u, v}
		for i := -n; i <= n; i++ {
			for j := -n; j <= n; j++ {
				params[0], params[1] = u+reach*float64(i)/float64(n), v+reach*float64(j)/float64(n)
				if time := timeThrough(p, from, to, params); time < least {
					least, best = time, [2]float64{params[0], params[1]}
				}
			}
		}
		params[0], params[1] = best[0], best[1]
	}
	scan(25e-3, 20)
	for reach := 2.5e-3; reach > 50e-9; reach *= 0.4 {
		scan(reach, 4)
	}
	return least
}

// TestSkewPoints compares skew rays from water to steel with times and entries that were computed
// independently by minimisation in double precision: through a level plane, and through a cylinder
// of a radius of 30 mm whose axis runs along y at z = 30 mm.
func TestSkewPoints(t *testing.T) {
	from := r3.Vec{X: -5e-3, Y: 3e-3, Z: -10e-3}
	for _, test := range []struct {
		name      string
		surface   Surface
		to, entry r3.Vec  // mm
		want      float64 // µs
	}{
		{"plane", check.Must(HorizontalPlane(0)), r3.Vec{X: 20, Y: -8, Z: 25}, r3.Vec{X: -3.33936202, Y: 2.26931929}, 12.899108356401},
		{"cylinder", check.Must(NewCylinder(r3.Vec{Z: 30e-3}, r3.Vec{Y: 1}, 30e-3, Convex)), r3.Vec{X: 4, Y: -8, Z: 15},
			r3.Vec{X: -3.160954, Y: 1.680576, Z: 0.166992}, 10.265001046806},
	} {
		path := check.Must(NewPath([]Leg{{Speed: 1480}, {Speed: 5920}}, []Crossing{{Surface: test.surface}}))
		ray := path.Solve(from, r3.Scale(1e-3, test.to))
		check.Within(t, test.name+": time, µs", ray.Time*1e6, test.want, 1e-11)
		check.Within(t, test.name+": distance of the entries, mm", r3.Norm(r3.Sub(r3.Scale(1e3, ray.Points[1]), test.entry)), 0, 1e-6)
	}
}

// TestWaterGap compares with the closed form: 0.1 mm of water in place of steel takes 50.676 ns
// longer, 91.216° of a period at 5 MHz.
func TestWaterGap(t *testing.T) {
	time := func(depth float64) float64 {
		path := check.Must(NewPath([]Leg{{Speed: 1480}, {Speed: 5920}}, []Crossing{{Surface: check.Must(HorizontalPlane(depth))}}))
		ray := path.Solve(r3.Vec{Z: -10e-3}, r3.Vec{Z: 20e-3})
		return ray.Time
	}
	gap := time(0.1e-3) - time(0)
	check.Within(t, "delay, ns", gap*1e9, 50.676, 5e-4)
	check.Within(t, "phase, degrees", gap*5e6*360, 91.216, 1e-3)
}

// TestSkewBruteForce compares skew rays through curved surfaces of all kinds, at any angle, with
// the least time over the surface.
func TestSkewBruteForce(t *testing.T) {
	cases := geometries
	if testing.Short() {
		cases = 500
	}
	rng := rand.New(rand.NewPCG(35, 36))
	within := func(a, b float64) float64 { return a + rng.Float64()*(b-a) }
	var fields []Surface
	for range 20 {
		var x, z []float64
		for i := -25; i <= 25; i++ {
			x = append(x, 2e-3*float64(i))
		}
		height, pace, pitch, phase, tilt := within(0, 0.4e-3), within(50, 300), within(50, 300), within(0, 6), within(-.1, .1)
		for _, v := range x {
			for _, u := range x {
				z = append(z, height*math.Sin(pace*u+phase)*math.Cos(pitch*v)+tilt*v)
			}
		}
		fields = append(fields, check.Must(NewHeightField(x, x, z)))
	}
	made := map[string]func(centre, axis r3.Vec, radius float64, c Curvature) Surface{
		"cylinder": func(centre, axis r3.Vec, radius float64, c Curvature) Surface {
			return check.Must(NewCylinder(centre, axis, radius, c))
		},
		"cone": func(centre, axis r3.Vec, radius float64, c Curvature) Surface {
			return check.Must(NewCone(centre, axis, radius, within(-.5, .5), c))
		},
		"sphere": func(centre, _ r3.Vec, radius float64, c Curvature) Surface {
			return check.Must(NewSphere(centre, radius, c))
		},
		"height field": func(r3.Vec, r3.Vec, float64, Curvature) Surface { return fields[rng.IntN(len(fields))] },
	}
	for _, name := range []string{"cylinder", "cone", "sphere", "height field"} {
		t.Run(name, func(t *testing.T) {
			found := 0
			for i := range cases / len(made) {
				radius, curvature := within(30e-3, 200e-3), Curvature(rng.IntN(2))
				centre := r3.Vec{X: within(-3e-3, 3e-3), Y: within(-3e-3, 3e-3), Z: radius}
				if curvature == Concave {
					centre.Z = -radius
				}
				surface := made[name](centre, r3.Vec{X: within(-1, 1), Y: within(-1, 1), Z: within(-.1, .1)}, radius, curvature)
				p := refracting([]float64{within(1, 7), within(1, 7)}, surface)
				from := r3.Vec{X: within(-8e-3, 8e-3), Y: within(-8e-3, 8e-3), Z: -within(8e-3, 20e-3)}
				to := r3.Vec{X: within(-8e-3, 8e-3), Y: within(-8e-3, 8e-3), Z: within(8e-3, 20e-3)}
				if surface.Depth(from) > -3e-3 || surface.Depth(to) < 3e-3 {
					continue // near a curved surface the least time can be by its wrong side
				}
				found++
				r := p.Solve(from, to)
				if want := leastOver(p, from, to); r.Status != OK || !(math.Abs(r.Time-want) <= 1e-13) {
					t.Errorf("case %d, %v to %v: %v s (%v), least over the surface %v s",
						i, from, to, r.Time, r.Status, want)
				}
			}
			if found < cases/len(made)*9/10 {
				t.Errorf("only %d rays of %d", found, cases/len(made))
			}
		})
	}
}
