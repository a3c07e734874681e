// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// moved is a surface after a turn about a pivot and a shift.
type moved struct {
	Surface
	turn         r3.Rotation
	pivot, shift r3.Vec
}

func (m moved) forth(p r3.Vec) r3.Vec {
	return r3.Add(m.shift, r3.Add(m.pivot, m.turn.Rotate(r3.Sub(p, m.pivot))))
}

func (m moved) back(p r3.Vec) r3.Vec {
	inverse := r3.Rotation{Real: m.turn.Real, Imag: -m.turn.Imag, Jmag: -m.turn.Jmag, Kmag: -m.turn.Kmag}
	return r3.Add(m.pivot, inverse.Rotate(r3.Sub(r3.Sub(p, m.shift), m.pivot)))
}

func (m moved) At(u, v float64) Patch {
	p := m.Surface.At(u, v)
	return Patch{m.forth(p.P), m.turn.Rotate(p.U), m.turn.Rotate(p.V), m.turn.Rotate(p.UU), m.turn.Rotate(p.UV), m.turn.Rotate(p.VV)}
}

func (m moved) Locate(p r3.Vec) (u, v float64) { return m.Surface.Locate(m.back(p)) }
func (m moved) Depth(p r3.Vec) float64         { return m.Surface.Depth(m.back(p)) }
func (m moved) Extruded() bool                 { return false }

// slope returns the derivative of a function at 0 by central differences, with an error of the
// fourth order in h.
func slope(h float64, f func(float64) float64) float64 {
	return (8*(f(h)-f(-h)) - (f(2*h) - f(-2*h))) / (12 * h)
}

// TestDerivatives compares the derivatives of the times of skew rays through random surfaces with
// finite differences of new rays.
func TestDerivatives(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 12))
	for i := range 60 {
		p, from, to := randomCase(rng)
		r := p.Solve(from, to)
		d, err := p.Derivatives(&r)
		if err != nil {
			t.Fatal(err)
		}
		solve := func(p *Path, from, to r3.Vec) float64 { return p.Solve(from, to).Time }
		compare := func(name string, got, want, size float64) {
			t.Helper()
			if !(math.Abs(got-want) <= 1e-8*size) {
				t.Errorf("case %d: derivative over %s %v, by differences %v", i, name, got, want)
			}
		}
		slow := 0.0
		for _, leg := range p.legs {
			slow = max(slow, 1/leg.Speed)
		}
		for _, axis := range []r3.Vec{{X: 1}, {Y: 1}, {Z: 1}} {
			const h = 3e-5
			compare("the start", r3.Dot(d.Start, axis), slope(h, func(x float64) float64 { return solve(p, r3.Add(from, r3.Scale(x, axis)), to) }), slow)
			compare("the end", r3.Dot(d.End, axis), slope(h, func(x float64) float64 { return solve(p, from, r3.Add(to, r3.Scale(x, axis))) }), slow)
		}
		for k := range p.legs {
			c := p.legs[k].Speed
			got := slope(1e-3*c, func(x float64) float64 {
				legs := p.Legs()
				legs[k].Speed += x
				return solve(check.Must(NewPath(legs, p.crossings)), from, to)
			})
			compare("a speed", d.Speeds[k], got, r.Time/c)
		}
		for k := range p.crossings {
			with := func(m moved) float64 {
				crossings := slices.Clone(p.crossings)
				m.Surface = crossings[k].Surface
				crossings[k].Surface = m
				return solve(check.Must(NewPath(p.legs, crossings)), from, to)
			}
			axis := r3.Unit(r3.Vec{X: rng.NormFloat64(), Y: rng.NormFloat64(), Z: rng.NormFloat64()})
			pivot := r3.Vec{X: 0.01 * rng.NormFloat64(), Y: 0.01 * rng.NormFloat64(), Z: 0.01 * rng.NormFloat64()}
			compare("a shift of a surface", r3.Dot(d.Surfaces[k], axis), slope(3e-5, func(x float64) float64 {
				return with(moved{turn: r3.NewRotation(0, axis), shift: r3.Scale(x, axis)})
			}), slow)
			compare("a turn of a surface", turn(d.Surfaces[k], r.Points[k+1], pivot, axis), slope(1e-3, func(x float64) float64 {
				return with(moved{turn: r3.NewRotation(x, axis), pivot: pivot})
			}), slow)
			if sideways := r3.Norm(r3.Cross(d.Surfaces[k], r.Normals[k])); !(sideways <= 1e-11*slow) {
				t.Errorf("case %d: a shift of surface %d within itself changes the time by %v s/m",
					i, k, sideways)
			}
		}
	}
}

// TestSetupDerivatives compares with finite differences of new set-ups.
func TestSetupDerivatives(t *testing.T) {
	type parameters struct{ coupling, longitudinal, transverse, thickness, height, angle float64 }
	const L, T = material.L, material.T
	for _, test := range []struct {
		name     string
		pipe     bool
		coupling *material.Isotropic
		modes    []material.Mode
		from, to r3.Vec
	}{
		{"weld32 TT", false, &polystyrene, []material.Mode{T, T}, mm(-9, -11), mm(14, 12)},
		{"weld32 LT", false, &polystyrene, []material.Mode{L, T}, mm(-9, -11), mm(14, 12)},
		{"weld32 TTT", false, &polystyrene, []material.Mode{T, T, T}, mm(-9, -11), mm(30, 8)},
		{"weld32 TTTT, twice off the back wall", false, &polystyrene, []material.Mode{T, T, T, T}, mm(-9, -11), mm(44, 12)},
		{"contact LL", false, nil, []material.Mode{L, L}, mm(-9, 0), mm(14, 12)},
		{"pipe32 T", true, &water, []material.Mode{T}, mm(-4, -10), mm(3, 9)},
		{"pipe32 TT", true, &water, []material.Mode{T, T}, mm(-4, -10), mm(3, 9)},
	} {
		t.Run(test.name, func(t *testing.T) {
			pivot := mm(-15, -6)
			build := func(p parameters) *Setup {
				part := steel
				part.Longitudinal += p.longitudinal
				part.Transverse += p.transverse
				coupling := test.coupling
				if coupling != nil {
					c := *coupling
					c.Longitudinal += p.coupling
					coupling = &c
				}
				if test.pipe {
					return check.Must(NewPipe(coupling, part, 57.15e-3, 14e-3+p.thickness))
				}
				return check.Must(NewPlate(coupling, part, 16e-3+p.thickness))
			}
			at := func(p parameters) float64 {
				from := r3.Add(pivot, r3.Rotate(r3.Sub(test.from, pivot), p.angle, r3.Vec{Y: 1}))
				from.Z -= p.height
				return check.Must(build(p).Path(test.modes)).Solve(from, test.to).Time
			}
			setup := build(parameters{})
			path := check.Must(setup.Path(test.modes))
			r := path.Solve(test.from, test.to)
			d, err := setup.Derivatives(path, &r, pivot)
			if err != nil {
				t.Fatal(err)
			}
			for _, c := range []struct {
				name      string
				got, h    float64
				parameter func(x float64) parameters
			}{
				{"coupling", d.Coupling, 1, func(x float64) parameters { return parameters{coupling: x} }},
				{"longitudinal", d.Longitudinal, 1, func(x float64) parameters { return parameters{longitudinal: x} }},
				{"transverse", d.Transverse, 1, func(x float64) parameters { return parameters{transverse: x} }},
				{"thickness", d.Thickness, 1e-5, func(x float64) parameters { return parameters{thickness: x} }},
				{"height", d.Height, 1e-5, func(x float64) parameters { return parameters{height: x} }},
				{"angle", d.Angle, 1e-4, func(x float64) parameters { return parameters{angle: x} }},
			} {
				if test.coupling == nil && (c.name == "height" || c.name == "angle") {
					continue // an element in contact stays on the surface
				}
				want := slope(c.h, func(x float64) float64 { return at(c.parameter(x)) })
				// Times are rounded to about 1e-21 s.
				if !(math.Abs(c.got-want) <= 1e-7*math.Abs(want)+3e-20/c.h) {
					t.Errorf("%s: derivative %v, by differences %v", c.name, c.got, want)
				}
			}
		})
	}
}

// TestDerivativesOfProfile changes the depth of each point of a profile. It compares the change of
// the curve, inside and beyond the points, and the change of the time of a ray, with the
// derivatives.
func TestDerivativesOfProfile(t *testing.T) {
	rng := rand.New(rand.NewPCG(35, 36))
	for _, n := range []int{2, 3, 4, 21} {
		points := make([]r3.Vec, n)
		for i := range points {
			points[i] = mm(40*(float64(i)+0.3*rng.Float64())/float64(n)-20, 0.5*math.Sin(float64(i)))
		}
		// with returns the profile with a point moved by dz.
		with := func(k int, dz float64) *profile {
			moved := slices.Clone(points)
			moved[k].Z += dz
			return check.Must(newProfile(moved))
		}
		profile := with(0, 0)
		for _, x := range []float64{-25e-3, points[0].X, -3.3e-3, points[n/2].X, 7e-3, 40e-3} {
			weights := profile.weights(x)
			z, along, sum := 0.0, 0.0, 0.0
			for k, w := range weights {
				z, along, sum = z+w*points[k].Z, along+w*points[k].X, sum+w
				const h = 1e-4 // the curve is linear in the depths
				want := (with(k, h).At(x, 0).P.Z - with(k, -h).At(x, 0).P.Z) / (2 * h)
				if !(math.Abs(w-want) <= 1e-10) {
					t.Errorf("%d points, x = %v m: weight %d is %v, by differences %v",
						n, x, k, w, want)
				}
			}
			if !(math.Abs(sum-1) <= 1e-12 && math.Abs(along-x) <= 1e-14 && math.Abs(z-profile.At(x, 0).P.Z) <= 1e-14) {
				t.Errorf("%d points, x = %v m: weights of a constant %v, of x %v m, of z %v m",
					n, x, sum, along, z)
			}
		}
		from, to := mm(1, -11), mm(3, 12)
		path := func(k int, dz float64) *Path { return refracting([]float64{1.48, 5.9}, with(k, dz)) }
		p := path(0, 0)
		r := p.Solve(from, to)
		d := check.Must(p.Derivatives(&r))
		if len(d.Depths) != 1 || len(d.Depths[0]) != n {
			t.Fatalf("derivatives %v over the depths of %d points of one crossing", d.Depths, n)
		}
		for k, got := range d.Depths[0] {
			want := slope(2e-6, func(dz float64) float64 { return path(k, dz).Solve(from, to).Time })
			if !(math.Abs(got-want) <= 1e-7*math.Abs(d.Surfaces[0].Z)) {
				t.Errorf("%d points: derivative over the depth of point %d %v s/m, by differences %v",
					n, k, got, want)
			}
		}
	}
	for _, x := range []float64{math.NaN(), math.Inf(1), math.Inf(-1)} {
		if w := check.Must(newProfile(wavy())).weights(x); len(w) != len(wavy()) {
			t.Errorf("%d weights at %v m", len(w), x)
		}
	}
}

// TestDerivativesErrors checks rays that do not exist, and rays of other paths.
func TestDerivativesErrors(t *testing.T) {
	flat := check.Must(HorizontalPlane(0))
	p := refracting([]float64{1.48, 5.9}, flat)
	none := p.Solve(mm(0, 1), mm(0, 2))
	if _, err := p.Derivatives(&none); !errors.Is(err, ErrNoRay) {
		t.Errorf("error %v for no ray: want ErrNoRay", err)
	}
	other := refracting([]float64{1.48}).Solve(mm(0, 1), mm(0, 2))
	if _, err := p.Derivatives(&other); err == nil || errors.Is(err, ErrNoRay) {
		t.Errorf("error %v for the ray of another path: want another error", err)
	}
	if _, err := p.spreading(&none); !errors.Is(err, ErrNoRay) {
		t.Errorf("error %v of the spreading of no ray: want ErrNoRay", err)
	}
	plate := check.Must(NewPlate(nil, steel, 16e-3))
	if _, err := plate.Derivatives(p, &none, r3.Vec{}); !errors.Is(err, ErrNoRay) {
		t.Errorf("error %v of a set-up's derivatives of no ray: want ErrNoRay", err)
	}
}
