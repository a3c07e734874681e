// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// amplitudes returns the amplitudes of all rays, and fails the test if there is none.
func amplitudes(t *testing.T, p *Part, pol Polarisation, from, to r3.Vec, acoustics *Acoustics, o *Options) []Amplitude {
	t.Helper()
	out := check.Must(p.Amplitudes(pol, from, to, acoustics, o))
	if len(out) == 0 {
		t.Fatalf("no %v ray from %v to %v m", pol, from, to)
	}
	return out
}

// displaced returns the amplitude as a vector along which the point moves, for a wave that the
// element sends with a displacement along departure.
func displaced(value complex128, departure, arrival, along r3.Vec) (x, z complex128) {
	value *= complex(r3.Dot(departure, along), 0)
	return value * complex(arrival.X, 0), value * complex(arrival.Z, 0)
}

// TestAmplitudeIsotropic compares with package wedge, in isotropic media behind a wedge with
// couplant, a bonded wedge and water, with a tilted face in the part. With a round entry surface,
// rays pass a caustic.
func TestAmplitudeIsotropic(t *testing.T) {
	steel := material.Isotropic{Density: 7900, Longitudinal: 5790, Transverse: 3100}
	other := material.Isotropic{Density: 4500, Longitudinal: 6100, Transverse: 3200}
	water := material.Isotropic{Density: 1000, Longitudinal: 1480}
	plastic := material.Isotropic{Density: 1055, Longitudinal: 2340, Transverse: 1150}
	flat := plane(0)
	tilted := check.Must(wedge.NewPlane(r3.Vec{X: 4e-3}, r3.Vec{X: 0.9, Z: -0.3}))
	for _, tc := range []struct {
		name     string
		coupling material.Isotropic
		contact  material.Contact
		pol      Polarisation
		from, to r3.Vec
		zones    []int // that the ray crosses
	}{
		{"wedge with couplant, qSV", plastic, material.LiquidFilm, qSV, mm(-15, -10), mm(14, 15), []int{0, 1}},
		{"bonded wedge, qSV", plastic, material.Welded, qSV, mm(-15, -10), mm(14, 15), []int{0, 1}},
		{"bonded wedge, qL", plastic, material.Welded, qL, mm(-4, -10), mm(14, 12), []int{0, 1}},
		{"water, qL", water, material.LiquidFilm, qL, mm(0, -20), mm(16, 20), []int{0, 1}},
		{"water, qSV, to the other side", water, material.LiquidFilm, qSV, mm(20, -20), mm(8, 25), []int{1, 0}},
		{"before the face", plastic, material.LiquidFilm, qSV, mm(-15, -10), mm(-2, 9), []int{0}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			p := &Part{Coupling: &tc.coupling, Entry: flat, Faces: []wedge.Surface{tilted},
				Media: []Medium{check.Must(NewIsotropic(steel)), check.Must(NewIsotropic(other))}}
			mode := material.L
			if tc.pol == qSV {
				mode = material.T
			}
			legs := []wedge.Leg{{Speed: tc.coupling.Longitudinal, Mode: material.L}}
			source := &wedge.Source{Width: 0.7e-3, Normal: r3.Vec{X: 0.4, Z: 0.9}, Axis: r3.Vec{X: 0.9, Z: -0.4}}
			acoustics := wedge.Acoustics{
				Dimension: wedge.Section, Media: []material.Isotropic{tc.coupling}, Source: source, Frequency: 2e6}
			crossing, contact := wedge.Crossing{Surface: flat}, tc.contact
			var crossings []wedge.Crossing
			for _, zone := range tc.zones {
				m := [...]material.Isotropic{steel, other}[zone]
				legs = append(legs, wedge.Leg{Speed: m.Speed(mode), Mode: mode})
				crossings = append(crossings, crossing)
				acoustics.Media = append(acoustics.Media, m)
				acoustics.Interfaces = append(acoustics.Interfaces, wedge.Interface{Contact: contact})
				crossing, contact = wedge.Crossing{Surface: tilted, From: wedge.Side(zone)}, material.Welded
			}
			path := check.Must(wedge.NewPath(legs, crossings))
			ray := path.Solve(tc.from, tc.to)
			want := check.Must(check.Must(wedge.NewAmplitudes(path, acoustics)).Along(&ray))
			got := amplitudes(t, p, tc.pol, tc.from, tc.to, &Acoustics{Contact: tc.contact, Source: source, Frequency: 2e6}, &Options{Tolerance: 1e-14})
			if len(got) != 1 {
				t.Fatalf("%d rays, want 1", len(got))
			}
			a := got[0]
			x, z := displaced(a.Value(), a.Departure, a.Arrival, want.Departure)
			wantX, wantZ := displaced(want.Value(), want.Departure, want.Arrival, want.Departure)
			if !(cmplx.Abs(x-wantX)+cmplx.Abs(z-wantZ) <= 1e-7*cmplx.Abs(want.Value())) {
				t.Errorf("displacement (%v, %v), package wedge (%v, %v)", x, z, wantX, wantZ)
			}
			if !(math.Abs(a.Spreading-want.Spreading) <= 1e-7*want.Spreading) || a.Caustics != want.Caustics {
				t.Errorf("spreading %v, %d caustics, package wedge %v, %d", a.Spreading, a.Caustics, want.Spreading, want.Caustics)
			}
			for k, tube := range a.Tubes {
				if !(math.Abs(tube-want.Tubes[k]) <= 1e-7) {
					t.Errorf("tube %d: %v, package wedge %v", k, tube, want.Tubes[k])
				}
			}
		})
	}
}

// mm returns a point of the section y = 0 from coordinates in millimetres.
func mm(x, z float64) r3.Vec { return r3.Vec{X: x * 1e-3, Z: z * 1e-3} }

// TestAmplitudeContact compares with package wedge for an element in contact, which sends waves of
// opposite signs to both sides.
func TestAmplitudeContact(t *testing.T) {
	p := &Part{Entry: plane(0), Media: []Medium{check.Must(NewIsotropic(parent))}}
	source := &wedge.Source{Width: 1e-3, Normal: r3.Vec{Z: 1}, Axis: r3.Vec{X: 1}}
	for pol, mode := range map[Polarisation]material.Mode{qL: material.L, qSV: material.T} {
		path := check.Must(wedge.NewPath([]wedge.Leg{{Speed: parent.Speed(mode), Mode: mode}}, nil))
		amplitude := check.Must(wedge.NewAmplitudes(path, wedge.Acoustics{Dimension: wedge.Section,
			Media: []material.Isotropic{parent}, Source: source, Frequency: 2e6}))
		for _, to := range []r3.Vec{mm(8, 12), mm(-8, 12), mm(14, 9), mm(-3, 12)} {
			ray := path.Solve(r3.Vec{}, to)
			want := check.Must(amplitude.Along(&ray))
			a := amplitudes(t, p, pol, r3.Vec{}, to, &Acoustics{Source: source, Frequency: 2e6}, nil)[0]
			x, z := displaced(a.Value(), a.Arrival, a.Arrival, a.Arrival)
			wantX, wantZ := displaced(want.Value(), want.Arrival, want.Arrival, want.Arrival)
			if !(cmplx.Abs(x-wantX)+cmplx.Abs(z-wantZ) <= 1e-5*cmplx.Abs(want.Value())) {
				t.Errorf("%v to %v: displacement (%v, %v), package wedge (%v, %v)", pol, to, x, z, wantX, wantZ)
			}
		}
	}
	if _, err := p.Amplitudes(sH, r3.Vec{}, mm(3, 9), &Acoustics{Source: source, Frequency: 2e6}, nil); err == nil {
		t.Error("no error for a source of SH")
	}
}

// TestAmplitudeCaustic compares with package wedge behind a round entry surface that focuses: the
// rays pass a caustic.
func TestAmplitudeCaustic(t *testing.T) {
	slow := material.Isotropic{Density: 1300, Longitudinal: 1000}
	coupling := material.Isotropic{Density: 1000, Longitudinal: 4000}
	round := check.Must(wedge.NewCylinder(mm(0, 20), r3.Vec{Y: 1}, 20e-3, wedge.Convex))
	p := &Part{Coupling: &coupling, Entry: round, Media: []Medium{check.Must(NewIsotropic(slow))}}
	path := check.Must(wedge.NewPath([]wedge.Leg{{Speed: 4000}, {Speed: 1000}}, []wedge.Crossing{{Surface: round}}))
	acoustics := wedge.Acoustics{Dimension: wedge.Section, Media: []material.Isotropic{coupling, slow},
		Interfaces: []wedge.Interface{{Contact: material.LiquidFilm}}}
	passed := 0
	for _, z := range []float64{15, 38} {
		from, to := mm(1, -60), mm(0.5, z)
		for _, a := range amplitudes(t, p, qL, from, to, nil, &Options{Tolerance: 1e-14}) {
			ray := path.Solve(from, to)
			want := check.Must(check.Must(wedge.NewAmplitudes(path, acoustics)).Along(&ray))
			if math.Abs(ray.Time-a.Time) > 1e-12 {
				continue // package wedge finds one of the rays
			}
			passed += a.Caustics
			if !(cmplx.Abs(a.Value()-want.Value()) <= 1e-7*cmplx.Abs(want.Value())) {
				t.Errorf("depth %v mm: %v, package wedge %v", z, a, want)
			}
		}
	}
	if passed == 0 {
		t.Error("no ray past a caustic was compared")
	}
}

// TestAmplitudeGradient compares with a closed form. If the speed v has a constant gradient g, the
// times define a hyperbolic plane, in which two rays of the travel time T lie sinh(gT)/g apart per
// angle: J = v·sinh(gT)/g at the end.
func TestAmplitudeGradient(t *testing.T) {
	gradient := r3.Vec{X: 3, Z: 12}
	m := check.Must(NewLinear(parent, r3.Vec{}, gradient))
	p := &Part{Entry: plane(0), Media: []Medium{m}}
	g := math.Hypot(gradient.X, gradient.Z) * parent.Transverse
	for _, to := range []r3.Vec{mm(5, 20), mm(-20, 15), mm(30, 10)} {
		a := amplitudes(t, p, qSV, r3.Vec{}, to, nil, &Options{Tolerance: 1e-14})[0]
		end := m.Phase(qSV, to, 0).Speed
		j := end * math.Sinh(g*a.Time) / g
		if want := math.Sqrt(parent.Transverse / end / j); !(math.Abs(a.Spreading-want) <= 1e-7*want) {
			t.Errorf("to %v: spreading %v, want %v", to, a.Spreading, want)
		}
	}
}

// TestAmplitudeNeighbours compares J with the distance by which neighbouring rays miss the point,
// in a weld behind a wedge.
func TestAmplitudeNeighbours(t *testing.T) {
	p := weldCase(t, polystyrene, 1)
	element, points := mm(-45, -12), []r3.Vec{mm(-8, 8), mm(2, 12), mm(12, 20)}
	o := check.Must(p.check(qSV, []r3.Vec{element}, points, nil, true))
	a := newAim(element, newPointIndex(points, &o), &o)
	rays := 0
	for i, q := range points {
		for _, s := range a.fan.rays(a.candidates[i], q) {
			tube := a.fan.begin(&s, new(Acoustics))
			if err := tube.follow(&s); err != nil {
				t.Fatal(err)
			}
			h := 1e-5
			before, _, ok := a.fan.reach(s.chain, s.launch-h, s.time, q, nil)
			after, _, fine := a.fan.reach(s.chain, s.launch+h, s.time, q, nil)
			if !ok || !fine {
				continue
			}
			rays++
			want := (after - before) / (2 * h)
			if got := tube.front(); !(math.Abs(got-want) <= 1e-4*math.Abs(want)) {
				t.Errorf("to %v: J = %v m, by neighbours %v m", q, got, want)
			}
		}
	}
	if rays < 4 {
		t.Errorf("only %d rays", rays)
	}
}

// TestAmplitudeReciprocity checks that the amplitude of the way back through a weld is the same.
// Both ends lie in the same isotropic metal.
func TestAmplitudeReciprocity(t *testing.T) {
	p := weldCase(t, nil, 1)
	region := r2.Box{Min: r2.Vec{X: -60e-3, Y: -1e-3}, Max: r2.Vec{X: 60e-3, Y: 31e-3}}
	for _, pol := range []Polarisation{qL, qSV} {
		from, to := mm(-30, 0), mm(16, 24)
		there := amplitudes(t, p, pol, from, to, nil, &Options{Region: region})
		upwards := *p
		upwards.Entry, upwards.Back = check.Must(wedge.NewPlane(to, r3.Vec{Z: -1})), nil
		back := amplitudes(t, &upwards, pol, to, from, nil, &Options{Region: region})
		if len(there) != len(back) {
			t.Fatalf("%v: %d rays there, %d back", pol, len(there), len(back))
		}
		for i := range there {
			a, b := there[i].Value(), back[i].Value()
			if pol == qSV && r3.Dot(there[i].Departure, back[i].Arrival)*r3.Dot(there[i].Arrival, back[i].Departure) < 0 {
				b = -b
			}
			if !(cmplx.Abs(a-b) <= 1e-4*cmplx.Abs(a)) {
				t.Errorf("%v ray %d: %v there, %v back", pol, i, there[i], back[i])
			}
		}
	}
}

// lossy is an invented law: losses that grow with depth and with the frequency.
type lossy struct{}

func (lossy) Nepers(pol Polarisation, at r3.Vec, frequency float64) float64 {
	return float64(1+pol) * (3 + 800*at.Z) * frequency / 1e6
}

// TestAmplitudeLosses compares the losses along a straight ray with the integral of their law.
func TestAmplitudeLosses(t *testing.T) {
	p := &Part{Entry: plane(0), Media: []Medium{check.Must(NewIsotropic(parent))}}
	a := amplitudes(t, p, sH, r3.Vec{}, mm(12, 16), &Acoustics{Attenuation: lossy{}, Frequency: 2e6}, nil)[0]
	if want := math.Exp(-3 * 2 * (3 + 800*8e-3) * 20e-3); !(math.Abs(a.Attenuation-want) <= 1e-9) {
		t.Errorf("losses leave %v, want %v", a.Attenuation, want)
	}
}

// TestAmplitudeConcave compares with the point source in a homogeneous medium whose slowness curve
// is dented: J is the length times (v + v″)/v_group, and waves of the concave part have the index
// −1: their phase is π/2 ahead (the sign of the second derivative in the method of stationary
// phase; M. J. Lighthill, Philosophical Transactions A 252, 1960, from memory).
func TestAmplitudeConcave(t *testing.T) {
	curves, _ := metal(t, "weld metal X6CrNi18-11")
	p := &Part{Entry: plane(0), Media: []Medium{check.Must(NewUniform(curves, 1.1))}}
	concave := 0
	for angle := 26.; angle < 160; angle += 26 {
		to := r3.Scale(20e-3, heading(angle*degrees))
		for _, a := range amplitudes(t, p, qSV, r3.Vec{}, to, nil, nil) {
			chi := math.Atan2(a.Departure.Z, a.Departure.X) + math.Pi/2 - 1.1
			v, dv, ddv := curves.curves[qSV].at(chi)
			want := 1 / math.Sqrt(20e-3*math.Abs(v+ddv)/math.Hypot(v, dv))
			index := 0
			if v+ddv < 0 {
				index = -1
				concave++
			}
			if !(math.Abs(a.Spreading-want) <= 1e-6*want) || a.Caustics != index {
				t.Errorf("at %v°: spreading %v, index %d, want %v, %d", angle, a.Spreading, a.Caustics, want, index)
			}
		}
	}
	if concave < 2 {
		t.Errorf("only %d rays of the concave part", concave)
	}
}

// faster is a texture with the same grains everywhere, whose speeds are 1.3 times as high.
type faster struct{}

func (faster) At(r3.Vec) Grain { return Grain{Angle: 0.4, Factor: 1.3} }

// TestElastic checks that the elastic constants of each medium have the speeds of its Phase.
func TestElastic(t *testing.T) {
	curves, _ := metal(t, "weld metal X6CrNi18-11")
	random := rand.New(rand.NewPCG(3, 14))
	for _, m := range []Medium{
		check.Must(NewIsotropic(parent)),
		check.Must(NewLinear(parent, r3.Vec{}, r3.Vec{X: 3, Z: 5})),
		check.Must(NewUniform(curves, 0.7)),
		check.Must(NewGrains(curves, grainLaw{vee, 1, 1})),
		check.Must(NewGrains(curves, faster{})),
	} {
		for range 20 {
			at := mm(20*random.Float64()-10, 30*random.Float64())
			elastic := check.Must(m.(Elastic).Elastic(at))
			solid, ok := elastic.(material.Anisotropic)
			if !ok {
				solid = check.Must(elastic.(material.Isotropic).Anisotropic())
			}
			angle := 2 * math.Pi * random.Float64()
			for _, w := range check.Must(check.Must(material.NewChristoffel(solid)).Phase(heading(angle))) {
				ok := false
				for pol := range Polarisation(polarisations) {
					ok = ok || math.Abs(m.Phase(pol, at, angle).Speed/w.Speed-1) <= 1e-12
				}
				if !ok {
					t.Errorf("%T: no wave with %v m/s at %v rad", m, w.Speed, angle)
				}
			}
		}
	}
}

// plain is a medium without elastic constants.
type plain struct{ Medium }

func TestAmplitudeErrors(t *testing.T) {
	solid := check.Must(NewIsotropic(parent))
	p := &Part{Entry: plane(0), Media: []Medium{solid}}
	for _, tc := range []struct {
		name      string
		part      *Part
		acoustics Acoustics
		words     string
	}{
		{"medium without elastic constants", &Part{Entry: plane(0), Media: []Medium{plain{solid}}}, Acoustics{}, "Elastic"},
		{"unknown contact", p, Acoustics{Contact: 7}, "contact 7"},
		{"losses without a frequency", p, Acoustics{Attenuation: lossy{}}, "frequency"},
		{"source without a frequency", p, Acoustics{Source: new(wedge.Source)}, "frequency"},
		{"source without a normal", p, Acoustics{Source: new(wedge.Source), Frequency: 1e6}, "normal"},
	} {
		_, err := tc.part.Amplitudes(qL, r3.Vec{}, mm(1, 9), &tc.acoustics, nil)
		t.Run(tc.name, func(t *testing.T) { check.Error(t, err, "graded: ", tc.words) })
	}
	if _, err := p.Amplitudes(qL, r3.Vec{}, mm(math.NaN(), 9), nil, nil); err == nil {
		t.Error("no error for a point that is not finite")
	}
}
