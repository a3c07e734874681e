// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// TestSphereAsCylinder checks rays through a sphere. They stay in the plane of their ends and the
// centre, which cuts the sphere in a circle of its radius. So the time equals the time through a
// cylinder, for ends that the test turns into the section.
func TestSphereAsCylinder(t *testing.T) {
	rng := rand.New(rand.NewPCG(19, 20))
	within := func(a, b float64) float64 { return a + rng.Float64()*(b-a) }
	const radius = 50e-3
	for _, curvature := range []Curvature{Convex, Concave} {
		centre := r3.Vec{X: 2e-3, Y: -3e-3, Z: radius}
		if curvature == Concave {
			centre.Z = -radius
		}
		sphere := check.Must(NewSphere(centre, radius, curvature))
		cylinder := check.Must(NewCylinder(centre, r3.Vec{Y: 1}, radius, curvature))
		speeds := []float64{1.48, 5.9}
		for i := range 300 {
			from := r3.Vec{X: within(-8e-3, 8e-3), Y: within(-8e-3, 8e-3), Z: -within(6e-3, 15e-3)}
			to := r3.Vec{X: within(-8e-3, 8e-3), Y: within(-8e-3, 8e-3), Z: within(5e-3, 20e-3)}
			a, b := r3.Sub(from, centre), r3.Sub(to, centre)
			// Half of the angle between both ends, to either side of the vertical.
			half := math.Atan2(r3.Norm(r3.Cross(a, b)), r3.Dot(a, b)) / 2
			down := -1.0
			if curvature == Concave {
				down = 1
			}
			flat := func(length, angle float64) r3.Vec {
				return r3.Add(r3.Vec{X: centre.X, Z: centre.Z}, r3.Vec{X: length * math.Sin(angle), Z: down * length * math.Cos(angle)})
			}
			got := refracting(speeds, sphere).Solve(from, to)
			want := refracting(speeds, cylinder).Solve(flat(r3.Norm(a), -half), flat(r3.Norm(b), half))
			if got.Status != OK || want.Status != OK || !(math.Abs(got.Time-want.Time) <= 1e-13*want.Time) {
				t.Fatalf("case %d: %v s (%v) through the sphere, %v s (%v) through its circle",
					i, got.Time, got.Status, want.Time, want.Status)
			}
		}
	}
}

// TestConeAlongAxis checks rays in a plane through the axis of a cone. The plane cuts the cone in a
// straight line, so the time equals the time through a tilted plane.
func TestConeAlongAxis(t *testing.T) {
	const radius, angle = 40e-3, 0.4
	cone := check.Must(NewCone(r3.Vec{Z: radius}, r3.Vec{X: 1}, radius, angle, Convex))
	// On top, the line rises towards +x. Its normal points into the part.
	plane := check.Must(NewPlane(r3.Vec{}, r3.Vec{X: math.Sin(angle), Z: math.Cos(angle)}))
	for _, ends := range [][2]r3.Vec{{mm(0, -10), mm(10, 15)}, {mm(-6, -9), mm(3, 8)}, {mm(4, -20), mm(-8, 20)}} {
		got := refracting([]float64{1.48, 5.9}, cone).Solve(ends[0], ends[1])
		want := refracting([]float64{1.48, 5.9}, plane).Solve(ends[0], ends[1])
		if got.Status != OK || !(math.Abs(got.Time-want.Time) <= 1e-13*want.Time) {
			t.Errorf("%v: %v s (%v) through the cone, %v s through its line",
				ends, got.Time, got.Status, want.Time)
		}
	}
}

// TestSteepSurfaces checks positions on surfaces whose parameters differ much from lengths. The
// general test of surfaces does not cover them.
func TestSteepSurfaces(t *testing.T) {
	for name, s := range map[string]Surface{
		"sphere":       check.Must(NewSphere(r3.Vec{X: 1e-3, Z: 20e-3}, 20e-3, Convex)),
		"bore":         check.Must(NewSphere(r3.Vec{X: 1e-3, Z: -20e-3}, 20e-3, Concave)),
		"cone":         check.Must(NewCone(mm(1, 30), r3.Vec{X: 1, Y: -1}, 30e-3, 0.7, Convex)),
		"concave cone": check.Must(NewCone(mm(1, -30), r3.Vec{X: 0.2, Y: 1}, 30e-3, -0.7, Concave)),
	} {
		rng := rand.New(rand.NewPCG(21, 22))
		for range 300 {
			u, v := 30e-3*(rng.Float64()-0.5), 30e-3*(rng.Float64()-0.5)
			at := s.At(u, v)
			for _, depth := range []float64{-2e-3, 0, 2e-3} {
				q := r3.Add(at.P, r3.Scale(depth, at.Normal()))
				if got := s.Depth(q); !(math.Abs(got-depth) <= 1e-14) {
					t.Fatalf("%s: depth %v of a point %v along the normal", name, got, depth)
				}
				if gu, gv := s.Locate(q); !(math.Abs(gu-u) <= 1e-12 && math.Abs(gv-v) <= 1e-12) {
					t.Fatalf("%s: located at (%v, %v), want (%v, %v)", name, gu, gv, u, v)
				}
			}
		}
	}
	cone := check.Must(NewCone(r3.Vec{}, r3.Vec{Y: 1}, 10e-3, math.Pi/4, Convex))
	if d := cone.Depth(r3.Vec{Y: -15e-3}); !(math.Abs(d+5e-3) <= 1e-15) {
		t.Errorf("depth %v m of a point 5 mm beyond the apex", d)
	}
}

// TestHeightFieldAsProfile compares a height field that is the same in every section with the
// profile of the section, inside the grid and beyond it.
func TestHeightFieldAsProfile(t *testing.T) {
	points := wavy()
	var x, z []float64
	y := []float64{-20e-3, -5e-3, 1e-3, 30e-3}
	for range y {
		for _, p := range points {
			z = append(z, p.Z)
		}
	}
	for _, p := range points {
		x = append(x, p.X)
	}
	field, profile := check.Must(NewHeightField(x, y, z)), check.Must(NewProfile(points))
	for _, u := range []float64{-40e-3, -30e-3, -11.3e-3, 0, 0.25e-3, 17e-3, 30e-3, 45e-3} {
		for _, v := range []float64{-50e-3, -20e-3, 0, 3e-3, 40e-3} {
			got, want := field.At(u, v), profile.At(u, v)
			for _, d := range []float64{got.P.Z - want.P.Z, got.U.Z - want.U.Z, got.V.Z, 1e-3 * (got.UU.Z - want.UU.Z), 1e-3 * got.UV.Z, 1e-3 * got.VV.Z} {
				if !(math.Abs(d) <= 1e-13) {
					t.Fatalf("at (%v, %v): %+v, the profile has %+v", u, v, got, want)
				}
			}
		}
	}
	speeds := []float64{1.48, 5.9}
	from, to := r3.Vec{X: -3e-3, Y: 2e-3, Z: -12e-3}, r3.Vec{X: 6e-3, Y: 9e-3, Z: 18e-3}
	got, want := refracting(speeds, field).Solve(from, to), refracting(speeds, profile).Solve(from, to)
	if got.Status != OK || !(math.Abs(got.Time-want.Time) <= 1e-14*want.Time) {
		t.Errorf("%v s (%v) through the field, %v s through the profile",
			got.Time, got.Status, want.Time)
	}
}

// TestSmoothProfile removes noise of a known deviation from a wave. The smooth profile must lie
// nearer to the wave, have the requested misfit, and have the curvature of the wave.
func TestSmoothProfile(t *testing.T) {
	const deviation, height, pace = 0.03e-3, 0.5e-3, 250.0
	rng := rand.New(rand.NewPCG(23, 24))
	var points []r3.Vec
	for x := -30e-3; x <= 30e-3; x += 0.5e-3 {
		points = append(points, r3.Vec{X: x, Z: height*math.Sin(pace*x) + deviation*rng.NormFloat64()})
	}
	rough, smooth := check.Must(NewProfile(points)), check.Must(NewSmoothProfile(points, deviation))
	misfit, left, bends, roughBends := 0.0, 0.0, 0.0, 0.0
	for _, p := range points {
		z := smooth.At(p.X, 0).P.Z
		misfit += (z - p.Z) * (z - p.Z)
		left += math.Pow(z-height*math.Sin(pace*p.X), 2)
		bend := -height * pace * pace * math.Sin(pace*p.X)
		bends += math.Pow(curvature(smooth, p.X)-bend, 2)
		roughBends += math.Pow(curvature(rough, p.X)-bend, 2)
	}
	n := float64(len(points))
	if rms := math.Sqrt(misfit / n); !(math.Abs(rms-deviation) <= 1e-9*deviation) {
		t.Errorf("misfit %v m, want %v", rms, deviation)
	}
	if rms := math.Sqrt(left / n); !(rms <= 0.6*deviation) {
		t.Errorf("%v m of the noise of %v m left", rms, deviation)
	}
	if share := math.Sqrt(bends / roughBends); !(share <= 0.05) {
		t.Errorf("the curvature errs by %v of that of the rough profile", share)
	}
	if exact := check.Must(NewSmoothProfile(points, 0)); curvature(exact, 3e-3) != curvature(rough, 3e-3) {
		t.Error("a deviation of zero smooths")
	}
	line := check.Must(NewSmoothProfile(points, 10e-3))
	for _, p := range points {
		if c := curvature(line, p.X); !(math.Abs(c) <= 1e-6) {
			t.Errorf("curvature %v 1/m of what should be a straight line", c)
		}
	}
	// An arc of radius 80 mm that bends down, to the far side.
	var arc []r3.Vec
	for x := -20e-3; x <= 20e-3; x += 0.5e-3 {
		arc = append(arc, r3.Vec{X: x, Z: 80e-3 - math.Sqrt(80e-3*80e-3-x*x)})
	}
	if c := curvature(check.Must(NewProfile(arc)), 1.2e-3); !(math.Abs(c*80e-3-1) <= 1e-3) {
		t.Errorf("curvature %v 1/m of an arc of 80 mm", c)
	}
	for _, bad := range []float64{-1e-6, math.NaN(), math.Inf(1)} {
		_, err := NewSmoothProfile(points, bad)
		check.Error(t, err, "deviation", "at least 0")
	}
	_, err := NewSmoothProfile(points[:1], 1e-5)
	check.Error(t, err, "1 points")
}

func TestBadCurvedSurfaces(t *testing.T) {
	nan := math.NaN()
	y := r3.Vec{Y: 1}
	two := []float64{0, 1}
	for name, test := range map[string]struct {
		make  func() error
		words []string
	}{
		"sphere round NaN":        {func() error { _, err := NewSphere(mm(nan, 0), 1, Convex); return err }, []string{"centre", "finite"}},
		"sphere of no radius":     {func() error { _, err := NewSphere(r3.Vec{}, 0, Convex); return err }, []string{"radius", "above 0"}},
		"sphere of no curvature":  {func() error { _, err := NewSphere(r3.Vec{}, 1, 7); return err }, []string{"curvature 7", "Convex or Concave"}},
		"cone that is a plane":    {func() error { _, err := NewCone(r3.Vec{}, y, 1, math.Pi/2, Convex); return err }, []string{"half angle", "π/2"}},
		"cone of NaN angle":       {func() error { _, err := NewCone(r3.Vec{}, y, 1, nan, Convex); return err }, []string{"half angle", "NaN"}},
		"cone of no radius":       {func() error { _, err := NewCone(r3.Vec{}, y, 0, 0.1, Convex); return err }, []string{"radius", "above 0"}},
		"field of one x":          {func() error { _, err := NewHeightField(two[:1], two, two); return err }, []string{"1 x", "at least 2"}},
		"field of descending y":   {func() error { _, err := NewHeightField(two, []float64{1, 0}, make([]float64, 4)); return err }, []string{"y 1", "ascending"}},
		"field of NaN x":          {func() error { _, err := NewHeightField([]float64{nan, 1}, two, make([]float64, 4)); return err }, []string{"x 0", "finite"}},
		"field of three heights":  {func() error { _, err := NewHeightField(two, two, make([]float64, 3)); return err }, []string{"3 heights", "want 4"}},
		"field over no distance":  {func() error { _, err := NewHeightField([]float64{0, 5e-324}, two, []float64{0, 1, 2, 3}); return err }, []string{"too steep", "x = 0"}},
		"field over all there is": {func() error { _, err := NewHeightField([]float64{-1e308, 1e308}, two, make([]float64, 4)); return err }, []string{"x of the height field", "finite distance"}},
		"field of infinite depth": {func() error { _, err := NewHeightField(two, two, []float64{0, 0, math.Inf(1), 0}); return err }, []string{"height 2", "finite"}},
	} {
		t.Run(name, func(t *testing.T) { check.Error(t, test.make(), test.words...) })
	}
}

// TestVectorsOfAnyLength checks that only the direction of a normal or an axis matters, even if the
// length of the vector overflows.
func TestVectorsOfAnyLength(t *testing.T) {
	q := r3.Vec{X: 3e-3, Y: -2e-3, Z: 5e-3}
	v := r3.Vec{X: 1, Y: 1, Z: 0.5}
	for name, depth := range map[string]func(r3.Vec) float64{
		"plane":    func(v r3.Vec) float64 { return check.Must(NewPlane(mm(1, 2), v)).Depth(q) },
		"cylinder": func(v r3.Vec) float64 { return check.Must(NewCylinder(mm(1, 22), v, 20e-3, Convex)).Depth(q) },
		"cone":     func(v r3.Vec) float64 { return check.Must(NewCone(mm(1, 22), v, 20e-3, 0.2, Convex)).Depth(q) },
	} {
		want := depth(v)
		for _, scale := range []float64{1e-310, 1e-200, 1e200, 1.5e308} {
			if got := depth(r3.Scale(scale, v)); !(math.Abs(got-want) <= 1e-12*math.Abs(want)) {
				t.Errorf("%s: depth %v m along a vector of %v, %v along one of 1",
					name, got, scale, want)
			}
		}
	}
}

// TestHeightFieldFarAway checks that the search for the nearest point ends for a point whose
// distances overflow.
func TestHeightFieldFarAway(t *testing.T) {
	field := check.Must(NewHeightField([]float64{0, 1e-3}, []float64{0, 1e-3}, []float64{0, 1e-4, 1e-4, 0}))
	for _, x := range []float64{1e100, -1e155, 1e200, 1e308} {
		for _, z := range []float64{0, 1e155, -1e308} {
			q := r3.Vec{X: x, Y: 1e-3, Z: z}
			field.Locate(q)
			field.Depth(q)
		}
	}
}

// TestRaysByApex sends rays to places without parameters: the apex of a cone, the points of a
// sphere farthest along y. A stationary time there belongs to no ray.
func TestRaysByApex(t *testing.T) {
	rng := rand.New(rand.NewPCG(31, 32))
	within := func(a, b float64) float64 { return a + rng.Float64()*(b-a) }
	count := map[Status]int{}
	surfaces := map[string]Surface{
		"sphere":         check.Must(NewSphere(mm(0, 10), 10e-3, Convex)),
		"concave sphere": check.Must(NewSphere(mm(0, -10), 10e-3, Concave)),
		"cone":           check.Must(NewCone(mm(0, 10), r3.Vec{X: 1}, 10e-3, 0.5, Convex)),
		"concave cone":   check.Must(NewCone(mm(0, -10), r3.Vec{X: 1, Y: 1}, 10e-3, -0.9, Concave)),
		"blunt cone":     check.Must(NewCone(mm(0, 10), r3.Vec{X: 1}, 10e-3, 1.5, Convex)),
	}
	for _, name := range slices.Sorted(maps.Keys(surfaces)) {
		surface := surfaces[name]
		for _, reflects := range []bool{false, true} {
			p := check.Must(NewPath([]Leg{{Speed: 1500}, {Speed: 5900}}, []Crossing{{Surface: surface, Reflects: reflects}}))
			for range 3000 {
				from := r3.Vec{X: math.Round(within(-2, 2)) * 5e-3, Z: math.Round(within(-2, 2)) * 5e-3}
				to := r3.Vec{X: within(-10e-3, 10e-3), Y: math.Round(within(-1, 1)) * 2e-3, Z: within(-20e-3, 20e-3)}
				r := p.Solve(from, to)
				count[r.Status]++
				if r.Status != OK {
					continue
				}
				if depth := surface.Depth(r.Points[1]); !(math.Abs(depth) <= 1e-12) {
					t.Errorf("%s, %v to %v: a crossing %v m off the surface", name, from, to, depth)
				}
				if !finite(r.Normals[0]) {
					t.Errorf("%s, %v to %v: normal %v", name, from, to, r.Normals[0])
				}
				if r3.Norm(r3.Sub(r.Points[1], from)) < 1e-6 || r3.Norm(r3.Sub(to, r.Points[1])) < 1e-6 {
					continue // a leg of no length has no direction
				}
				if residual := 1500 * snellResidual(&r, 0, 1500, 5900); !(residual <= 1e-6) {
					t.Errorf("%s, %v to %v: Snell's law broken by %v at %v",
						name, from, to, residual, r.Points[1])
				}
			}
		}
	}
	if count[OK] < 3000 {
		t.Errorf("%v: too few to tell", count)
	}
}

// TestHeightFieldNearest compares the search for the nearest point of a rough field, over more than
// one block in each direction, with a search over all measured points.
func TestHeightFieldNearest(t *testing.T) {
	rng := rand.New(rand.NewPCG(33, 34))
	var x, y, z []float64
	for i := range 53 {
		x = append(x, (float64(i)+0.5*rng.Float64())*1e-3)
	}
	for i := range 35 {
		y = append(y, (float64(i)+0.5*rng.Float64())*1e-3)
	}
	for range len(x) * len(y) {
		z = append(z, 3e-3*rng.Float64())
	}
	field := check.Must(NewHeightField(x, y, z))
	for range 2000 {
		q := r3.Vec{X: 70e-3*rng.Float64() - 10e-3, Y: 50e-3*rng.Float64() - 10e-3, Z: 30e-3*rng.Float64() - 15e-3}
		least := math.Inf(1)
		for j, v := range y {
			for i, u := range x {
				least = min(least, r3.Norm(r3.Sub(q, r3.Vec{X: u, Y: v, Z: z[j*len(x)+i]})))
			}
		}
		u, v := field.Locate(q)
		if d := r3.Norm(r3.Sub(q, field.At(u, v).P)); !(d <= least+1e-15) {
			t.Fatalf("%v m from %v to the field, %v m to a measured point", d, q, least)
		}
	}
}

// TestHeightFieldObstructs checks that a height field that is the same in every section blocks the
// same rays as the profile of the section.
func TestHeightFieldObstructs(t *testing.T) {
	var points []r3.Vec
	var x, z []float64
	for u := -30e-3; u <= 30e-3; u += 0.5e-3 {
		points = append(points, r3.Vec{X: u, Z: 1.5e-3 * math.Sin(500*u)})
		x, z = append(x, u), append(z, points[len(points)-1].Z)
	}
	profile := Setup{Coupling: &water, Part: steel, Entry: check.Must(NewProfile(points))}
	field := Setup{Coupling: &water, Part: steel, Entry: check.Must(NewHeightField(x, []float64{-10e-3, 10e-3}, slices.Concat(z, z)))}
	modes := []material.Mode{material.L}
	a, b := check.Must(field.Path(modes)), check.Must(profile.Path(modes))
	count := map[Status]int{}
	for from := -20.0; from <= 20; from += 2.5 {
		for to := -20.0; to <= 20; to += 1.1 {
			got, want := a.Solve(mm(from, -5), mm(to, 6)), b.Solve(mm(from, -5), mm(to, 6))
			if got.Status == OK && want.Status == OK && !(math.Abs(got.Time-want.Time) <= 1e-13) {
				continue // another of several rays
			}
			count[want.Status]++
			if got.Status != want.Status {
				t.Errorf("%v to %v mm: %v, by the profile %v", from, to, got.Status, want.Status)
			}
		}
	}
	if count[OK] < 50 || count[Obstructed] < 50 {
		t.Errorf("%v: too few to tell", count)
	}
}

// curvature returns the curvature of a profile at x, in 1/m. It is positive where the surface bends
// to its far side, as a convex cylinder does.
func curvature(profile Surface, x float64) float64 {
	at := profile.At(x, 0)
	return at.UU.Z / math.Pow(1+at.U.Z*at.U.Z, 1.5)
}
