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

// wavy returns measured points of a smooth wave of 0.5 mm, of an invented part.
func wavy() []r3.Vec {
	var points []r3.Vec
	for x := -30.0; x <= 30; x += 0.5 {
		points = append(points, mm(x, 0.5*math.Sin(x/4)))
	}
	return points
}

// waves returns measured points of a wave of a height (m) and of a pace (rad/m), of an invented part.
func waves(height, pace float64) []r3.Vec {
	var points []r3.Vec
	for x := -40e-3; x <= 40e-3; x += 0.5e-3 {
		points = append(points, r3.Vec{X: x, Z: height * math.Sin(pace*x)})
	}
	return points
}

// hills returns a height field of smooth waves along x and y, of an invented part.
func hills() Surface {
	var x, y, z []float64
	for i := -30; i <= 30; i++ {
		x = append(x, float64(i)*1e-3)
	}
	for j := -15; j <= 15; j++ {
		y = append(y, float64(j)*2e-3)
	}
	for _, v := range y {
		for _, u := range x {
			z = append(z, 0.3e-3*math.Sin(250*u)*math.Cos(150*v)+0.02*v)
		}
	}
	return check.Must(NewHeightField(x, y, z))
}

// surfaces returns a surface of each kind, in general position where the kind allows it.
func surfaces() map[string]Surface {
	return map[string]Surface{
		"plane":            check.Must(NewPlane(mm(1, 2), r3.Vec{X: 0.3, Z: 1})),
		"skew plane":       check.Must(NewPlane(mm(1, 2), r3.Vec{X: 0.3, Y: -0.4, Z: 1})),
		"convex cylinder":  check.Must(NewCylinder(mm(1, 52), r3.Vec{Y: 2}, 50e-3, Convex)),
		"concave cylinder": check.Must(NewCylinder(mm(1, -48), r3.Vec{Y: -2}, 50e-3, Concave)),
		"skew cylinder":    check.Must(NewCylinder(mm(1, 52), r3.Vec{X: 1, Y: 1, Z: 0.2}, 50e-3, Convex)),
		"profile":          check.Must(NewProfile(wavy())),
		"convex sphere":    check.Must(NewSphere(r3.Vec{X: 1e-3, Y: 3e-3, Z: 302e-3}, 300e-3, Convex)),
		"concave sphere":   check.Must(NewSphere(r3.Vec{X: 1e-3, Y: 3e-3, Z: -298e-3}, 300e-3, Concave)),
		"cone along y":     check.Must(NewCone(mm(1, 52), r3.Vec{Y: 1}, 50e-3, 0.005, Convex)),
		"skew cone":        check.Must(NewCone(mm(1, 52), r3.Vec{X: -1, Y: -1, Z: 0.1}, 50e-3, 0.009, Convex)),
		"concave cone":     check.Must(NewCone(mm(1, -48), r3.Vec{X: 1, Y: 1}, 50e-3, -0.004, Concave)),
		"height field":     hills(),
	}
}

// TestSurfaces checks the rules of the interface by finite differences and by moves along the
// normal.
func TestSurfaces(t *testing.T) {
	for name, s := range surfaces() {
		t.Run(name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(5, 6))
			for range 100 {
				u, v := 40e-3*(rng.Float64()-0.5), 40e-3*(rng.Float64()-0.5)
				const h = 1e-6
				at := s.At(u, v)
				difference := func(a, b r3.Vec) r3.Vec { return r3.Scale(1/(2*h), r3.Sub(a, b)) }
				east, west, north, south := s.At(u+h, v), s.At(u-h, v), s.At(u, v+h), s.At(u, v-h)
				for _, d := range []struct {
					name      string
					got, want r3.Vec
					tolerance float64
				}{
					{"U", at.U, difference(east.P, west.P), 1e-8},
					{"V", at.V, difference(north.P, south.P), 1e-8},
					{"UU", at.UU, difference(east.U, west.U), 1e-3},
					{"UV", at.UV, difference(east.V, west.V), 1e-3},
					{"VV", at.VV, difference(north.V, south.V), 1e-3},
				} {
					if e := r3.Norm(r3.Sub(d.got, d.want)); !(e <= d.tolerance) {
						t.Fatalf("%s = %v at (%v, %v), by differences %v",
							d.name, d.got, u, v, d.want)
					}
				}
				if length := r3.Norm(at.U); !(math.Abs(length-1) <= 0.01) {
					t.Fatalf("u is not a length along the surface: |U| = %v", length)
				}
				normal := at.Normal()
				if normal.Z < 0 {
					t.Fatalf("normal %v points up", normal)
				}
				for _, depth := range []float64{-2e-3, -1e-6, 0, 1e-6, 2e-3} {
					q := r3.Add(at.P, r3.Scale(depth, normal))
					if got := s.Depth(q); !(math.Abs(got-depth) <= 1e-14) {
						t.Fatalf("depth %v of a point %v along the normal", got, depth)
					}
					gu, gv := s.Locate(q)
					if !(math.Abs(gu-u) <= 1e-13 && math.Abs(gv-v) <= 1e-13) {
						t.Fatalf("located at (%v, %v), want (%v, %v)", gu, gv, u, v)
					}
				}
				if s.Extruded() && (at.P.Y != v || at.V != r3.Vec{Y: 1}) {
					t.Fatalf("extruded along y, but v = %v gives y = %v", v, at.P.Y)
				}
			}
		})
	}
}

// TestProfileThroughPoints compares the spline with its points and, between them, with the wave
// through the points.
func TestProfileThroughPoints(t *testing.T) {
	points := wavy()
	p := check.Must(NewProfile(points))
	for _, q := range points {
		if z := p.At(q.X, 0).P.Z; !(math.Abs(z-q.Z) <= 1e-18) {
			t.Fatalf("z = %v at the measured point %v", z, q)
		}
	}
	for x := -25.0; x <= 25; x += 0.13 {
		if got, want := p.At(x*1e-3, 0).P.Z, 0.5e-3*math.Sin(x/4); !(math.Abs(got-want) <= 1e-8) {
			t.Fatalf("z = %v at x = %v mm, want %v", got, x, want)
		}
	}
	for _, x := range []float64{-40e-3, 45e-3} {
		if at := p.At(x, 0); at.UU != (r3.Vec{}) {
			t.Errorf("bend %v at x = %v m, beyond the points", at.UU, x)
		}
	}
}

// TestProfileFlat checks that a profile through points of a plane refracts as the plane does.
func TestProfileFlat(t *testing.T) {
	tilted := check.Must(NewPlane(mm(0, 20), r3.Vec{X: -0.2, Z: 1}))
	profile := check.Must(NewProfile([]r3.Vec{mm(-50, 10), mm(-10, 18), mm(7, 21.4), mm(50, 30)}))
	speeds := []float64{1.48, 5.9}
	want := refracting(speeds, tilted).Solve(mm(0, 0), mm(15, 45))
	got := refracting(speeds, profile).Solve(mm(0, 0), mm(15, 45))
	if !(math.Abs(got.Time-want.Time) <= 1e-13*want.Time) {
		t.Errorf("%v s through the profile, %v s through the plane", got.Time, want.Time)
	}
}

// TestSurfacesNotFinite checks that every surface returns for a point that is not finite, without a
// finite depth.
func TestSurfacesNotFinite(t *testing.T) {
	for name, s := range surfaces() {
		for _, q := range []r3.Vec{mm(math.NaN(), 1), mm(1, math.NaN()), mm(math.Inf(1), 1), mm(1, math.Inf(-1))} {
			s.Locate(q)
			if depth := s.Depth(q); !math.IsNaN(depth) && !math.IsInf(depth, 0) {
				t.Errorf("%s: %v lies %v m deep", name, q, depth)
			}
		}
	}
}

// TestSurfacesFarAway checks that every surface returns for a point so far away that its distance,
// or the square of the distance, overflows. Steep surfaces overflow sooner.
func TestSurfacesFarAway(t *testing.T) {
	all := surfaces()
	all["steep profile"] = check.Must(NewProfile([]r3.Vec{mm(0, 0), mm(1, 30), mm(2, -50), mm(3, 90)}))
	all["steep height field"] = check.Must(NewHeightField([]float64{0, 1e-3, 2e-3}, []float64{0, 1e-3}, []float64{0, 0.1, -0.2, 0.3, -0.4, 0.5}))
	for name, s := range all {
		for _, far := range []float64{1e3, 1e9, 1e100, 1e160, 1e200, 1e300, 1e307, math.MaxFloat64} {
			for _, x := range []float64{-far, 0, far} {
				for _, z := range []float64{-far, 0, far} {
					q := r3.Vec{X: x, Z: z}
					s.Locate(q)
					if depth := s.Depth(q); far < 1e10 && (x != 0 || z != 0) && !(math.Abs(depth) <= 2*far) {
						t.Errorf("%s: %v lies %v m deep", name, q, depth)
					}
				}
			}
		}
	}
}

func TestBadProfile(t *testing.T) {
	for name, test := range map[string]struct {
		points []r3.Vec
		words  []string
	}{
		"empty":         {nil, []string{"0 points", "at least 2"}},
		"one point":     {[]r3.Vec{mm(1, 1)}, []string{"1 points"}},
		"NaN":           {[]r3.Vec{mm(1, 1), mm(2, math.NaN())}, []string{"point 1", "finite"}},
		"repeated x":    {[]r3.Vec{mm(1, 1), mm(1, 2)}, []string{"point 1", "more than"}},
		"descending x":  {[]r3.Vec{mm(1, 1), mm(0, 2)}, []string{"point 1", "more than"}},
		"out of plane":  {[]r3.Vec{mm(1, 1), {X: 1, Y: 1}}, []string{"point 1", "y = 1"}},
		"infinite step": {[]r3.Vec{mm(1, 1), mm(math.Inf(1), 2)}, []string{"point 1", "finite"}},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := NewProfile(test.points)
			check.Error(t, err, test.words...)
		})
	}
}
