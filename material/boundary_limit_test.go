// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestBoundaryHardContrasts checks cases in which a careless solver fails: two strongly evanescent
// waves below that are equal to 1e-7, a nearly fluid solid, and air on steel at the Rayleigh angle,
// where the result changes within 0.001°. The values are an independent calculation with mpmath
// 1.3.0: the boundary equations for the amplitudes with 50 digits.
func TestBoundaryHardContrasts(t *testing.T) {
	slow := Isotropic{1000, 100, 50}
	fast := Isotropic{2000, 1e6, 4e5}
	solid := Isotropic{3000, 5000, 3000}
	gel := Isotropic{950, 1500, 3}
	air := Isotropic{Density: 1.2, Longitudinal: 343}
	for _, tc := range []struct {
		name           string
		upper, lower   Isotropic
		contact        Contact
		mode           Mode
		degree         float64
		rL, rT, tL, tT complex128
		tol            float64
	}{
		{"evanescent", slow, fast, Welded, L, 70,
			-0.187769740763432 + 1.36827194711583e-8i, -0.864625664514131 - 2.42596596015748e-8i,
			4.8347040485205e-5 - 2.57329061458465e-5i, 6.43322653646163e-5 + 0.000120867604806098i, 1e-14},
		{"evanescent", slow, fast, Welded, T, 50,
			-0.597593511796721 + 0.379897996344158i, 0.424368435934985 - 0.9054896082132i,
			-8.6219468633711e-6 + 5.48108417063047e-6i, -1.37027110587829e-5 - 2.15548681529122e-5i, 1e-14},
		{"evanescent", slow, fast, LiquidFilm, L, 70,
			0.999999999999999 + 3.61045828770977e-8i, 5.35369122351781e-16 - 2.0777117480977e-8i,
			6.6486773962644e-5 + 1.71318114059719e-12i, -4.28295297881425e-12 + 0.000166216939847816i, 1e-14},
		{"evanescent", slow, fast, LiquidFilm, T, 50,
			1.78873871879061e-9 + 1.63835918243149e-17i, 1 + 1.83185969557276e-8i,
			-5.86195096027816e-5 - 5.36913585077879e-13i, 1.34228397770557e-12 - 0.000146548775645821i, 1e-14},
		{"nearly fluid", solid, gel, Welded, L, 40,
			-0.203894257430732, 1.01206090798694, 1.33813411229665, 1.1874497320037, 1e-13},
		{"nearly fluid", solid, gel, LiquidFilm, L, 40,
			-0.203719013020007, 1.01244922391479, 1.33768280216654, -0.00101244922391479, 1e-13},
		// The condition number of the problem is 1e5 here.
		{"air on steel", air, boundarySteel, Welded, L, 6.5426,
			0.991210561256934 - 0.13229370072953i, 0,
			-0.103878860629051 + 0.00690159000136555i, -0.0188839955446685 - 0.284231306252054i, 1e-11},
	} {
		d := check.Must(check.Must(NewBoundary(tc.upper, tc.lower, tc.contact)).Scatter(tc.mode, tc.degree*boundaryDegree)).Displacement
		name := fmt.Sprintf("%s, %v, %v: ", tc.name, tc.contact, tc.mode)
		checkBoundaryValue(t, name+"R_L", d.Reflected[L], tc.rL, tc.tol)
		checkBoundaryValue(t, name+"R_T", d.Reflected[T], tc.rT, tc.tol)
		checkBoundaryValue(t, name+"T_L", d.Transmitted[L], tc.tL, tc.tol)
		checkBoundaryValue(t, name+"T_T", d.Transmitted[T], tc.tT, tc.tol)
	}
}

// TestBoundaryEqualMedia checks that two welded pieces of one medium reflect nothing, from normal
// to grazing incidence.
func TestBoundaryEqualMedia(t *testing.T) {
	for _, m := range []Isotropic{boundarySteel, boundaryAcrylic, withPoisson(t, 0), boundaryWater} {
		b := check.Must(NewBoundary(m, m, Welded))
		for _, mode := range []Mode{L, T} {
			if mode == T && m.Fluid() {
				continue
			}
			for degree := range 91 {
				d := check.Must(b.Scatter(mode, float64(degree)*boundaryDegree)).Displacement
				var want Coefficients
				want.Transmitted[mode] = 1
				for out := L; out <= T; out++ {
					name := fmt.Sprintf("%v into %v at %d°", mode, out, degree)
					checkBoundaryValue(t, name+", reflected", d.Reflected[out], want.Reflected[out],
						1e-13)
					checkBoundaryValue(t, name+", transmitted", d.Transmitted[out],
						want.Transmitted[out], 1e-13)
				}
			}
		}
	}
}

// TestBoundaryFluidLimit checks that a solid whose transverse speed tends to 0 gives the result of
// the fluid, on either side and in either contact.
func TestBoundaryFluidLimit(t *testing.T) {
	soft := boundaryWater
	soft.Transverse = 1e-6 * soft.Longitudinal
	for _, contact := range []Contact{Welded, LiquidFilm} {
		for _, tc := range []struct {
			name      string
			got, want Boundary
			mode      Mode
		}{
			{"below", check.Must(NewBoundary(boundarySteel, soft, contact)),
				check.Must(NewBoundary(boundarySteel, boundaryWater, contact)), L},
			{"below, T", check.Must(NewBoundary(boundarySteel, soft, contact)),
				check.Must(NewBoundary(boundarySteel, boundaryWater, contact)), T},
			{"above", check.Must(NewBoundary(soft, boundarySteel, contact)),
				check.Must(NewBoundary(boundaryWater, boundarySteel, contact)), L},
			{"both", check.Must(NewBoundary(soft, soft, contact)),
				check.Must(NewBoundary(boundaryWater, boundaryWater, contact)), L},
			{"free", check.Must(NewFreeSurface(soft)), check.Must(NewFreeSurface(boundaryWater)), L},
		} {
			for degree := 1; degree < 90; degree += 4 {
				angle := float64(degree) * boundaryDegree
				got, want := check.Must(tc.got.Scatter(tc.mode, angle)), check.Must(tc.want.Scatter(tc.mode, angle))
				name := fmt.Sprintf("%s, %v, %d°", tc.name, contact, degree)
				checkBoundaryValue(t, name+": R_L", got.Displacement.Reflected[L],
					want.Displacement.Reflected[L], 1e-4)
				checkBoundaryValue(t, name+": T_L", got.Displacement.Transmitted[L],
					want.Displacement.Transmitted[L], 1e-4)
				checkEnergies(t, name, got.Energy, want.Energy, 1e-4)
			}
		}
	}
}

// TestBoundaryDensityLimits checks that a light medium below gives the limit of a vacuum, and a
// heavy medium the limit of a rigid wall.
func TestBoundaryDensityLimits(t *testing.T) {
	light := Isotropic{Density: boundarySteel.Density * 1e-9, Longitudinal: 5000, Transverse: 2500}
	heavy := Isotropic{Density: boundaryWater.Density * 1e9, Longitudinal: 1480}
	free := check.Must(NewFreeSurface(boundarySteel))
	for degree := range 90 {
		angle := float64(degree) * boundaryDegree
		for _, contact := range []Contact{Welded, LiquidFilm} {
			b := check.Must(NewBoundary(boundarySteel, light, contact))
			for _, mode := range []Mode{L, T} {
				got, want := check.Must(b.Scatter(mode, angle)).Displacement, check.Must(free.Scatter(mode, angle)).Displacement
				name := fmt.Sprintf("light, %v, %v at %d°", contact, mode, degree)
				checkBoundaryValue(t, name, got.Reflected[L], want.Reflected[L], 1e-7)
				checkBoundaryValue(t, name, got.Reflected[T], want.Reflected[T], 1e-7)
			}
		}
		rigid := check.Must(check.Must(NewBoundary(boundaryWater, heavy, Welded)).Scatter(L, angle)).Displacement
		checkBoundaryValue(t, fmt.Sprintf("rigid at %d°", degree), rigid.Reflected[L], 1, 1e-6)
	}
}

// TestBoundaryContinuousAtCriticalAngles checks that the result at a critical angle is the limit
// from both sides. The difference falls as the square root of the distance.
func TestBoundaryContinuousAtCriticalAngles(t *testing.T) {
	for _, tc := range []struct {
		name string
		b    Boundary
		mode Mode
		to   float64
	}{
		{"wedge, first", check.Must(NewBoundary(boundaryAcrylic, boundarySteel, LiquidFilm)), L,
			boundarySteel.Longitudinal},
		{"wedge, second", check.Must(NewBoundary(boundaryAcrylic, boundarySteel, LiquidFilm)), L,
			boundarySteel.Transverse},
		{"welded, first", check.Must(NewBoundary(boundaryAcrylic, boundarySteel, Welded)), L,
			boundarySteel.Longitudinal},
		{"welded, second", check.Must(NewBoundary(boundaryAcrylic, boundarySteel, Welded)), L,
			boundarySteel.Transverse},
		{"welded, T reflected as L",
			check.Must(NewBoundary(boundarySteel, boundaryAcrylic, Welded)), T, boundarySteel.Longitudinal},
		{"water", check.Must(NewBoundary(boundaryWater, boundarySteel, Welded)), L,
			boundarySteel.Transverse},
		{"free", check.Must(NewFreeSurface(boundarySteel)), T, boundarySteel.Longitudinal},
		{"free, ν 0", check.Must(NewFreeSurface(withPoisson(t, 0))), T, withPoisson(t, 0).Longitudinal},
	} {
		critical := CriticalAngle(tc.b.upper.Speed(tc.mode), tc.to)
		at := check.Must(tc.b.Scatter(tc.mode, critical)).Displacement
		for _, step := range []float64{-1e-13, 1e-13} {
			near := check.Must(tc.b.Scatter(tc.mode, critical+step)).Displacement
			for out := L; out <= T; out++ {
				checkBoundaryValue(t, tc.name+", reflected", near.Reflected[out], at.Reflected[out],
					1e-4)
				checkBoundaryValue(t, tc.name+", transmitted", near.Transmitted[out],
					at.Transmitted[out], 1e-4)
			}
		}
	}
}

// TestBoundaryGrazing checks that at grazing incidence the reflected wave cancels the incident
// wave, that angles close to 90° have this limit, and that the slowness 1/c gives the same result
// as 90°.
func TestBoundaryGrazing(t *testing.T) {
	for _, tc := range []struct {
		name string
		b    Boundary
		mode Mode
		want complex128
	}{
		{"wedge L", check.Must(NewBoundary(boundaryAcrylic, boundarySteel, LiquidFilm)), L, -1},
		{"wedge T", check.Must(NewBoundary(boundaryAcrylic, boundarySteel, LiquidFilm)), T, 1},
		{"welded L", check.Must(NewBoundary(boundarySteel, boundaryAcrylic, Welded)), L, -1},
		{"welded T", check.Must(NewBoundary(boundarySteel, boundaryAcrylic, Welded)), T, 1},
		{"water", check.Must(NewBoundary(boundaryWater, boundarySteel, Welded)), L, -1},
		{"steel in water", check.Must(NewBoundary(boundarySteel, boundaryWater, Welded)), T, 1},
		{"free L", check.Must(NewFreeSurface(boundarySteel)), L, -1},
		{"free T", check.Must(NewFreeSurface(boundarySteel)), T, 1},
		// With Poisson's ratio 0 a grazing L wave strains the solid along its own direction only.
		// It leaves a free surface without stress and travels on unchanged.
		{"free L, ν 0", check.Must(NewFreeSurface(withPoisson(t, 0))), L, 1},
	} {
		for _, distance := range []float64{1e-9, 0} {
			d := check.Must(tc.b.Scatter(tc.mode, math.Pi/2-distance)).Displacement
			name := fmt.Sprintf("%s, %g rad off", tc.name, distance)
			checkBoundaryValue(t, name, d.Reflected[tc.mode], tc.want, 1e-6)
			checkBoundaryValue(t, name+", converted", d.Reflected[1-tc.mode], 0, 1e-6)
			checkBoundaryValue(t, name+", transmitted",
				complex(cmplx.Abs(d.Transmitted[L])+cmplx.Abs(d.Transmitted[T]), 0), 0, 1e-6)
		}
		byAngle := check.Must(tc.b.Scatter(tc.mode, math.Pi/2))
		bySlowness := scatterSlowness(tc.b, tc.mode, 1/tc.b.upper.Speed(tc.mode))
		checkBoundaryValue(t, tc.name+" by slowness", bySlowness.Displacement.Reflected[tc.mode],
			byAngle.Displacement.Reflected[tc.mode], 1e-6)
	}
}
