// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// rays checks times of flight, refraction points and derivatives. Speeds stand in mm/µs, places in
// mm.
func rays() []check {
	const fermat = "mpmath, least time by bisection"
	const mirror = "algebra, mirror image of the end"
	flat, bottom := horizontal(0), horizontal(30)
	tilted, errTilted := wedge.NewPlane(mm(0, 20), r3.Vec{X: -0.2, Z: 1})
	drum, errDrum := wedge.NewCylinder(mm(0, 70), r3.Vec{Y: 1}, 50e-3, wedge.Convex)
	bore, errBore := wedge.NewCylinder(mm(0, 30), r3.Vec{Y: 1}, 30e-3, wedge.Convex)
	made := errors.Join(errTilted, errDrum, errBore)
	water := []float64{1.48, 5.9}
	return []check{
		{"water to L in steel, plane", calculated, fermat, "19.505272739817", "µs", 0,
			flight(mm(0, -20), mm(20, 30), water, enter(flat), nil)},
		{"the same, x where the ray enters", calculated, fermat, "2.5435230719443", "mm", 1e-9,
			entryPoint(mm(0, -20), mm(20, 30), water, flat)},
		{"acrylic to L in steel, plane", calculated, fermat, "10.034789977942", "µs", 0,
			flight(mm(0, -10), mm(30, 25), []float64{2.73, 5.92}, enter(flat), nil)},
		{"acrylic to T in steel, plane", calculated, fermat, "14.907610470387", "µs", 1e-12,
			flight(mm(0, -10), mm(30, 25), []float64{2.73, 3.255}, enter(flat), nil)},
		{"water to L, end 0.1 mm below the surface", calculated, fermat, "33.409464754698", "µs", 1e-11,
			flight(mm(0, -50), mm(3, 0.1), []float64{1.5, 6}, enter(flat), nil)},
		{"water to L, normal incidence, 15 and 40 mm", closedForm, "algebra, sum of distance over speed", "16.914796152084", "µs", 0,
			flight(mm(0, -15), mm(0, 40), water, enter(flat), nil)},
		{"water to L, tilted plane", calculated, fermat, "18.45021752422", "µs", 1e-11,
			flight(mm(0, 0), mm(15, 45), water, enter(tilted), made)},
		{"water to L, convex cylinder", calculated, fermat, "15.77012118042", "µs", 1e-11,
			flight(mm(0, 0), mm(10, 30), water, enter(drum), made)},
		{"water to L, convex cylinder, over the top", calculated, fermat, "17.42597443131", "µs", 1e-11,
			flight(mm(10, 0), mm(-8, 35), water, enter(drum), made)},
		{"water to L, plane, out of the section", calculated, fermat, "12.899108356401", "µs", 0,
			flight(r3.Vec{X: -5e-3, Y: 3e-3, Z: -10e-3}, r3.Vec{X: 20e-3, Y: -8e-3, Z: 25e-3}, []float64{1.48, 5.92}, enter(flat), nil)},
		{"water to L, cylinder, out of the section", calculated, fermat, "10.265001046806", "µs", 0,
			flight(r3.Vec{X: -5e-3, Y: 3e-3, Z: -10e-3}, r3.Vec{X: 4e-3, Y: -8e-3, Z: 15e-3}, []float64{1.48, 5.92}, enter(bore), made)},
		{"three layers: water, acrylic, steel", calculated, fermat, "15.028425715367", "µs", 0,
			flight(mm(0, -10), mm(25, 35), []float64{1.48, 2.73, 5.92}, enter(flat, horizontal(5)), nil)},
		{"skip off the back wall, TT", closedForm, mirror, "15.128813827644", "µs", 0,
			flight(mm(0, 0), mm(20, 15), []float64{3.255, 3.255}, skip(bottom), nil)},
		{"two skips, TTT", closedForm, mirror, "23.846658519601", "µs", 0,
			flight(mm(0, 0), mm(20, 15), []float64{3.255, 3.255, 3.255}, skip(bottom, flat), nil)},
		{"skip with conversion, LT", calculated, fermat, "10.512572476889", "µs", 0,
			flight(mm(0, 0), mm(20, 15), []float64{5.92, 3.255}, skip(bottom), nil)},
		{"skip with conversion, TL", calculated, fermat, "12.759976000017", "µs", 0,
			flight(mm(0, 0), mm(20, 15), []float64{3.255, 5.92}, skip(bottom), nil)},
		{"time of flight diffraction, lateral wave, S 50 mm, c 5.95", closedForm, "ISO 10863, 2S/c, from memory", "16.80672269", "µs", 0,
			flight(mm(-50, 0), mm(50, 0), []float64{5.95}, nil, nil)},
		{"time of flight diffraction, tip 20 mm deep, one way twice", closedForm, "ISO 10863, 2√(S² + d²)/c, from memory", "18.10139431", "µs", 0, twice(
			flight(mm(-50, 0), mm(0, 20), []float64{5.95}, nil, nil))},
		{"time of flight diffraction, back wall at 40 mm", closedForm, "ISO 10863, 2√(S² + T²)/c, from memory", "21.52310668", "µs", 0,
			flight(mm(-50, 0), mm(50, 0), []float64{5.95, 5.95}, skip(horizontal(40)), nil)},
		{"views with up to one skip", published, "textbooks, multi-view imaging", "21", "", 0, exactly(func() float64 {
			n := 0.0
			for range wedge.Views(1) {
				n++
			}
			return n
		})},
		{"there less back, cylinder, out of the section", identity, "algebra, reciprocity", "0", "ps", 1e-3, reciprocal},
		{"sin θ/c before less behind, largest over 60 rays", identity, "algebra, Snell's law", "0", "ns/m", 1e-3, snellDefect},
		{"time less time with all lengths doubled, halved", identity, "algebra, scaling", "0", "ps", 1e-3, scaled},
		{"derivative over x less a central difference", identity, "algebra, dt/dx is the slowness", "0", "ns/m", 1, slownessDefect},
		{"least time less time through points beside, at least", identity, "algebra, Fermat's principle", "0", "ps", 1e-3, fermatDefect},
	}
}

// mm returns the point (x, 0, z) with both in millimetres.
func mm(x, z float64) r3.Vec { return r3.Vec{X: x * 1e-3, Z: z * 1e-3} }

// horizontal returns the plane at a depth in mm. A finite depth is no error.
func horizontal(z float64) wedge.Surface {
	s, _ := wedge.HorizontalPlane(z * 1e-3)
	return s
}

// enter returns refractions at surfaces.
func enter(surfaces ...wedge.Surface) (all []wedge.Crossing) {
	for _, s := range surfaces {
		all = append(all, wedge.Crossing{Surface: s})
	}
	return all
}

// skip returns reflections off the near side and the far side of surfaces in turn.
func skip(surfaces ...wedge.Surface) (all []wedge.Crossing) {
	for i, s := range surfaces {
		all = append(all, wedge.Crossing{Surface: s, Reflects: true, From: []wedge.Side{wedge.Near, wedge.Far}[i%2]})
	}
	return all
}

// solve returns the ray between two points for speeds in mm/µs.
func solve(from, to r3.Vec, speeds []float64, crossings []wedge.Crossing) (*wedge.Path, wedge.Ray, error) {
	var legs []wedge.Leg
	for _, c := range speeds {
		legs = append(legs, wedge.Leg{Speed: c * 1e3})
	}
	path, err := wedge.NewPath(legs, crossings)
	if err != nil {
		return nil, wedge.Ray{}, err
	}
	ray := path.Solve(from, to)
	if ray.Status != wedge.OK {
		return nil, ray, fmt.Errorf("no ray: %v", ray.Status)
	}
	return path, ray, nil
}

// flight returns a time in µs. An error of making the surfaces is passed on.
func flight(from, to r3.Vec, speeds []float64, crossings []wedge.Crossing, made error) func() (float64, error) {
	return func() (float64, error) {
		if made != nil {
			return 0, made
		}
		_, ray, err := solve(from, to, speeds, crossings)
		return ray.Time * 1e6, err
	}
}

// entryPoint returns the x in mm at which a ray crosses a surface.
func entryPoint(from, to r3.Vec, speeds []float64, s wedge.Surface) func() (float64, error) {
	return func() (float64, error) {
		_, ray, err := solve(from, to, speeds, enter(s))
		if err != nil {
			return 0, err
		}
		return ray.Points[1].X * 1e3, nil
	}
}

// twice returns the double of a result.
func twice(f func() (float64, error)) func() (float64, error) {
	return func() (float64, error) {
		v, err := f()
		return 2 * v, err
	}
}

// reciprocal returns the difference of the times of both directions through a cylinder, in ps.
func reciprocal() (float64, error) {
	drum, err := wedge.NewCylinder(mm(0, 70), r3.Vec{Y: 1}, 50e-3, wedge.Convex)
	if err != nil {
		return 0, err
	}
	from, to := r3.Vec{X: 4e-3, Y: -3e-3}, r3.Vec{X: -6e-3, Y: 9e-3, Z: 35e-3}
	_, there, err := solve(from, to, []float64{1.48, 5.9}, enter(drum))
	if err != nil {
		return 0, err
	}
	_, back, err := solve(to, from, []float64{5.9, 1.48}, []wedge.Crossing{{Surface: drum, From: wedge.Far}})
	return (there.Time - back.Time) * 1e12, err
}

// snellDefect returns the largest difference of the slownesses along a tilted surface, in ns/m.
func snellDefect() (worst float64, err error) {
	tilted, err := wedge.NewPlane(mm(0, 20), r3.Vec{X: -0.2, Z: 1})
	if err != nil {
		return 0, err
	}
	for i := range 60 {
		_, ray, err := solve(mm(float64(i%10)*3, 0), mm(float64(i)-30, 50), []float64{1.48, 3.24}, enter(tilted))
		if err != nil {
			return 0, err
		}
		in, out := ray.Angles(0)
		worst = max(worst, math.Abs(math.Sin(in)/1480-math.Sin(out)/3240)*1e9)
	}
	return worst, nil
}

// scaled returns the difference of a time and half of the time at double lengths, in ps.
func scaled() (float64, error) {
	_, one, err := solve(mm(0, -20), mm(20, 30), []float64{1.48, 5.9}, enter(horizontal(0)))
	if err != nil {
		return 0, err
	}
	_, two, err := solve(mm(0, -40), mm(40, 60), []float64{1.48, 5.9}, enter(horizontal(0)))
	return (one.Time - two.Time/2) * 1e12, err
}

// slownessDefect returns the difference of the derivative of the time over x of the end and a
// central difference over 2 µm, in ns/m.
func slownessDefect() (float64, error) {
	at := func(x float64) (*wedge.Path, wedge.Ray, error) {
		return solve(mm(0, -20), r3.Vec{X: x, Z: 30e-3}, []float64{1.48, 5.9}, enter(horizontal(0)))
	}
	path, ray, err := at(20e-3)
	if err != nil {
		return 0, err
	}
	d, err := path.Derivatives(&ray)
	if err != nil {
		return 0, err
	}
	_, left, err := at(20e-3 - 1e-6)
	if err != nil {
		return 0, err
	}
	_, right, err := at(20e-3 + 1e-6)
	return (d.End.X - (right.Time-left.Time)/2e-6) * 1e9, err
}

// fermatDefect returns by how much the time of a ray through a plane exceeds the least time
// through places beside its entry, in ps: 0 if no place is faster.
func fermatDefect() (worst float64, err error) {
	from, to := mm(0, -20), mm(20, 30)
	_, ray, err := solve(from, to, []float64{1.48, 5.9}, enter(horizontal(0)))
	if err != nil {
		return 0, err
	}
	for i := -200; i <= 200; i++ {
		p := r3.Vec{X: ray.Points[1].X + float64(i)*1e-5}
		t := r3.Norm(r3.Sub(p, from))/1480 + r3.Norm(r3.Sub(to, p))/5900
		worst = max(worst, (ray.Time-t)*1e12)
	}
	return worst, nil
}
