// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// checkSpreading compares a spreading with its two lengths in closed form.
func checkSpreading(t *testing.T, s spreading, inPlane, outOfPlane float64, caustics int) {
	t.Helper()
	const tolerance = 1e-10
	if !(math.Abs(s.inPlane-inPlane) <= tolerance*inPlane) || !(math.Abs(s.outOfPlane-outOfPlane) <= tolerance*outOfPlane) {
		t.Errorf("spreading %v in the plane, %v out of it: want %v, %v m",
			s.inPlane, s.outOfPlane, inPlane, outOfPlane)
	}
	if want := math.Sqrt(inPlane * outOfPlane); !(math.Abs(s.radius-want) <= tolerance*want) {
		t.Errorf("spreading %v in space: want %v m", s.radius, want)
	}
	if s.causticsInPlane != caustics || s.caustics != caustics {
		t.Errorf("%d caustics in the plane, %d in space: want %d",
			s.causticsInPlane, s.caustics, caustics)
	}
}

// TestSpreadingHomogeneous checks a straight ray, and a ray through a boundary between equal media.
// All lengths are the length of the ray.
func TestSpreadingHomogeneous(t *testing.T) {
	flat := check.Must(HorizontalPlane(0))
	round := check.Must(NewCylinder(mm(0, 50), r3.Vec{Y: 1}, 50e-3, Convex))
	from, to := mm(-12, -20), mm(9, 31)
	for _, p := range []*Path{
		refracting([]float64{5.9}),
		refracting([]float64{5.9, 5.9}, flat),
		refracting([]float64{5.9, 5.9}, round),
		refracting([]float64{5.9, 5.9, 5.9}, flat, check.Must(HorizontalPlane(10e-3))),
	} {
		r := p.Solve(from, to)
		length := r3.Norm(r3.Sub(to, from))
		checkSpreading(t, check.Must(p.spreading(&r)), length, length, 0)
	}
}

// TestSpreadingPlane checks refraction at a plane. At normal incidence the waves seem to come from
// a distance d·c₂/c₁ + h in the first medium. At oblique incidence, the derivative of x = h·tan θ₁
// + d·tan θ₂ under Snell's law gives the width.
func TestSpreadingPlane(t *testing.T) {
	flat := check.Must(HorizontalPlane(0))
	for _, speeds := range [][2]float64{{1.48, 5.9}, {2.34, 3.24}, {5.92, 3.255}} {
		c1, c2 := speeds[0], speeds[1]
		p := refracting([]float64{c1, c2}, flat)
		h, d := 20e-3, 30e-3
		r := p.Solve(r3.Vec{Z: -h}, r3.Vec{Z: d})
		checkSpreading(t, check.Must(p.spreading(&r)), h+d*c2/c1, h+d*c2/c1, 0)

		r = p.Solve(r3.Vec{Z: -h}, r3.Vec{X: 25e-3, Z: d})
		in, out := r.Angles(0)
		cos1, cos2 := math.Cos(in), math.Cos(out)
		wide := cos2 * (h/(cos1*cos1) + d*c2*cos1/(c1*cos2*cos2*cos2))
		checkSpreading(t, check.Must(p.spreading(&r)), wide, h/cos1+d*c2/(c1*cos2), 0)
	}
}

// bentRay returns a ray over the top of a cylinder with the radius R, whose axis lies along y at z
// = R. It has the given angle of incidence, lengths before and after the crossing, and direction
// after the crossing.
func bentRay(incidence, before, after float64, leave r3.Vec) Ray {
	sin, cos := math.Sincos(incidence)
	arrive := r3.Vec{X: sin, Z: cos}
	return Ray{
		Points:  []r3.Vec{r3.Scale(-before, arrive), {}, r3.Scale(after, leave)},
		Normals: []r3.Vec{{Z: 1}},
	}
}

// TestSpreadingMirror checks reflection off a cylinder against the focal law of a mirror, 1/s +
// 1/s' = ±2/(R·cos θ). Beyond the image at s' the rays diverge again, after a caustic.
func TestSpreadingMirror(t *testing.T) {
	const radius, incidence = 50e-3, 0.4
	leave := r3.Vec{X: math.Sin(incidence), Z: -math.Cos(incidence)}
	for _, test := range []struct {
		name          string
		curvature     Curvature // of the near side, where the rays are
		before, after float64
		caustics      int
	}{
		{"hollow, before the image", Concave, 60e-3, 10e-3, 0},
		{"hollow, beyond the image", Concave, 60e-3, 70e-3, 1},
		{"hollow, source within the focal length", Concave, 15e-3, 70e-3, 0},
		{"round", Convex, 30e-3, 70e-3, 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			centre, focal := radius, -radius*math.Cos(incidence)/2
			if test.curvature == Concave {
				centre, focal = -radius, -focal
			}
			mirror := check.Must(NewCylinder(r3.Vec{Z: centre}, r3.Vec{Y: 1}, radius, test.curvature))
			p := check.Must(NewPath([]Leg{{Speed: 3240}, {Speed: 3240}}, []Crossing{{Surface: mirror, Reflects: true}}))
			r := bentRay(incidence, test.before, test.after, leave)
			image := 1 / (1/focal - 1/test.before)
			wide := test.before * math.Abs(1-test.after/image)
			checkSpreading(t, check.Must(p.spreading(&r)), wide, test.before+test.after, test.caustics)
		})
	}
}

// TestSpreadingLens checks refraction at a cylinder against Coddington's equation for the rays in
// the plane,
//
//	cos²θ₂/(c₂·t') - cos²θ₁/(c₁·t) = (cos θ₂/c₂ - cos θ₁/c₁)/R
//
// (from memory of Born and Wolf, Principles of Optics). The image lies at t' and the source at t in
// front of the surface, both measured along the ray.
func TestSpreadingLens(t *testing.T) {
	for _, test := range []struct {
		name                              string
		curvature                         Curvature
		c1, c2, incidence, before, radius float64
	}{
		{"pipe under water", Convex, 1482, 5920, 0.1, 10e-3, 57.15e-3},
		{"pipe under water, T", Convex, 1482, 3240, 0.3, 10e-3, 57.15e-3},
		{"bore full of water", Concave, 1482, 5920, 0.1, 10e-3, 57.15e-3},
		{"lens that focuses", Concave, 1482, 5920, 0.1, 60e-3, 15e-3},
	} {
		t.Run(test.name, func(t *testing.T) {
			centre := test.radius
			if test.curvature == Concave {
				centre = -centre
			}
			surface := check.Must(NewCylinder(r3.Vec{Z: centre}, r3.Vec{Y: 1}, test.radius, test.curvature))
			p := check.Must(NewPath([]Leg{{Speed: test.c1}, {Speed: test.c2}}, []Crossing{{Surface: surface}}))
			sin := math.Sin(test.incidence) * test.c2 / test.c1
			leave := r3.Vec{X: sin, Z: math.Sqrt(1 - sin*sin)}
			cos1, cos2 := math.Cos(test.incidence), leave.Z
			power := (cos2/test.c2 - cos1/test.c1) / centre
			// The source lies on the side of the incident rays: t = -before.
			image := cos2 * cos2 / test.c2 / (power - cos1*cos1/(test.c1*test.before))
			for _, after := range []float64{1e-3, 5e-3, 20e-3, 80e-3} {
				caustics := 0
				if image > 0 && after > image {
					caustics = 1
				}
				r := bentRay(test.incidence, test.before, after, leave)
				wide := test.before * cos2 / cos1 * math.Abs(1-after/image)
				checkSpreading(t, check.Must(p.spreading(&r)), wide, test.before+after*test.c2/test.c1, caustics)
			}
			t.Logf("image at %.1f mm", image*1e3)
		})
	}
}

// TestSpreadingCaustic checks a focus: rays from the axis of a hollow cylinder meet again on the
// axis, the rays of one section in a point. A leg of no length has no spreading.
func TestSpreadingCaustic(t *testing.T) {
	mirror := check.Must(NewCylinder(r3.Vec{Z: -50e-3}, r3.Vec{Y: 1}, 50e-3, Concave))
	p := check.Must(NewPath([]Leg{{Speed: 3240}, {Speed: 3240}}, []Crossing{{Surface: mirror, Reflects: true}}))
	r := bentRay(0, 50e-3, 50e-3, r3.Vec{Z: -1})
	if s := check.Must(p.spreading(&r)); !(s.inPlane <= 1e-12) || !(s.radius <= 1e-6) {
		t.Errorf("spreading at a focus %+v: want 0", s)
	}
	r = bentRay(0, 50e-3, 0, r3.Vec{Z: -1})
	if s := check.Must(p.spreading(&r)); !math.IsNaN(s.inPlane) || !math.IsNaN(s.outOfPlane) || !math.IsNaN(s.radius) {
		t.Errorf("spreading of a leg of no length %+v: want NaN", s)
	}
}

// TestSpreadingOfNeighbours compares with neighbouring skew rays through random surfaces: the
// change of the direction of departure with the end. In both directions, the speed at the start
// times the spreading is the same.
func TestSpreadingOfNeighbours(t *testing.T) {
	rng := rand.New(rand.NewPCG(13, 14))
	for i := range 100 {
		p, from, to := randomCase(rng)
		r := p.Solve(from, to)
		s := check.Must(p.spreading(&r))
		d1, d2 := across(r.Direction(0))
		e1, e2 := across(r.Direction(len(p.crossings)))
		turn := func(d, e r3.Vec) float64 {
			return slope(3e-5, func(x float64) float64 {
				neighbour := p.Solve(from, r3.Add(to, r3.Scale(x, e)))
				return r3.Dot(d, neighbour.Direction(0))
			})
		}
		// dΩ/dS
		det := turn(d1, e1)*turn(d2, e2) - turn(d1, e2)*turn(d2, e1)
		if want := 1 / math.Sqrt(math.Abs(det)); !(math.Abs(s.radius-want) <= 1e-6*want) {
			t.Errorf("case %d: spreading %v m, of neighbouring rays %v m", i, s.radius, want)
		}
		q := reversed(p)
		back := q.Solve(to, from)
		there, here := p.legs[0].Speed*s.radius, q.legs[0].Speed*check.Must(q.spreading(&back)).radius
		if !(math.Abs(there-here) <= 1e-10*here) {
			t.Errorf("case %d: speed times spreading %v m²/s one way, %v back", i, there, here)
		}
		if p.inSection(&r) {
			t.Fatalf("case %d is not skew", i)
		}
	}
}

// TestSpreadingOfSkips compares rays with skips, in the section of a pipe and of a profile, with
// neighbouring rays in the section and across it.
func TestSpreadingOfSkips(t *testing.T) {
	const L, T = material.L, material.T
	pipe := check.Must(NewPipe(&water, steel, 57.15e-3, 14e-3))
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	var wavy []r3.Vec
	for i := range 41 {
		wavy = append(wavy, mm(float64(i-20), 0.3*math.Sin(float64(i)/4)))
	}
	for _, test := range []struct {
		name     string
		path     *Path
		from, to r3.Vec
	}{
		{"pipe L", check.Must(pipe.Path([]material.Mode{L})), mm(-3, -10), mm(2, 8)},
		{"pipe TT", check.Must(pipe.Path([]material.Mode{T, T})), mm(-6, -10), mm(5, 9)},
		{"pipe LT", check.Must(pipe.Path([]material.Mode{L, T})), mm(-6, -10), mm(5, 9)},
		{"plate TTT", check.Must(plate.Path([]material.Mode{T, T, T})), mm(-9, -11), mm(30, 8)},
		{"profile", refracting([]float64{1.48, 5.9}, check.Must(NewProfile(wavy))), mm(-2, -11), mm(3, 12)},
	} {
		t.Run(test.name, func(t *testing.T) {
			p := test.path
			r := p.Solve(test.from, test.to)
			if r.Status != OK {
				t.Fatal(r.Status)
			}
			s := check.Must(p.spreading(&r))
			y := r3.Vec{Y: 1}
			turn := func(d, e r3.Vec) float64 {
				return slope(1e-5, func(x float64) float64 {
					neighbour := p.Solve(test.from, r3.Add(test.to, r3.Scale(x, e)))
					return r3.Dot(d, neighbour.Direction(0))
				})
			}
			in := 1 / math.Abs(turn(r3.Cross(y, r.Direction(0)), r3.Cross(y, r.Direction(len(p.crossings)))))
			out := 1 / math.Abs(turn(y, y))
			if !(math.Abs(s.inPlane-in) <= 1e-6*in) || !(math.Abs(s.outOfPlane-out) <= 1e-6*out) {
				t.Errorf("spreading %v, %v m: of neighbouring rays %v, %v m",
					s.inPlane, s.outOfPlane, in, out)
			}
			if want := math.Sqrt(in * out); !(math.Abs(s.radius-want) <= 1e-6*want) {
				t.Errorf("spreading in space %v m: of neighbouring rays %v m", s.radius, want)
			}
		})
	}
}
