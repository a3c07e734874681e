// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// TestLineForceValues compares with an independent calculation from the formulas of Miller and
// Pursey, mpmath 1.2.1. L is relative to L straight ahead. The table has the modulus of T in the
// unit of Miller and Pursey, which is κ² times the unit of LineForce.
func TestLineForceValues(t *testing.T) {
	media := []material.Isotropic{
		{Density: 7850, Longitudinal: 5920, Transverse: 3255},
		{Density: 2700, Longitudinal: 1000 * math.Sqrt(3), Transverse: 1000}, // ν = 1/4
		{Density: 2700, Longitudinal: 6320, Transverse: 3130},
	}
	for _, tt := range []struct {
		angle float64
		want  [3][2]string
	}{
		{10, [3][2]string{{"0.98305083", "0.14000765"}, {"0.98175583", "0.15087525"}, {"0.98500539", "0.11900129"}}},
		{20, [3][2]string{{"0.93360746", "0.26438482"}, {"0.92856490", "0.28708236"}, {"0.94114186", "0.21768747"}}},
		{30, [3][2]string{{"0.85584520", "0.32779297"}, {"0.84505226", "0.37991784"}, {"0.87166353", "0.16300427"}}},
		{40, [3][2]string{{"0.75651091", "0.57531921"}, {"0.73884506", "0.58895874"}, {"0.78154479", "0.54649190"}}},
		{45, [3][2]string{{"0.70141776", "0.52432389"}, {"0.68033907", "0.53728497"}, {"0.73053538", "0.49762092"}}},
		{60, [3][2]string{{"0.52759298", "0.41541488"}, {"0.50000000", "0.42476106"}, {"0.56022802", "0.39556646"}}},
		{70, [3][2]string{{"0.40962577", "0.33270046"}, {"0.38597087", "0.33817887"}, {"0.42968686", "0.31991722"}}},
		{80, [3][2]string{{"0.27081310", "0.19913942"}, {"0.26503731", "0.20057264"}, {"0.26290046", "0.19459427"}}},
	} {
		for i, m := range media {
			kappa := m.Longitudinal / m.Transverse
			what := fmt.Sprintf("%v°, medium %d", tt.angle, i)
			l := LineForce(m, material.L, radians(tt.angle))
			check.Printed(t, what+", L", real(l), tt.want[i][0])
			if imag(l) != 0 {
				t.Errorf("%s: L is complex, %v", what, l)
			}
			check.Printed(t, what+", T",
				cmplx.Abs(LineForce(m, material.T, radians(tt.angle)))/(kappa*kappa), tt.want[i][1])
		}
	}
}

// TestLineForceIdentities checks exact points of the formulas.
func TestLineForceIdentities(t *testing.T) {
	quarter := material.Isotropic{Density: 1, Longitudinal: math.Sqrt(3), Transverse: 1}
	two := material.Isotropic{Density: 1, Longitudinal: 2, Transverse: 1}
	check.Within(t, "nu = 1/4, L at 60°", real(LineForce(quarter, material.L, math.Pi/3)), 0.5,
		1e-15)
	check.Within(t, "kappa = 2, T at 45°", cmplx.Abs(LineForce(two, material.T, math.Pi/4))/4, 0.5,
		1e-15)
	check.Within(t, "kappa = 2, T at 30°", cmplx.Abs(LineForce(two, material.T, math.Pi/6)), 0,
		1e-7)
	rng := rand.New(rand.NewPCG(3, 7))
	for range 500 {
		m := material.Isotropic{Density: 1000, Longitudinal: 1000 + 9000*rng.Float64()}
		m.Transverse = m.Longitudinal * (0.05 + 0.8*rng.Float64())
		kappa := m.Longitudinal / m.Transverse
		if got := LineForce(m, material.L, 0); got != 1 {
			t.Fatalf("L straight ahead: got %v, want 1", got)
		}
		if got := LineForce(m, material.T, 0); got != 0 {
			t.Fatalf("T straight ahead: got %v, want 0", got)
		}
		check.Within(t, "T at 45° in Miller and Pursey's units",
			cmplx.Abs(LineForce(m, material.T, math.Pi/4))/(kappa*kappa)*math.Sqrt(2*kappa), 1, 1e-12)
		// The zero is the zero of a square root, so it has half the digits. The denominator cos² 2θ
		// is 0 at the same angle if the critical angle is 45°.
		critical := material.CriticalAngle(m.Transverse, m.Longitudinal)
		if cos2 := math.Cos(2 * critical); math.Abs(cos2) > 0.1 {
			got := cmplx.Abs(LineForce(m, material.T, critical)) * cos2 * cos2
			check.Within(t, "T at the critical angle", got, 0, 1e-7*math.Pow(kappa, 1.5))
		}
	}
	// For ν = 1/4 the pattern of T is 0 at the critical angle 35.26°, as Geophysics, doi
	// 10.1190/1.1441711, states for the elastic half-space.
	check.Printed(t, "critical angle",
		degrees(material.CriticalAngle(quarter.Transverse, quarter.Longitudinal)), "35.26")
}

// TestLineForceReciprocity checks Betti's reciprocity. A force normal to the surface causes a
// displacement at a far point. A force at that point, along the polarisation, causes the same
// normal displacement at the surface. The displacement at the surface is the sum of the incident
// and the two reflected plane waves. Package material calculates them from the boundary conditions,
// without the solution of Miller and Pursey.
func TestLineForceReciprocity(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 8))
	for range 2000 {
		m := material.Isotropic{Density: 1000 + 9000*rng.Float64(),
			Longitudinal: 2000 + 8000*rng.Float64()}
		m.Transverse = m.Longitudinal * (0.2 + 0.6*rng.Float64())
		surface := check.Must(material.NewFreeSurface(m))
		angle := math.Pi / 2 * rng.Float64()
		kappa := m.Longitudinal / m.Transverse
		for _, mode := range []material.Mode{material.L, material.T} {
			out := check.Must(surface.Scatter(mode, angle))
			sin, cos := math.Sincos(angle)
			p := sin / m.Speed(mode)
			cosine := func(c float64) complex128 { return cmplx.Sqrt(complex((1-c*p)*(1+c*p), 0)) }
			r := out.Displacement.Reflected
			normal := complex(cos, 0) // of the incident wave, along its direction of travel
			if mode == material.T {
				normal = complex(-sin, 0)
			}
			normal += r[material.T] * complex(m.Transverse*p, 0)
			normal -= r[material.L] * cosine(m.Longitudinal)
			want := normal / 2 // 2 is the normal displacement for L at normal incidence
			if mode == material.T {
				want *= complex(math.Pow(kappa, 1.5), 0) // Green's function is proportional to c^(-3/2)
			}
			got := LineForce(m, mode, angle)
			if !(cmplx.Abs(got-want) <= 1e-11*math.Pow(kappa, 1.5)) {
				t.Fatalf("%v at %v rad in %+v: got %v, want %v", mode, angle, m, got, want)
			}
		}
	}
}

func TestContactElementDirectivity(t *testing.T) {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	e := ContactElement{Width: 0.5e-3, Frequency: 5e6, Medium: steel}
	for _, degree := range []float64{-70, -30, 0, 10, 45, 80} {
		for _, mode := range []material.Mode{material.L, material.T} {
			a := radians(degree)
			s := Strip{Width: e.Width, Wavelength: steel.Speed(mode) / e.Frequency}
			want := LineForce(steel, mode, a) * complex(s.Directivity(a), 0)
			if got := e.Directivity(mode, a); !(cmplx.Abs(got-want) <= 1e-15) {
				t.Errorf("%v at %v°: got %v, want %v", mode, degree, got, want)
			}
			// L is even, T odd.
			mirror := e.Directivity(mode, -a)
			if mode == material.T {
				mirror = -mirror
			}
			if got := e.Directivity(mode, a); got != mirror {
				t.Errorf("%v at ±%v°: %v and %v", mode, degree, got, mirror)
			}
		}
	}
	water := material.Isotropic{Density: 998, Longitudinal: 1482}
	check.Within(t, "line in a fluid", real(LineForce(water, material.L, 1)), math.Cos(1), 1e-16)
	if got := (ContactElement{Width: 1e-3, Frequency: 1e6, Medium: water}).Directivity(material.T, 1); got != 0 {
		t.Errorf("T in a fluid: got %v, want 0", got)
	}
}

// TestWedgeElementDirectivity compares a wedge element with the product of its factors, and checks
// special cases.
func TestWedgeElementDirectivity(t *testing.T) {
	acrylic := material.Isotropic{Density: 1180, Longitudinal: 2730, Transverse: 1430}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	element := ContactElement{Width: 0.5e-3, Frequency: 5e6, Medium: acrylic}
	w := WedgeElement{Element: element, Tilt: radians(36), Part: steel,
		Contact: material.LiquidFilm}
	// Straight ahead at 36° only the contact face has an effect. The energy that enters as T lies
	// between its values at 35° and 40°, 0.2538 and 0.2217, an independent calculation with mpmath
	// 1.2.1.
	beta := material.Refract(w.Tilt, acrylic.Longitudinal, steel.Transverse)
	d := cmplx.Abs(check.Must(w.Directivity(material.T, beta)))
	energy := d * d * steel.Impedance(material.T) * math.Cos(beta) / (acrylic.Impedance(material.L) * math.Cos(w.Tilt))
	if !(energy > 0.2217375 && energy < 0.2538100) {
		t.Errorf("energy entering as T at 36°: got %v, want between 0.2217 and 0.2538", energy)
	}
	// Away from straight ahead: both factors.
	boundary := check.Must(material.NewBoundary(acrylic, steel, material.LiquidFilm))
	incidence := radians(42)
	out := check.Must(boundary.Scatter(material.L, incidence))
	beta = material.Refract(incidence, acrylic.Longitudinal, steel.Transverse)
	want := element.Directivity(material.L, radians(6)) * out.Displacement.Transmitted[material.T]
	if got := check.Must(w.Directivity(material.T, beta)); !(cmplx.Abs(got-want) <= 1e-12) {
		t.Errorf("T at %v°: got %v, want %v", degrees(beta), got, want)
	}
	// In the mirror image of the set-up L is the same and T has the opposite sign.
	mirror := w
	mirror.Tilt = -w.Tilt
	for _, a := range []float64{-0.7, -0.1, 0, 0.3, 0.8} {
		if got, want := check.Must(mirror.Directivity(material.T, -a)), -check.Must(w.Directivity(material.T, a)); got != want {
			t.Errorf("mirror image, T at %v rad: got %v, want %v", a, got, want)
		}
		if got, want := check.Must(mirror.Directivity(material.L, -a)), check.Must(w.Directivity(material.L, a)); got != want {
			t.Errorf("mirror image, L at %v rad: got %v, want %v", a, got, want)
		}
	}
	// A welded wedge of the material of the part has no effect.
	same := WedgeElement{Element: ContactElement{Width: 0.5e-3, Frequency: 5e6, Medium: steel},
		Part: steel}
	for _, a := range []float64{-1, 0, 0.5} {
		if got, want := check.Must(same.Directivity(material.L, a)), same.Element.Directivity(material.L, a); !(cmplx.Abs(got-want) <= 1e-12) {
			t.Errorf("no wedge, L at %v rad: got %v, want %v", a, got, want)
		}
		// Up to the critical angle a longitudinal wave leads to T, with the coefficient 0.
		if got := check.Must(same.Directivity(material.T, a/2)); !(cmplx.Abs(got) <= 1e-12) {
			t.Errorf("no wedge, T at %v rad: got %v, want 0", a/2, got)
		}
	}
	if got := check.Must(same.Directivity(material.T, 1)); !cmplx.IsNaN(got) {
		t.Errorf("T from L beyond the critical angle: got %v, want NaN", got)
	}
	pool := WedgeElement{Element: element,
		Part: material.Isotropic{Density: 998, Longitudinal: 1482}}
	if got := check.Must(pool.Directivity(material.T, 0.2)); got != 0 {
		t.Errorf("T in a fluid part: got %v, want 0", got)
	}
}

func TestElementRanges(t *testing.T) {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	good := WedgeElement{Element: ContactElement{Width: 1e-3, Frequency: 1e6, Medium: steel}, Part: steel}
	for _, tt := range []struct {
		change func(*WedgeElement)
		mode   material.Mode
		angle  float64
		want   string
	}{
		{func(w *WedgeElement) { w.Element.Width = 0 }, material.L, 0.1, "beam: width of the element 0 m"},
		{func(w *WedgeElement) { w.Element.Frequency = math.NaN() }, material.L, 0.1, "beam: frequency NaN Hz"},
		{func(w *WedgeElement) { w.Element.Medium.Density = -1 }, material.L, 0.1,
			"beam: medium of the element: material: density -1"},
		{func(w *WedgeElement) { w.Tilt = 2 }, material.L, 0.1, "beam: tilt of the element 2 rad"},
		{func(w *WedgeElement) { w.Part.Longitudinal = 0 }, material.L, 0.1,
			"beam: contact face: material: longitudinal speed 0"},
		{func(w *WedgeElement) { w.Contact = 9 }, material.L, 0.1, "beam: contact face: material: contact 9"},
		{func(*WedgeElement) {}, material.L, 1.6, "beam: angle 1.6 rad: want −π/2 to π/2"},
		{func(*WedgeElement) {}, 5, 0.1, "beam: mode Mode(5): want L or T"},
	} {
		w := good
		tt.change(&w)
		_, err := w.Directivity(tt.mode, tt.angle)
		check.Error(t, err, tt.want)
	}
	for name, got := range map[string]complex128{
		"angle NaN": good.Element.Directivity(material.L, math.NaN()),
		"mode":      good.Element.Directivity(material.Mode(5), 0.1),
		"element":   ContactElement{}.Directivity(material.L, 0),
		"medium":    LineForce(material.Isotropic{}, material.L, 0),
	} {
		if !cmplx.IsNaN(got) {
			t.Errorf("%s: got %v, want NaN", name, got)
		}
	}
}
