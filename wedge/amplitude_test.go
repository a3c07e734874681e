// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"errors"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// along returns the amplitude along the ray of p between two points.
func along(t *testing.T, p *Path, acoustics Acoustics, from, to r3.Vec) Amplitude {
	t.Helper()
	r := p.Solve(from, to)
	a, err := check.Must(NewAmplitudes(p, acoustics)).Along(&r)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func near(got, want complex128, tolerance float64) bool {
	return cmplx.Abs(got-want) <= tolerance*cmplx.Abs(want)
}

// TestAmplitudeDirect checks a single leg: the amplitude is 1/r in space and 1/√r in a section,
// times the remaining share after losses.
func TestAmplitudeDirect(t *testing.T) {
	plate := check.Must(NewPlate(nil, aluminium, 40e-3))
	p := check.Must(plate.Path([]material.Mode{material.L}))
	acoustics := plate.Acoustics(p)
	from, to := mm(-3, 0), mm(9, 16) // 20 mm apart
	if v := along(t, p, acoustics, from, to).Value(); !near(v, 50, 1e-14) {
		t.Errorf("amplitude in space %v: want 1/(20 mm)", v)
	}
	acoustics.Dimension = Section
	a := along(t, p, acoustics, from, to)
	if v := a.Value(); !near(v, complex(math.Sqrt(50), 0), 1e-14) {
		t.Errorf("amplitude in a section %v: want 1/√(20 mm)", v)
	}
	want := r3.Vec{X: 0.6, Z: 0.8}
	if !(r3.Norm(r3.Sub(a.Arrival, want)) <= 1e-14) || a.Arrival != a.Departure {
		t.Errorf("L leaves along %v and arrives along %v: want %v", a.Departure, a.Arrival, want)
	}
	// 10 Np/m at 5 MHz, in proportion to the frequency, over 20 mm at 4 MHz.
	acoustics.Attenuation = []material.Attenuation{{{Alpha: 10, Frequency: 5e6, Exponent: 1}}}
	acoustics.Frequency = 4e6
	a = along(t, p, acoustics, from, to)
	if want := math.Exp(-8 * 20e-3); !(math.Abs(a.Attenuation-want) <= 1e-14) {
		t.Errorf("losses leave %v: want %v", a.Attenuation, want)
	}
	if want := 20e-3 / 6320; !(math.Abs(a.Time-want) <= 1e-15) {
		t.Errorf("time of travel %v s: want %v s", a.Time, want)
	}
}

// TestAmplitudeThrough checks a ray at normal incidence through water into steel: the coefficient
// of displacement (independent calculation of the plane-wave formulas, mpmath 1.2.1) and the
// virtual source.
func TestAmplitudeThrough(t *testing.T) {
	water := material.Isotropic{Density: 1000, Longitudinal: 1480}
	steel := material.Isotropic{Density: 7700, Longitudinal: 5900, Transverse: 3230}
	plate := check.Must(NewPlate(&water, steel, 40e-3))
	p := check.Must(plate.Path([]material.Mode{material.L}))
	a := along(t, p, plate.Acoustics(p), mm(0, -20), mm(0, 30))
	want := 0.063099552 / (20e-3 + 30e-3*5900/1480)
	if v := a.Value(); !near(v, complex(want, 0), 1e-7) {
		t.Errorf("amplitude %v: want %v", v, want)
	}
}

// TestAmplitudeEnergy checks the contact wedge of acrylic on steel. Density times speed times the
// square of coefficient and tube is the transmitted share of the energy. Its values with a liquid
// film come from an independent calculation (mpmath 1.2.1). The round trip gives the same number.
func TestAmplitudeEnergy(t *testing.T) {
	acrylic := material.Isotropic{Density: 1180, Longitudinal: 2730, Transverse: 1430}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plate := check.Must(NewPlate(&acrylic, steel, 40e-3))
	for _, test := range []struct {
		degrees float64 // in the wedge
		mode    material.Mode
		energy  float64
	}{
		{10, material.L, .2171165}, {10, material.T, .0221940}, {20, material.L, .1506680}, {20, material.T, .0757674},
		{30, material.T, .2847431}, {35, material.T, .2538100}, {40, material.T, .2217375}, {45, material.T, .2034958}, {55, material.T, .1476950},
	} {
		p := check.Must(plate.Path([]material.Mode{test.mode}))
		in := test.degrees * degree
		out := math.Asin(math.Sin(in) * steel.Speed(test.mode) / acrylic.Longitudinal)
		from := r3.Vec{X: -20e-3 * math.Sin(in), Z: -20e-3 * math.Cos(in)}
		to := r3.Vec{X: 30e-3 * math.Sin(out), Z: 30e-3 * math.Cos(out)}
		there := along(t, p, plate.Acoustics(p), from, to)
		through := math.Pow(cmplx.Abs(there.Coefficients[0])*there.Tubes[0], 2) * steel.Density * steel.Speed(test.mode) / (acrylic.Density * acrylic.Longitudinal)
		if !(math.Abs(through-test.energy) <= 1e-7) {
			t.Errorf("%v° into %v: energy %.7f goes through, want %.7f",
				test.degrees, test.mode, through, test.energy)
		}
		back := reversed(p)
		acoustics := Acoustics{Media: []material.Isotropic{steel, acrylic}, Interfaces: []Interface{{Contact: material.LiquidFilm}}}
		here := along(t, back, acoustics, to, from)
		if round := cmplx.Abs(there.Coefficients[0] * here.Coefficients[0]); !(math.Abs(round-test.energy) <= 1e-7) {
			t.Errorf("%v° into %v: %.7f is left there and back, want %.7f",
				test.degrees, test.mode, round, test.energy)
		}
	}
}

// randomMedium returns a solid between plastic and steel, or a liquid.
func randomMedium(rng *rand.Rand, liquid bool) material.Isotropic {
	m := material.Isotropic{Density: 1000 + 7000*rng.Float64(), Longitudinal: 2000 + 4000*rng.Float64()}
	if !liquid {
		m.Transverse = m.Longitudinal * (0.4 + 0.2*rng.Float64())
	}
	return m
}

// randomSkip returns a random set-up with a path of one to three legs of random modes in the part,
// and the acoustics of the reversed path.
func randomSkip(rng *rand.Rand) (p *Path, there, back Acoustics, from, to r3.Vec) {
	var coupling *material.Isotropic
	if rng.IntN(3) > 0 {
		m := randomMedium(rng, rng.IntN(2) == 0)
		coupling = &m
	}
	part := randomMedium(rng, false)
	var setup *Setup
	if rng.IntN(2) == 0 {
		setup = check.Must(NewPlate(coupling, part, 15e-3))
	} else {
		setup = check.Must(NewPipe(coupling, part, 20e-3+40e-3*rng.Float64(), 15e-3))
	}
	var modes []material.Mode
	for range 1 + rng.IntN(3) {
		modes = append(modes, material.Mode(rng.IntN(2)))
	}
	p = check.Must(setup.Path(modes))
	from = mm(-4-4*rng.Float64(), -12)
	if coupling == nil {
		from = r3.Vec{X: from.X, Z: 0}
		if pipe, ok := setup.Entry.(*cylinder); ok {
			from.Z = pipe.radius - math.Sqrt(pipe.radius*pipe.radius-from.X*from.X) + 1e-6
		}
	}
	to = mm(4+6*rng.Float64(), 6+4*rng.Float64())
	there = setup.Acoustics(p)
	for i := range there.Interfaces {
		there.Interfaces[i].Contact = material.Contact(rng.IntN(2))
	}
	back = there
	back.Media, back.Interfaces = nil, nil
	for i := range there.Media {
		back.Media = append(back.Media, there.Media[len(there.Media)-1-i])
	}
	for i := range there.Interfaces {
		back.Interfaces = append(back.Interfaces, there.Interfaces[len(there.Interfaces)-1-i])
	}
	return p, there, back, from, to
}

// TestAmplitudeReciprocity checks Betti's theorem for waves of two forces: the displacement by the
// first force at the place and in the direction of the second force equals the displacement by the
// second force at the first. The wave of a force is proportional to 1/(ρc²) in space and to
// 1/(ρ·c^1.5) in a section.
func TestAmplitudeReciprocity(t *testing.T) {
	rng := rand.New(rand.NewPCG(15, 16))
	counted, complexes, askew := 0, 0, 0
	for range 2000 {
		p, there, back, from, to := randomSkip(rng)
		power := 2.0
		if rng.IntN(2) == 0 {
			there.Dimension, back.Dimension, power = Section, Section, 1.5
		} else {
			from.Y = 5e-3 * rng.NormFloat64() // a skew ray
		}
		r := p.Solve(from, to)
		if r.Status != OK {
			continue
		}
		out := check.Must(check.Must(NewAmplitudes(p, there)).Along(&r))
		q := reversed(p)
		reverse := q.Solve(to, from)
		if reverse.Status != OK || !(math.Abs(reverse.Time-r.Time) <= 1e-13*r.Time) {
			continue // another of several rays
		}
		in := check.Must(check.Must(NewAmplitudes(q, back)).Along(&reverse))
		force := func(m material.Isotropic, leg Leg) complex128 {
			return complex(1/(m.Density*math.Pow(leg.Speed, power)), 0)
		}
		last := len(p.legs) - 1
		forth := out.Value() * force(there.Media[0], p.legs[0]) * complex(r3.Dot(out.Arrival, in.Departure), 0)
		home := in.Value() * force(there.Media[last], p.legs[last]) * complex(r3.Dot(in.Arrival, out.Departure), 0)
		if !near(forth, home, 1e-8) {
			t.Fatalf("%v to %v along %v: %v one way, %v back\n%+v\n%+v",
				from, to, p.legs, forth, home, out, in)
		}
		counted++
		if math.Abs(imag(out.Value())) > 1e-3*cmplx.Abs(out.Value()) {
			complexes++
		}
		if math.Abs(out.Alignment) < 0.99 {
			askew++
		}
	}
	if counted < 1000 || complexes < 50 || askew < 50 {
		t.Errorf("%d rays compared, %d of complex amplitude, %d of turned polarisation: want more",
			counted, complexes, askew)
	}
}

// TestAmplitudeMirrored checks that rays towards -x have the mirrored displacement at their end,
// although the signs of coefficients may differ.
func TestAmplitudeMirrored(t *testing.T) {
	rng := rand.New(rand.NewPCG(17, 18))
	mirror := func(v r3.Vec) r3.Vec { return r3.Vec{X: -v.X, Y: v.Y, Z: v.Z} }
	for range 300 {
		p, acoustics, _, from, to := randomSkip(rng)
		acoustics.Frequency = 4e6
		acoustics.Source = &Source{Width: 0.5e-3, Normal: r3.Vec{X: 0.5, Z: 1}, Axis: r3.Vec{X: 1, Z: -0.5}}
		r := p.Solve(from, to)
		s := p.Solve(mirror(from), mirror(to))
		if r.Status != OK || s.Status != OK {
			continue
		}
		a := check.Must(check.Must(NewAmplitudes(p, acoustics)).Along(&r))
		// The axis points the same way along the array, the normal is mirrored.
		acoustics.Source = &Source{Width: 0.5e-3, Normal: r3.Vec{X: -0.5, Z: 1}, Axis: r3.Vec{X: 1, Z: 0.5}}
		b := check.Must(check.Must(NewAmplitudes(p, acoustics)).Along(&s))
		same := r3.Dot(a.Arrival, mirror(b.Arrival))
		if !(math.Abs(math.Abs(same)-1) <= 1e-9) || !(cmplx.Abs(a.Value()-b.Value()*complex(same, 0)) <= 1e-9*cmplx.Abs(a.Value())) {
			t.Fatalf("%v along %v, mirrored %v along %v",
				a.Value(), a.Arrival, b.Value(), b.Arrival)
		}
	}
}

// TestAmplitudeSource checks the directivity of an element by reciprocity. A force normal to a free
// surface sends a wave into a direction. A wave from this direction moves the surface along the
// normal. Both amplitudes have the same directivity, up to the factor 1/c² in space and 1/c^1.5 in
// a section. The motion of the surface comes from its reflection coefficients.
func TestAmplitudeSource(t *testing.T) {
	plate := check.Must(NewPlate(nil, steel, 40e-3))
	free := check.Must(material.NewFreeSurface(steel))
	for _, mode := range []material.Mode{material.L, material.T} {
		p := check.Must(plate.Path([]material.Mode{mode}))
		for _, degrees := range []float64{10, 20, 30, 33, 35, 45, 60, 80} {
			sin, cos := math.Sincos(degrees * degree)
			s := check.Must(free.Scatter(mode, degrees*degree)).Displacement.Reflected
			sinL := sin * steel.Longitudinal / steel.Speed(mode)
			sinT := sin * steel.Transverse / steel.Speed(mode)
			cosL := cmplx.Sqrt(complex(1-sinL*sinL, 0))
			arriving := complex(cos, 0) // part of the incident wave along the normal
			if mode == material.T {
				arriving = complex(-sin, 0)
			}
			motion := arriving - s[material.L]*cosL + s[material.T]*complex(sinT, 0)
			for _, dimension := range []Dimension{Space, Section} {
				power := 2.0
				if dimension == Section {
					power = 1.5
				}
				acoustics := plate.Acoustics(p)
				acoustics.Dimension, acoustics.Frequency = dimension, 4e6
				acoustics.Source = &Source{Normal: r3.Vec{Z: 1}, Axis: r3.Vec{X: 1}}
				a := along(t, p, acoustics, r3.Vec{}, r3.Vec{X: 30e-3 * sin, Z: 30e-3 * cos})
				// Straight ahead an L wave moves the surface by twice its own displacement.
				want := cmplx.Abs(motion) / 2 * math.Pow(steel.Longitudinal/steel.Speed(mode), power)
				if got := cmplx.Abs(a.Directivity); !(math.Abs(got-want) <= 1e-9*(want+1e-3)) {
					t.Errorf("%v at %v°, dimension %d: directivity %v, by reciprocity %v",
						mode, degrees, dimension, got, want)
				}
			}
		}
	}
}

// TestAmplitudeSides checks the sides of an element. A strip one wavelength wide sends nothing
// along its surface. A strip half a wavelength wide sends 2/π of the largest amplitude.
func TestAmplitudeSides(t *testing.T) {
	coupling := water
	plate := check.Must(NewPlate(&coupling, steel, 40e-3))
	p := check.Must(NewPath([]Leg{{water.Longitudinal, material.L}}, nil))
	acoustics := Acoustics{Media: plate.Acoustics(check.Must(plate.Path([]material.Mode{material.L}))).Media[:1], Frequency: 1482e3} // 1 mm long waves
	for _, test := range []struct {
		name          string
		width, length float64
		to            r3.Vec
		want          float64
	}{
		{"point", 0, 0, r3.Vec{X: 3e-3, Z: 4e-3}, 0.8},
		{"wide, along it", 1e-3 / 0.6, 0, r3.Vec{X: 3e-3, Z: 4e-3}, 0},
		{"wide, across it", 1e-3 / 0.6, 0, r3.Vec{Y: 3e-3, Z: 4e-3}, 0.8},
		{"long, across it", 1e-3, 0.5e-3 / 0.6, r3.Vec{Y: 3e-3, Z: 4e-3}, 0.8 * 2 / math.Pi},
		{"behind", 0, 0, r3.Vec{X: 3e-3, Z: -4e-3}, 0},
	} {
		acoustics.Source = &Source{Width: test.width, Length: test.length, Normal: r3.Vec{Z: 2}, Axis: r3.Vec{X: 3}}
		if d := along(t, p, acoustics, r3.Vec{}, test.to).Directivity; !(cmplx.Abs(d-complex(test.want, 0)) <= 1e-14) {
			t.Errorf("%s: directivity %v, want %v", test.name, d, test.want)
		}
	}
}

// TestAmplitudeCaustic checks the phase beyond the focus of a concave mirror, and the amplitude in
// the focus.
func TestAmplitudeCaustic(t *testing.T) {
	mirror := check.Must(NewCylinder(r3.Vec{Z: -50e-3}, r3.Vec{Y: 1}, 50e-3, Concave))
	p := check.Must(NewPath([]Leg{{1482, material.L}, {1482, material.L}}, []Crossing{{Surface: mirror, Reflects: true}}))
	acoustics := Acoustics{Media: []material.Isotropic{water, water}, Interfaces: []Interface{{}}, Dimension: Section}
	amplitudes := check.Must(NewAmplitudes(p, acoustics))
	for _, test := range []struct {
		after float64
		want  complex128 // the free surface of a liquid turns the sign
	}{
		{25e-3, complex(-1/math.Sqrt(25e-3), 0)},
		{75e-3, complex(0, 1/math.Sqrt(25e-3))},
	} {
		r := bentRay(0, 50e-3, test.after, r3.Vec{Z: -1})
		if v := check.Must(amplitudes.Along(&r)).Value(); !near(v, test.want, 1e-9) {
			t.Errorf("%v m after the mirror: amplitude %v, want %v", test.after, v, test.want)
		}
		slices.Reverse(r.Points)
		if v := check.Must(amplitudes.Along(&r)).Value(); !near(v, test.want, 1e-9) {
			t.Errorf("%v m after the mirror, back: amplitude %v, want %v", test.after, v, test.want)
		}
	}
}

// TestAmplitudeErrors checks that errors name the field at fault.
func TestAmplitudeErrors(t *testing.T) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	p := check.Must(plate.Path([]material.Mode{material.T, material.T}))
	nan := math.NaN()
	source := func(change func(*Source)) func(*Acoustics) {
		return func(a *Acoustics) {
			a.Frequency = 4e6
			a.Source = &Source{Normal: r3.Vec{Z: 1}, Axis: r3.Vec{X: 1}}
			change(a.Source)
		}
	}
	for _, test := range []struct {
		name   string
		change func(*Acoustics)
		want   string
	}{
		{"a medium too few", func(a *Acoustics) { a.Media = a.Media[1:] }, "2 media and 2 interfaces: want 3 and 2"},
		{"an interface too few", func(a *Acoustics) { a.Interfaces = nil }, "3 media and 0 interfaces"},
		{"a medium that is none", func(a *Acoustics) { a.Media[1].Density = 0 }, "medium of leg 1: material: density"},
		{"another medium", func(a *Acoustics) { a.Media[1] = aluminium }, "medium of leg 1 carries T at 3130 m/s: want the 3240 m/s"},
		{"a law too few", func(a *Acoustics) { a.Attenuation = make([]material.Attenuation, 1) }, "1 laws of attenuation: want none or 3"},
		{"a law that is none", func(a *Acoustics) {
			a.Attenuation = []material.Attenuation{nil, {{Alpha: -1}}, nil}
		}, "attenuation of leg 1"},
		{"losses at no frequency", func(a *Acoustics) { a.Attenuation = make([]material.Attenuation, 3) }, "frequency of the acoustics 0 Hz"},
		{"a source at no frequency", func(a *Acoustics) { a.Source = &Source{} }, "frequency of the acoustics 0 Hz"},
		{"dimension unknown", func(a *Acoustics) { a.Dimension = 2 }, "dimension 2"},
		{"contact unknown", func(a *Acoustics) { a.Interfaces[0].Contact = 7 }, "crossing 0: material: contact 7"},
		{"a medium behind a refraction", func(a *Acoustics) { a.Interfaces[0].Beyond = &steel }, "crossing 0: a medium beyond a refracting surface"},
		{"a medium behind the wall that is none", func(a *Acoustics) { a.Interfaces[1].Beyond = &material.Isotropic{} }, "crossing 1: material: density"},
		{"width below 0", source(func(s *Source) { s.Width = -1 }), "width of the source -1 m"},
		{"length not a number", source(func(s *Source) { s.Length = nan }), "length of the source NaN m"},
		{"no normal", source(func(s *Source) { s.Normal = r3.Vec{} }), "normal of the source"},
		{"axis not finite", source(func(s *Source) { s.Axis.Y = nan }), "axis of the source"},
		{"axis along the normal", source(func(s *Source) { s.Axis = s.Normal }), "want them at right angles"},
	} {
		acoustics := plate.Acoustics(p)
		test.change(&acoustics)
		if _, err := NewAmplitudes(p, acoustics); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: error %v, want one with %q", test.name, err, test.want)
		}
	}
	acoustics := plate.Acoustics(p)
	acoustics.Dimension = Section
	a := check.Must(NewAmplitudes(p, acoustics))
	skew := p.Solve(r3.Vec{X: -9e-3, Y: 1e-3, Z: -11e-3}, mm(14, 12))
	if _, err := a.Along(&skew); err == nil || !strings.Contains(err.Error(), "skew") {
		t.Errorf("error %v of a skew ray in a section", err)
	}
	none := p.Solve(mm(0, 1), mm(0, 2))
	if _, err := a.Along(&none); !errors.Is(err, ErrNoRay) {
		t.Errorf("error %v of no ray: want ErrNoRay", err)
	}
	touching := p.Solve(mm(-9, -11), mm(14, 12))
	touching.Points[3] = touching.Points[2]
	if _, err := a.Along(&touching); !errors.Is(err, ErrNoRay) || !strings.Contains(err.Error(), "no length") {
		t.Errorf("error %v of a ray that ends on the wall: want one about a leg of no length", err)
	}
}

// TestSetupAcoustics checks the media of the legs and the media behind each surface.
func TestSetupAcoustics(t *testing.T) {
	modes := []material.Mode{material.T, material.L, material.T}
	film := material.LiquidFilm
	for _, test := range []struct {
		name     string
		coupling *material.Isotropic
		want     Acoustics
	}{
		{"wedge", &polystyrene, Acoustics{
			Media:      []material.Isotropic{polystyrene, steel, steel, steel},
			Interfaces: []Interface{{film, nil}, {film, nil}, {film, &polystyrene}},
		}},
		{"contact", nil, Acoustics{
			Media:      []material.Isotropic{steel, steel, steel},
			Interfaces: []Interface{{film, nil}, {film, nil}},
		}},
	} {
		plate := check.Must(NewPlate(test.coupling, steel, 16e-3))
		if diff := cmp.Diff(test.want, plate.Acoustics(check.Must(plate.Path(modes)))); diff != "" {
			t.Errorf("%s (-want +got):\n%s", test.name, diff)
		}
	}
}

// TestAmplitudesKeepNothing checks that changes of the arguments of NewAmplitudes after the call
// have no effect.
func TestAmplitudesKeepNothing(t *testing.T) {
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	p := check.Must(plate.Path([]material.Mode{material.T, material.T}))
	acoustics := plate.Acoustics(p)
	acoustics.Frequency = 4e6
	acoustics.Source = &Source{Width: 0.5e-3, Normal: r3.Vec{Z: 1}, Axis: r3.Vec{X: 1}}
	a := check.Must(NewAmplitudes(p, acoustics))
	r := p.Solve(mm(-9, -11), mm(14, 12))
	before := check.Must(a.Along(&r)).Value()
	acoustics.Media[0] = water
	acoustics.Source.Width = 5e-3
	if after := check.Must(a.Along(&r)).Value(); after != before {
		t.Errorf("amplitude %v, then %v", before, after)
	}
}
