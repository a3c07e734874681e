// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// boundaryKinds makes one boundary of each kind from two solids. Each kind has its own solver or
// its own form of a solver.
var boundaryKinds = []struct {
	name string
	make func(upper, lower Isotropic) (Boundary, error)
}{
	{"free solid", func(u, _ Isotropic) (Boundary, error) { return NewFreeSurface(u) }},
	{"free fluid", func(u, _ Isotropic) (Boundary, error) { return NewFreeSurface(liquefied(u)) }},
	{"fluid/fluid", func(u, l Isotropic) (Boundary, error) { return NewBoundary(liquefied(u), liquefied(l), Welded) }},
	{"fluid/solid", func(u, l Isotropic) (Boundary, error) { return NewBoundary(liquefied(u), l, Welded) }},
	{"solid/fluid", func(u, l Isotropic) (Boundary, error) { return NewBoundary(u, liquefied(l), LiquidFilm) }},
	{"welded", func(u, l Isotropic) (Boundary, error) { return NewBoundary(u, l, Welded) }},
	{"liquid film", func(u, l Isotropic) (Boundary, error) { return NewBoundary(u, l, LiquidFilm) }},
}

// liquefied returns m without its shear stiffness.
func liquefied(m Isotropic) Isotropic {
	m.Transverse = 0
	return m
}

// randomBoundaryMedium returns a solid whose density and speed differ from 1000 kg/m³ and 3000 m/s
// by up to the given number of decades. Poisson's ratio is from −1 to 0.5.
func randomBoundaryMedium(rng *rand.Rand, decades float64) Isotropic {
	spread := func() float64 { return math.Pow(10, decades*(2*rng.Float64()-1)) }
	m := Isotropic{Density: 1000 * spread(), Longitudinal: 3000 * spread()}
	m.Transverse = m.Longitudinal * (0.01 + 0.85*rng.Float64())
	return m
}

// randomBoundaryCase calls f with seeded random boundaries of every kind and both modes. The angles
// include 0°, 90°, the critical angles, and angles very close to 90°.
func randomBoundaryCase(t *testing.T, decades float64, f func(t *testing.T, b Boundary, m Mode, angle float64)) {
	for _, kind := range boundaryKinds {
		t.Run(kind.name, func(t *testing.T) {
			rng := rand.New(rand.NewPCG(4, 2026))
			for range 3000 {
				b := check.Must(kind.make(randomBoundaryMedium(rng, decades), randomBoundaryMedium(rng, decades)))
				m := Mode(rng.IntN(2))
				if b.upper.Fluid() {
					m = L
				}
				angle := rng.Float64() * math.Pi / 2
				switch rng.IntN(8) {
				case 0:
					angle = math.Pi / 2
				case 1:
					angle = 0
				case 2:
					angle = math.Pi / 2 * (1 - math.Pow(10, -16*rng.Float64()))
				case 3:
					to := [...]float64{b.upper.Longitudinal, b.lower.Longitudinal,
						b.lower.Transverse}[rng.IntN(3)]
					if c := CriticalAngle(b.upper.Speed(m), to); c >= 0 {
						angle = c
					}
				}
				f(t, b, m, angle)
				if t.Failed() {
					t.Fatalf("at %+v, %v, %v°", b, m, angle/boundaryDegree)
				}
			}
		})
	}
}

func energySum(e EnergyCoefficients) float64 {
	return e.Reflected[L] + e.Reflected[T] + e.Transmitted[L] + e.Transmitted[T]
}

// TestBoundaryEnergyConserved checks that the energies have the sum 1 to 1e-12, for contrasts up to
// 10⁴ in density and in speed.
func TestBoundaryEnergyConserved(t *testing.T) {
	randomBoundaryCase(t, 2, func(t *testing.T, b Boundary, m Mode, angle float64) {
		e := check.Must(b.Scatter(m, angle)).Energy
		if sum := energySum(e); !(math.Abs(sum-1) <= 1e-12) {
			t.Errorf("energy %v, sum − 1 = %g", e, sum-1)
		}
		for _, v := range [...]float64{e.Reflected[L], e.Reflected[T], e.Transmitted[L], e.Transmitted[T]} {
			if !(v >= 0) {
				t.Errorf("energy %v: want all at or above 0", e)
			}
		}
	})
}

// leastCosineSquared returns the square of the cosine closest to 0 of all waves with slowness p
// along b. Where it is small, a cosine calculated from the rounded p is inaccurate.
func leastCosineSquared(b Boundary, p float64) float64 {
	least := 1.0
	for _, c := range [...]float64{b.upper.Longitudinal, b.upper.Transverse, b.lower.Longitudinal, b.lower.Transverse} {
		least = min(least, math.Abs(1-p*c*p*c))
	}
	return least
}

// A surfaceField is the displacement and the traction over iω at z = 0.
type surfaceField struct{ x, z, xz, zz complex128 }

func (f surfaceField) add(a complex128, g surfaceField) surfaceField {
	return surfaceField{f.x + a*g.x, f.z + a*g.z, f.xz + a*g.xz, f.zz + a*g.zz}
}

// waveField returns the field of one wave by Hooke's law from its polarisation, with the signs of
// Aki and Richards; down is +1 or −1. It has no code in common with the solvers.
func waveField(m Isotropic, mode Mode, p, down float64) surfaceField {
	c := m.Speed(mode)
	q := cmplx.Sqrt(complex((1/c-p)*(1/c+p), 0)) // the root on the positive imaginary axis
	sin, cos := complex(c*p, 0), complex(c, 0)*q
	d := complex(down, 0)
	var f surfaceField
	if mode == L {
		f.x, f.z = sin, d*cos
	} else {
		f.x, f.z = cos, -d*sin
	}
	kx, kz := complex(p, 0), d*q
	lambda, mu := complex(m.BulkModulus()-2*m.ShearModulus()/3, 0), complex(m.ShearModulus(), 0)
	f.xz = mu * (kz*f.x + kx*f.z)
	f.zz = lambda*kx*f.x + (lambda+2*mu)*kz*f.z
	return f
}

// sideField returns the sum of the waves of one side.
func sideField(m Isotropic, f surfaceField, p, down float64, amplitude [2]complex128) surfaceField {
	f = f.add(amplitude[L], waveField(m, L, p, down))
	if !m.Fluid() {
		f = f.add(amplitude[T], waveField(m, T, p, down))
	}
	return f
}

// TestBoundaryConditions checks the conditions that define each kind of boundary, on the fields
// that the coefficients give.
func TestBoundaryConditions(t *testing.T) {
	randomBoundaryCase(t, 0.5, func(t *testing.T, b Boundary, m Mode, angle float64) {
		p := math.Sin(angle) / b.upper.Speed(m)
		least := leastCosineSquared(b, p)
		if least < 1e-9 {
			return // the fields below find the cosines from p, too coarse here
		}
		s := scatterSlowness(b, m, p)
		up := sideField(b.upper, waveField(b.upper, m, p, 1), p, -1, s.Displacement.Reflected)
		var low surfaceField
		free := b.lower.Density == 0
		if !free {
			low = sideField(b.lower, low, p, 1, s.Displacement.Transmitted)
		}
		tol := 1e-12 / least
		z := b.upper.Density * b.upper.Longitudinal
		if !free {
			z = max(z, b.lower.Density*b.lower.Longitudinal)
		}
		stress := complex(1/z, 0)
		scale := 1 + cmplx.Abs(up.x) + cmplx.Abs(up.z) + cmplx.Abs(low.x) + cmplx.Abs(low.z)
		compare := func(name string, jump complex128) {
			if !(cmplx.Abs(jump) <= tol*scale) {
				t.Errorf("%s by %v", name, jump)
			}
		}
		compare("normal stress jumps", (up.zz-low.zz)*stress)
		if !free {
			compare("normal displacement jumps", up.z-low.z)
		}
		if b.contact == Welded && !free && !b.upper.Fluid() && !b.lower.Fluid() {
			compare("shear stress jumps", (up.xz-low.xz)*stress)
			compare("tangential displacement jumps", up.x-low.x)
		} else {
			compare("upper shear stress is off", up.xz*stress)
			compare("lower shear stress is off", low.xz*stress)
		}
	})
}

// TestBoundaryReciprocity checks that the energy coefficient from wave a into wave b equals the
// coefficient from b into a, at the same slowness along the boundary.
func TestBoundaryReciprocity(t *testing.T) {
	randomBoundaryCase(t, 1, func(t *testing.T, b Boundary, m Mode, angle float64) {
		p := math.Sin(angle) / b.upper.Speed(m)
		there := scatterSlowness(b, m, p)
		least := leastCosineSquared(b, p)
		tol := 1e-12 / least
		compare := func(from Boundary, in Mode, reflected bool, want float64) {
			if want == 0 || least < 1e-9 {
				return
			}
			back := scatterSlowness(from, in, p)
			got := back.Energy.Transmitted[m]
			if reflected {
				got = back.Energy.Reflected[m]
			}
			if !(math.Abs(got-want) <= tol) {
				t.Errorf("%v into %v (reflected: %v) %.16g, reverse %.16g",
					m, in, reflected, want, got)
			}
		}
		reversed := Boundary{b.lower, b.upper, b.contact}
		for out := L; out <= T; out++ {
			compare(b, out, true, there.Energy.Reflected[out])
			compare(reversed, out, false, there.Energy.Transmitted[out])
		}
	})
}

// TestBoundaryRoundTripIsEnergy checks that |T12·T21| is the energy coefficient of one passage.
func TestBoundaryRoundTripIsEnergy(t *testing.T) {
	randomBoundaryCase(t, 2, func(t *testing.T, b Boundary, m Mode, angle float64) {
		e := check.Must(b.Scatter(m, angle)).Energy
		for out := L; out <= T; out++ {
			got := check.Must(b.RoundTrip(m, out, angle))
			if !(math.Abs(cmplx.Abs(got)-e.Transmitted[out]) <= 1e-12) {
				t.Errorf("%v: |round trip| %.16g, energy %.16g",
					out, cmplx.Abs(got), e.Transmitted[out])
			}
		}
	})
}

// TestBoundaryNormalIncidenceIdentities checks normal incidence. For L, 1 + R = D in pressure, 1 −
// R = D in displacement, and the round trip is 1 − R². For welded T, 1 + R = D in displacement.
func TestBoundaryNormalIncidenceIdentities(t *testing.T) {
	randomBoundaryCase(t, 2, func(t *testing.T, b Boundary, m Mode, _ float64) {
		s := check.Must(b.Scatter(m, 0))
		if m == T {
			if b.contact == Welded && !b.lower.Fluid() {
				checkBoundaryValue(t, "1 + R for T", 1+s.Displacement.Reflected[T],
					s.Displacement.Transmitted[T], 1e-14)
			}
			return
		}
		checkBoundaryValue(t, "1 − R, displacement", 1-s.Displacement.Reflected[L],
			s.Displacement.Transmitted[L]+freeStep(b), 1e-14)
		d := s.Pressure.Transmitted[L]
		checkBoundaryValue(t, "1 + R, pressure", 1+s.Pressure.Reflected[L], d,
			1e-14*(1+cmplx.Abs(d)))
		back := check.Must(b.RoundTrip(L, L, 0))
		checkBoundaryValue(t, "round trip", back, 1-s.Pressure.Reflected[L]*s.Pressure.Reflected[L],
			1e-14)
	})
}

// freeStep returns the displacement 1 − R of a free surface, which has no transmitted wave.
func freeStep(b Boundary) complex128 {
	if b.lower.Density == 0 {
		return 2
	}
	return 0
}

// withPoisson returns a solid with the given Poisson's ratio.
func withPoisson(t *testing.T, poisson float64) Isotropic {
	t.Helper()
	m := check.Must(FromYoungPoisson(7850, 210e9, poisson))
	return m
}

// TestFreeSurfaceZeros checks the angles at which a free surface reflects nothing into the mode of
// the incident wave. For ν = 1/4 the angles 60° and 30° are exact. Bullen, from memory, quotes
// angles of emergence of 30° and 12°47' for L. The other digits are an independent calculation,
// mpmath 1.2.1.
func TestFreeSurfaceZeros(t *testing.T) {
	for _, tc := range []struct {
		poisson float64
		mode    Mode
		degree  float64
	}{
		{0.25, L, 60}, {0.25, L, 77.2060521}, {0.25, T, 30}, {0.25, T, 34.2646493},
		{0.2, L, 50.4810291}, {0.2, L, 84.783707}, {0.26, L, 64.5369076}, {0.26, L, 73.0649062},
	} {
		b := check.Must(NewFreeSurface(withPoisson(t, tc.poisson)))
		r := func(degree float64) complex128 {
			return check.Must(b.Scatter(tc.mode, degree*boundaryDegree)).Displacement.Reflected[tc.mode]
		}
		if real(r(tc.degree-1e-6))*real(r(tc.degree+1e-6)) >= 0 {
			t.Errorf("ν %v, %v: no change of sign within 1e-6° of %v°",
				tc.poisson, tc.mode, tc.degree)
		}
	}
	quarter := check.Must(NewFreeSurface(withPoisson(t, 0.25)))
	checkBoundaryValue(t, "R_LL at 60°, ν 1/4",
		check.Must(quarter.Scatter(L, math.Pi/3)).Displacement.Reflected[L], 0, 1e-14)
	checkBoundaryValue(t, "R_TT at 30°, ν 1/4",
		check.Must(quarter.Scatter(T, math.Pi/6)).Displacement.Reflected[T], 0, 1e-13)
	emerging := func(minutes float64) float64 {
		return real(check.Must(quarter.Scatter(L, (90-12-minutes/60)*boundaryDegree)).Displacement.Reflected[L])
	}
	if emerging(47)*emerging(48) >= 0 {
		t.Error("ν 1/4: no zero of L between 12°47' and 12°48' of emergence")
	}
	if got := CriticalAngle(quarter.upper.Transverse, quarter.upper.Longitudinal) / boundaryDegree; !(math.Abs(got-35.2643897) <= 5e-8) {
		t.Errorf("critical angle %v°, want 35.2643897°", got)
	}
	none := check.Must(NewFreeSurface(withPoisson(t, 0.3)))
	for tenth := range 900 {
		if r := check.Must(none.Scatter(L, float64(tenth)/10*boundaryDegree)).Displacement.Reflected[L]; !(real(r) < -0.05) {
			t.Fatalf("ν 0.3, L at %v°: %v, want no zero", float64(tenth)/10, r)
		}
	}
}

// TestFreeSurfaceTransverse checks T on a free surface. Beyond asin(cT/cL) the whole energy returns
// as T. At 45° the coefficient is −1 and no L leaves, for every Poisson's ratio.
func TestFreeSurfaceTransverse(t *testing.T) {
	for _, poisson := range []float64{-0.9, -0.3, 0, 0.2, 0.25, 0.3, 0.4, 0.49, 0.4999} {
		b := check.Must(NewFreeSurface(withPoisson(t, poisson)))
		s := check.Must(b.Scatter(T, math.Pi/4))
		tol := 1e-14
		if poisson == 0 {
			tol = 1e-7 // 45° is the critical angle itself, which float64 resolves no better
		}
		checkBoundaryValue(t, "R_TT at 45°", s.Displacement.Reflected[T], -1, tol)
		checkBoundaryValue(t, "R_TL at 45°", s.Displacement.Reflected[L], 0, tol)
		critical := CriticalAngle(b.upper.Transverse, b.upper.Longitudinal)
		for i := 1; i <= 50; i++ {
			angle := critical + (math.Pi/2-critical)*float64(i)/50
			r := check.Must(b.Scatter(T, angle)).Displacement.Reflected[T]
			if !(math.Abs(cmplx.Abs(r)-1) <= 1e-14) {
				t.Errorf("ν %v at %v°: |R_TT| = %v, want 1",
					poisson, angle/boundaryDegree, cmplx.Abs(r))
			}
		}
	}
}

// TestFreeSurfaceConversionSymmetric checks that a free surface converts the same part of the
// energy for L at the angle θL and for T at the angle θT of the converted wave.
func TestFreeSurfaceConversionSymmetric(t *testing.T) {
	for _, poisson := range []float64{-0.5, 0, 0.2, 0.3, 0.45} {
		m := withPoisson(t, poisson)
		b := check.Must(NewFreeSurface(m))
		for degree := 1; degree < 90; degree++ {
			angle := float64(degree) * boundaryDegree
			lt := check.Must(b.Scatter(L, angle)).Energy.Reflected[T]
			tl := check.Must(b.Scatter(T, Refract(angle, m.Longitudinal, m.Transverse))).Energy.Reflected[L]
			if !(math.Abs(lt-tl) <= 1e-12) {
				t.Errorf("ν %v at %d°: L into T %v, T into L %v", poisson, degree, lt, tl)
			}
		}
	}
}

// TestCornerEchoIdentities checks that the faces of a corner can be exchanged. It also checks that
// a corner of free faces returns all of T while both angles are beyond the critical angle.
func TestCornerEchoIdentities(t *testing.T) {
	free := check.Must(NewFreeSurface(boundarySteel))
	wet := check.Must(NewBoundary(boundarySteel, boundaryWater, Welded))
	for _, mode := range []Mode{L, T} {
		for degree := range 91 {
			a := check.Must(CornerEcho(free, wet, mode, float64(degree)*boundaryDegree))
			b := check.Must(CornerEcho(wet, free, mode, float64(90-degree)*boundaryDegree))
			checkBoundaryValue(t, "exchanged corner", b, a, 1e-12)
		}
	}
	for degree := 34; degree <= 56; degree++ {
		got := check.Must(CornerEcho(free, free, T, float64(degree)*boundaryDegree))
		if !(math.Abs(cmplx.Abs(got)-1) <= 1e-14) {
			t.Errorf("%d°: |echo| = %v, want 1", degree, cmplx.Abs(got))
		}
	}
}

// TestBoundaryPressure checks that a pressure coefficient is the displacement coefficient times the
// ratio of the impedances, for both incident modes.
func TestBoundaryPressure(t *testing.T) {
	randomBoundaryCase(t, 3, func(t *testing.T, b Boundary, m Mode, angle float64) {
		s := check.Must(b.Scatter(m, angle))
		in := b.upper.Impedance(m)
		for out := L; out <= T; out++ {
			r, tr := s.Displacement.Reflected[out], s.Displacement.Transmitted[out]
			zr, zt := b.upper.Impedance(out)/in, b.lower.Impedance(out)/in
			checkBoundaryValue(t, "reflected", s.Pressure.Reflected[out], r*complex(zr, 0),
				1e-14*(zr*cmplx.Abs(r)))
			checkBoundaryValue(t, "transmitted", s.Pressure.Transmitted[out], tr*complex(zt, 0),
				1e-14*(zt*cmplx.Abs(tr)))
		}
	})
}
