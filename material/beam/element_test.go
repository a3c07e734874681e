// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package beam_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/material/beam"
)

// Independent calculation from Miller and Pursey's formulas, mpmath 1.2.1: L
// over L straight ahead, and the modulus of T in their units, ours over κ².
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
			l := beam.LineForce(m, material.L, radians(tt.angle))
			sameAsPrinted(t, what+", L", real(l), tt.want[i][0])
			if imag(l) != 0 {
				t.Errorf("%s: L is complex, %v", what, l)
			}
			sameAsPrinted(t, what+", T", cmplx.Abs(beam.LineForce(m, material.T, radians(tt.angle)))/(kappa*kappa), tt.want[i][1])
		}
	}
}

// Exact points of the formulas.
func TestLineForceIdentities(t *testing.T) {
	quarter := material.Isotropic{Density: 1, Longitudinal: math.Sqrt(3), Transverse: 1}
	two := material.Isotropic{Density: 1, Longitudinal: 2, Transverse: 1}
	sameWithin(t, "nu = 1/4, L at 60°", real(beam.LineForce(quarter, material.L, math.Pi/3)), 0.5, 1e-15)
	sameWithin(t, "kappa = 2, T at 45°", cmplx.Abs(beam.LineForce(two, material.T, math.Pi/4))/4, 0.5, 1e-15)
	sameWithin(t, "kappa = 2, T at 30°", cmplx.Abs(beam.LineForce(two, material.T, math.Pi/6)), 0, 1e-7)
	rng := rand.New(rand.NewPCG(3, 7))
	for range 500 {
		m := material.Isotropic{Density: 1000, Longitudinal: 1000 + 9000*rng.Float64()}
		m.Transverse = m.Longitudinal * (0.05 + 0.8*rng.Float64())
		kappa := m.Longitudinal / m.Transverse
		if got := beam.LineForce(m, material.L, 0); got != 1 {
			t.Fatalf("L straight ahead: got %v, want 1", got)
		}
		if got := beam.LineForce(m, material.T, 0); got != 0 {
			t.Fatalf("T straight ahead: got %v, want 0", got)
		}
		sameWithin(t, "T at 45° in Miller and Pursey's units", cmplx.Abs(beam.LineForce(m, material.T, math.Pi/4))/(kappa*kappa)*math.Sqrt(2*kappa), 1, 1e-12)
		// The zero is one of a square root, good to half the digits, over cos² 2θ,
		// which vanishes with it where the critical angle is 45°.
		critical := material.CriticalAngle(m.Transverse, m.Longitudinal)
		if cos2 := math.Cos(2 * critical); math.Abs(cos2) > 0.1 {
			sameWithin(t, "T at the critical angle", cmplx.Abs(beam.LineForce(m, material.T, critical))*cos2*cos2, 0, 1e-7*math.Pow(kappa, 1.5))
		}
	}
	// For ν = 1/4 the pattern of T has its null at the critical angle 35.26°, as
	// stated for the elastic half-space in Geophysics, doi 10.1190/1.1441711.
	sameAsPrinted(t, "critical angle", degrees(material.CriticalAngle(quarter.Transverse, quarter.Longitudinal)), "35.26")
}

// Reciprocity (Betti): what a force normal to the surface sends to a far point
// is the normal displacement that a force at that point, along the polarisation,
// brings about at the surface. The latter is the sum of the incident and the two
// reflected plane waves, which package material computes from the boundary
// conditions: nothing of Miller and Pursey's solution is in it.
func TestLineForceReciprocity(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 8))
	for range 2000 {
		m := material.Isotropic{Density: 1000 + 9000*rng.Float64(), Longitudinal: 2000 + 8000*rng.Float64()}
		m.Transverse = m.Longitudinal * (0.2 + 0.6*rng.Float64())
		surface, err := material.NewFreeSurface(m)
		if err != nil {
			t.Fatal(err)
		}
		angle := math.Pi / 2 * rng.Float64()
		kappa := m.Longitudinal / m.Transverse
		for _, mode := range []material.Mode{material.L, material.T} {
			out, err := surface.Scatter(mode, angle)
			if err != nil {
				t.Fatal(err)
			}
			sin, cos := math.Sincos(angle)
			p := sin / m.Speed(mode)
			cosine := func(c float64) complex128 { return cmplx.Sqrt(complex((1-c*p)*(1+c*p), 0)) }
			r := out.Displacement.Reflected
			normal := complex(cos, 0) // of the incident wave, along its direction of travel
			if mode == material.T {
				normal = complex(-sin, 0)
			}
			normal += r[material.T]*complex(m.Transverse*p, 0) - r[material.L]*cosine(m.Longitudinal)
			want := normal / 2 // 2 is the normal displacement for L straight on
			if mode == material.T {
				want *= complex(math.Pow(kappa, 1.5), 0) // Green's function goes with c^(-3/2)
			}
			got := beam.LineForce(m, mode, angle)
			if !(cmplx.Abs(got-want) <= 1e-11*math.Pow(kappa, 1.5)) {
				t.Fatalf("%v at %v rad in %+v: got %v, want %v", mode, angle, m, got, want)
			}
		}
	}
}

func TestElementDirectivity(t *testing.T) {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	e := beam.Element{Width: 0.5e-3, Frequency: 5e6, Medium: steel}
	for _, degree := range []float64{-70, -30, 0, 10, 45, 80} {
		for _, mode := range []material.Mode{material.L, material.T} {
			a := radians(degree)
			s := beam.Strip{Width: e.Width, Wavelength: steel.Speed(mode) / e.Frequency}
			want := beam.LineForce(steel, mode, a) * complex(s.Directivity(a), 0)
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
	sameWithin(t, "line in a fluid", real(beam.LineForce(water, material.L, 1)), math.Cos(1), 1e-16)
	if got := (beam.Element{Width: 1e-3, Frequency: 1e6, Medium: water}).Directivity(material.T, 1); got != 0 {
		t.Errorf("T in a fluid: got %v, want 0", got)
	}
}

// A wedge element against its parts, taken one by one, and special cases.
func TestWedgeElementDirectivity(t *testing.T) {
	acrylic := material.Isotropic{Density: 1180, Longitudinal: 2730, Transverse: 1430}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	element := beam.Element{Width: 0.5e-3, Frequency: 5e6, Medium: acrylic}
	w := beam.WedgeElement{Element: element, Tilt: radians(36), Part: steel, Contact: material.LiquidFilm}
	// Straight ahead at 36°: nothing but the contact face counts. The energy that
	// enters as T, from an independent calculation (mpmath 1.2.1) between the
	// values at 35° and 40°, 0.2538 and 0.2217.
	beta := material.Refract(w.Tilt, acrylic.Longitudinal, steel.Transverse)
	d := cmplx.Abs(w.Directivity(material.T, beta))
	energy := d * d * steel.Impedance(material.T) * math.Cos(beta) / (acrylic.Impedance(material.L) * math.Cos(w.Tilt))
	if !(energy > 0.2217375 && energy < 0.2538100) {
		t.Errorf("energy entering as T at 36°: got %v, want between 0.2217 and 0.2538", energy)
	}
	// Half-way down, one factor at a time.
	boundary, err := material.NewBoundary(acrylic, steel, material.LiquidFilm)
	if err != nil {
		t.Fatal(err)
	}
	incidence := radians(42)
	out, err := boundary.Scatter(material.L, incidence)
	if err != nil {
		t.Fatal(err)
	}
	beta = material.Refract(incidence, acrylic.Longitudinal, steel.Transverse)
	want := element.Directivity(material.L, radians(6)) * out.Displacement.Transmitted[material.T]
	if got := w.Directivity(material.T, beta); !(cmplx.Abs(got-want) <= 1e-12) {
		t.Errorf("T at %v°: got %v, want %v", degrees(beta), got, want)
	}
	// The mirror image of the set-up: L the same, T of the other sign.
	mirror := w
	mirror.Tilt = -w.Tilt
	for _, a := range []float64{-0.7, -0.1, 0, 0.3, 0.8} {
		if got, want := mirror.Directivity(material.T, -a), -w.Directivity(material.T, a); got != want {
			t.Errorf("mirror image, T at %v rad: got %v, want %v", a, got, want)
		}
		if got, want := mirror.Directivity(material.L, -a), w.Directivity(material.L, a); got != want {
			t.Errorf("mirror image, L at %v rad: got %v, want %v", a, got, want)
		}
	}
	// A wedge of the part's own material, welded on, is not there.
	same := beam.WedgeElement{Element: beam.Element{Width: 0.5e-3, Frequency: 5e6, Medium: steel}, Part: steel}
	for _, a := range []float64{-1, 0, 0.5} {
		if got, want := same.Directivity(material.L, a), same.Element.Directivity(material.L, a); !(cmplx.Abs(got-want) <= 1e-12) {
			t.Errorf("no wedge, L at %v rad: got %v, want %v", a, got, want)
		}
		// Snell's law has a longitudinal wave for T up to the critical angle only.
		if got := same.Directivity(material.T, a/2); !(cmplx.Abs(got) <= 1e-12) {
			t.Errorf("no wedge, T at %v rad: got %v, want 0", a/2, got)
		}
	}
	if got := same.Directivity(material.T, 1); !cmplx.IsNaN(got) {
		t.Errorf("T from L beyond the critical angle: got %v, want NaN", got)
	}
	pool := beam.WedgeElement{Element: element, Part: material.Isotropic{Density: 998, Longitudinal: 1482}}
	if got := pool.Directivity(material.T, 0.2); got != 0 {
		t.Errorf("T in a fluid part: got %v, want 0", got)
	}
}

func TestElementValidate(t *testing.T) {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	good := beam.WedgeElement{Element: beam.Element{Width: 1e-3, Frequency: 1e6, Medium: steel}, Part: steel}
	if err := good.Validate(); err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		change func(*beam.WedgeElement)
		want   string
	}{
		{func(w *beam.WedgeElement) { w.Element.Width = 0 }, "beam: width of the element 0 m"},
		{func(w *beam.WedgeElement) { w.Element.Frequency = math.NaN() }, "beam: frequency NaN Hz"},
		{func(w *beam.WedgeElement) { w.Element.Medium.Density = -1 }, "beam: medium of the element: material: density -1"},
		{func(w *beam.WedgeElement) { w.Tilt = 2 }, "beam: tilt of the element 2 rad"},
		{func(w *beam.WedgeElement) { w.Part.Longitudinal = 0 }, "beam: contact face: material: longitudinal speed 0"},
		{func(w *beam.WedgeElement) { w.Contact = 9 }, "beam: contact face: material: contact 9"},
	} {
		w := good
		tt.change(&w)
		if err := w.Validate(); err == nil || !strings.HasPrefix(err.Error(), tt.want) {
			t.Errorf("error %v, want %q", err, tt.want)
		}
		if got := w.Directivity(material.L, 0.1); !cmplx.IsNaN(got) {
			t.Errorf("%s: got %v, want NaN", tt.want, got)
		}
	}
	for name, got := range map[string]complex128{
		"angle":        good.Directivity(material.L, 1.6),
		"angle NaN":    good.Element.Directivity(material.L, math.NaN()),
		"mode":         good.Directivity(material.Mode(5), 0.1),
		"element mode": good.Element.Directivity(material.Mode(5), 0.1),
		"element":      beam.Element{}.Directivity(material.L, 0),
		"medium":       beam.LineForce(material.Isotropic{}, material.L, 0),
	} {
		if !cmplx.IsNaN(got) {
			t.Errorf("%s: got %v, want NaN", name, got)
		}
	}
}
