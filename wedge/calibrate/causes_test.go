// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/material/beam"
)

// TestDelayOfWidth measures, in captures of the strips of wide elements, how the delay of the echo
// depends on the angle of incidence. The spectrum of a strip is real, so the pulse stays symmetric:
// the width changes its shape, but moves its maximum by less than 1.5 % of a period.
func TestDelayOfWidth(t *testing.T) {
	for trial := range uint64(4) {
		rng := rand.New(rand.NewPCG(3, trial))
		s := drawSetting(rng)
		s.offset, s.oblique, s.longer, s.jitter, s.noise = 0, 0, 0, 0, 0
		clear(s.delays)
		fc := s.array.CentreFrequency
		arrivals := check.Must(Pick(s.capture(t, rng), &PickOptions{From: 1 / fc, Most: 1}))
		exact := faceArrivals(s.array.Elements, s.distance, s.angle, s.roll, s.medium.Longitudinal)
		most := 0.0
		for k, a := range arrivals {
			apart := s.array.Elements[a.Transmit].X - s.array.Elements[a.Receive].X
			sine := math.Abs(apart) * math.Cos(s.angle) / (exact[k].Time * s.medium.Longitudinal)
			if late := math.Abs(a.Time - exact[k].Time); sine <= math.Sin(14*degree) {
				most = max(most, late*fc)
			}
		}
		t.Logf("%.1f MHz, %.0f°: at most %.4f periods", fc*1e-6, s.angle/degree, most)
		if !(most <= 0.015) {
			t.Errorf("trial %d: an echo up to 14° is %.4f periods from its time, want at most 0.015", trial, most)
		}
	}
}

// curved returns the group delay of the second term of the reflected wave of a line source, s:
//
//	∫A(θ)·exp(ikL·cos(θ−θ₀))dθ ∝ A·(1 − i/(2kL)·(A″/A + 1/4))
//
// A is the product of both directivities and of the reflection coefficient (method of stationary
// phase; second term derived from the moments of the Gaussian). The array is on a wedge of 36°.
func curved(t *testing.T, b material.Boundary, medium material.Isotropic, width, frequency, length, angle float64) float64 {
	phase := func(f float64) float64 {
		amplitude := func(angle float64) complex128 {
			e := beam.ContactElement{Width: width, Frequency: f, Medium: medium}
			s := check.Must(b.Scatter(material.L, math.Abs(angle)))
			return e.Directivity(material.L, 36*degree+angle) * e.Directivity(material.L, 36*degree-angle) *
				s.Displacement.Reflected[material.L]
		}
		const h = 1e-3
		here := amplitude(angle)
		second := (amplitude(angle+h) - 2*here + amplitude(angle-h)) / (h * h)
		k := 2 * math.Pi * f / medium.Longitudinal
		return cmplx.Phase(1 - 1i*(second/here+0.25)/complex(2*k*length, 0))
	}
	const df = 1e3
	return (phase(frequency+df) - phase(frequency-df)) / (4 * math.Pi * df)
}

// TestDelayOfCurvature bounds the second term for a wedge of polystyrene on steel.
func TestDelayOfCurvature(t *testing.T) {
	wedge := material.Isotropic{Density: 1055, Longitudinal: 2340, Transverse: 1150}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	b := check.Must(material.NewBoundary(wedge, steel, material.LiquidFilm))
	at := func(angle float64) float64 { return curved(t, b, wedge, 0.5e-3, 4e6, 24e-3, angle*degree) * 1e9 }
	t.Logf("delay %.2f ns at 0°, %.2f at 10°, %.2f at 14°, %.2f at 18°, %.2f at 22°", at(0), at(10), at(14), at(18), at(22))
	for _, angle := range []float64{5, 10, 14, 18} {
		if change := at(angle) - at(0); !(math.Abs(change) <= 1) {
			t.Errorf("the delay changes by %.2f ns up to %v°, want at most 1 ns", change, angle)
		}
	}
	// Near the critical angle of 23.3° the term has no bound.
	if change := at(22) - at(0); !(math.Abs(change) >= 1.5) {
		t.Errorf("the delay changes by %.2f ns up to 22°, want above 1.5 ns", change)
	}
}

// film returns the group delay of the reflection of a wedge of polystyrene from steel through a film
// of water, by the impedances of layers (Brekhovskikh, Waves in Layered Media, 1960, from memory).
func film(thickness, frequency, angle float64) float64 {
	reflected := func(w float64) complex128 {
		p := math.Sin(angle) / 2340
		cosine := func(c float64) complex128 { return cmplx.Sqrt(complex(1-p*p*c*c, 0)) }
		impedances := func(density, cl, ct float64) (l, t complex128) {
			sine := complex(p*ct, 0)
			double := 1 - 2*sine*sine
			other := 2 * sine * cosine(ct)
			return complex(density*cl, 0) * double * double / cosine(cl), complex(density*ct, 0) * other * other / cosine(ct)
		}
		const water = 1482.0
		zl, zt := impedances(7850, 5920, 3240)
		below, between := zl+zt, complex(998*water, 0)/cosine(water)
		turn := 1i * cmplx.Tan(complex(w*thickness/water, 0)*cosine(water))
		seen := between * (below - between*turn) / (between - below*turn)
		zl, zt = impedances(1055, 2340, 1150)
		return (seen + zt - zl) / (seen + zt + zl)
	}
	const dw = 1e3
	w := 2 * math.Pi * frequency
	return cmplx.Phase(reflected(w+dw)/reflected(w-dw)) / (2 * dw)
}

// TestDelayOfFilm states the delay of a film of couplant: 2.1 ns for each micrometre, nearly without
// a change with the angle of incidence.
func TestDelayOfFilm(t *testing.T) {
	const thickness = 10e-6
	normal := film(thickness, 4e6, 0)
	if !(math.Abs(normal-21.5e-9) <= 0.2e-9) {
		t.Errorf("a film of 10 µm delays by %v s, want 21.5 ns", normal)
	}
	if change := film(thickness, 4e6, 17*degree) - normal; !(change >= -1.6e-9 && change <= -1.2e-9) {
		t.Errorf("the delay changes by %v s up to 17°, want -1.4 ns", change)
	}
}

// TestDelayOfCapture measures the oblique delay of a full-wave capture: the time of a pair, less the
// mean of the pulse-echo times of both elements, against straight rays. A part changes with the path
// as the curvature of the wave says. The rest does not depend on the path, and grows with the square
// of the sine as the first oblique term.
func TestDelayOfCapture(t *testing.T) {
	record, arrivals := captured(t, "weld32")
	wedge := material.Isotropic{Density: 1055, Longitudinal: 2340, Transverse: 1150}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	face := check.Must(material.NewBoundary(wedge, steel, material.LiquidFilm))
	elements := record.Capture.Array.Elements
	curve := func(length, angle float64) float64 { return curved(t, face, wedge, 0.5e-3, 4e6, length, angle) }
	// late returns the delay of an arrival with and without the curvature, s.
	late := func(a Arrival) (whole, rest, sine float64) {
		p, q := elements[a.Transmit], elements[a.Receive]
		length := math.Hypot(p.X-q.X, p.Z+q.Z)
		sine = math.Abs(p.X-q.X) / length
		whole = a.Time - length/wedge.Longitudinal
		if !(math.Abs(whole) <= 40e-9 && sine <= math.Sin(14*degree)) {
			return 0, 0, math.NaN() // another echo
		}
		return whole, whole - curve(length, math.Asin(sine)), sine
	}
	own := make([][2]float64, len(elements))
	for _, a := range arrivals {
		if whole, rest, sine := late(a); a.Transmit == a.Receive && sine == 0 {
			own[a.Transmit] = [2]float64{whole, rest}
		}
	}
	var whole, rest []float64 // oblique delay at 20°, ns
	for _, a := range arrivals {
		w, r, sine := late(a)
		if a.Transmit >= a.Receive || !(sine >= math.Sin(8*degree)) {
			continue
		}
		tx, rx := own[a.Transmit], own[a.Receive]
		at20 := 1e9 * obliqueSine * obliqueSine / (sine * sine)
		whole = append(whole, at20*(w-(tx[0]+rx[0])/2))
		rest = append(rest, at20*(r-(tx[1]+rx[1])/2))
	}
	mean, deviation := stat.MeanStdDev(rest, nil)
	_, before := stat.MeanStdDev(whole, nil)
	t.Logf("%d pairs: at 20° %.2f ± %.2f ns beside the curvature, ± %.2f ns with it", len(rest), mean, deviation, before)
	if !(mean >= 9 && mean <= 11) || !(deviation <= 0.6*before) {
		t.Errorf("delay at 20° %.2f ± %.2f ns, with the curvature ± %.2f ns: want 9 to 11 ns, and a scatter of 0.6 at most",
			mean, deviation, before)
	}
}
