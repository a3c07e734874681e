// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package diffraction

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// wavelengths returns a crack of a length in wavelengths of longitudinal waves.
func wavelengths(m material.Isotropic, length float64) *Crack {
	return check.Must(NewCrack(m, length*m.Longitudinal, 1))
}

// echo returns the modulus of the back-scatter at an angle in degrees from the normal.
func (c *Crack) echo(mode material.Mode, degrees float64) float64 {
	a := math.Pi/2 - degrees*degree
	return cmplx.Abs(c.Amplitude(mode, mode, a, a))
}

// TestAmplitude compares with an independent program (Chebyshev-Galerkin, optical theorem to
// 1e-12). Its digits are within 1.5e-7 of the values here. The values here do not change in 12
// digits with more functions and more nodes (TestConvergence).
func TestAmplitude(t *testing.T) {
	for _, c := range []struct {
		length         float64 // wavelengths of longitudinal waves
		ll             [7]float64
		tt             [5]float64
		specular       [4]float64
		crossL, crossT float64 // over the length
		convert        float64 // L at normal incidence, T at 45 degrees; 0 if not known
	}{
		{0.25, [7]float64{.3417779, .3185051, .2577100, .1806035, .1095193, .0612800, .0448086},
			[5]float64{.4365071, .3785779, .2950479, .2567856, .2149171},
			[4]float64{.3048508, .2178601, .1299410, .0740706}, 2.66064342, 1.15713628, 0.5513790},
		{0.5, [7]float64{.4448207, .3817624, .2406848, .1096724, .0349348, .0190376, .0230114},
			[5]float64{1.0560972, .6983166, .0974640, .3147487, .3145450},
			[4]float64{.4104630, .3211914, .2178114, .1439647}, 1.77683393, 2.15954849, 0.5488336},
		{1, [7]float64{.9381675, .5317519, .0965012, .2438325, .1397608, .0416987, .0108610},
			[5]float64{1.7012906, .3170965, .3880010, .0611739, .3331623},
			[4]float64{.8857439, .6258603, .3052138, .1712176}, 1.87462734, 1.86523645, 0.3579864},
		{2, [7]float64{1.9438987, .1581555, .0629707, .0702590, .1818502, .0598911, .0046382},
			[5]float64{3.5273732, .3882541, .5887848, .3628997, .0379191},
			[4]float64{1.8305315, 1.1414709, .5442736, .2595522}, 1.94369593, 1.93698973, 0.6501462},
		{3, [7]float64{2.9529997, .6512823, .1173095, .0810062, .1467732, .0721139, .0025984},
			[5]float64{5.3641839, .3126691, .6375071, .3214632, .4010140},
			[4]float64{2.6435366, 1.8127327, .8180689, .2689328}, 1.96864319, 1.96497966, 0},
		{5, [7]float64{4.9758940, .5331153, .1458421, .1475672, .0898023, .0822530, .0077509},
			[5]float64{9.0390229, .4728533, .4514566, .2974479, .1588176},
			[4]float64{4.4425670, 2.9760477, 1.3666741, .3812868}, 1.99035756, 1.98749111, 0},
	} {
		crack := wavelengths(steel, c.length)
		const tolerance = 2e-7
		for i, want := range c.ll {
			check.Within(t, "LL back-scatter", crack.echo(material.L, 15*float64(i)), want, tolerance)
		}
		for i, want := range c.tt {
			check.Within(t, "TT back-scatter", crack.echo(material.T, 15*float64(i)), want, tolerance)
		}
		for i, want := range c.specular {
			off := 15 * float64(i+1) * degree
			got := cmplx.Abs(crack.Amplitude(material.L, material.L, math.Pi/2-off, math.Pi/2+off))
			check.Within(t, "LL specular", got, want, tolerance)
		}
		length := c.length * steel.Longitudinal
		check.Within(t, "cross-section of L", crack.CrossSection(material.L, math.Pi/2)/length, c.crossL, 2e-8)
		check.Within(t, "cross-section of T", crack.CrossSection(material.T, math.Pi/2)/length, c.crossT, 2e-8)
		if c.convert != 0 {
			got := cmplx.Abs(crack.Amplitude(material.L, material.T, math.Pi/2, math.Pi/4))
			check.Within(t, "L to T", got, c.convert, tolerance)
		}
	}
	for _, c := range []struct{ length, normal, at30, at60 float64 }{ // Poisson's ratio of 1/4, same source
		{0.5, .4520109, .2438678, .0420540}, {1, .9576319, .1400541, .1352013}, {2, 1.9941695, .0176158, .1763888},
	} {
		crack := wavelengths(quarter, c.length)
		for degrees, want := range map[float64]float64{0: c.normal, 30: c.at30, 60: c.at60} {
			check.Within(t, "LL back-scatter, 1/4", crack.echo(material.L, degrees), want, 2e-7)
		}
	}
}

// TestConvergence takes more functions, and another split of the integrals.
func TestConvergence(t *testing.T) {
	for _, length := range []float64{0.01, 0.5, 4} {
		crack := wavelengths(steel, length)
		more := *crack
		g := newGalerkin(crack.tip.l*crack.half, crack.tip.t*crack.half, crack.normal.n+15)
		g.split += 40
		g.body()
		g.tail()
		more.normal, more.tangential = check.Must(g.invert(g.matrix[0])), check.Must(g.invert(g.matrix[1]))
		for in := material.L; in <= material.T; in++ {
			for out := material.L; out <= material.T; out++ {
				for a := 0.1; a < 6; a += 0.7 {
					want := more.Amplitude(in, out, a, 2*a+0.3)
					got := crack.Amplitude(in, out, a, 2*a+0.3)
					if !(cmplx.Abs(got-want) <= 1e-11*length) {
						t.Errorf("length %v, %v to %v: %v, with more functions %v", length, in, out, got, want)
					}
				}
			}
		}
	}
}

// TestEnergy compares the optical theorem with the power that all directions and both modes
// receive.
func TestEnergy(t *testing.T) {
	for _, length := range []float64{0.05, 0.5, 2} {
		crack := wavelengths(steel, length)
		for in := material.L; in <= material.T; in++ {
			for _, source := range []float64{math.Pi / 2, 1, 0.1} {
				const directions = 180 // enough for exponential convergence
				power := 0.0
				for out := material.L; out <= material.T; out++ {
					ratio := steel.Speed(out) / steel.Speed(in) // of wavelengths, and of intensities
					for k := range directions {
						s := cmplx.Abs(crack.Amplitude(in, out, source, 2*math.Pi*float64(k)/directions))
						power += s * s * ratio * ratio * steel.Speed(in) * 2 * math.Pi / directions
					}
				}
				check.Within(t, "power over the cross-section", power/crack.CrossSection(in, source), 1, 1e-11)
			}
		}
	}
}

// TestCrackReciprocity exchanges source and receiver: cT²·S(L, T) = cL²·S(T, L), closed form. In
// displacements without the root of the wavelength, the ratio is (cL/cT)^1.5.
func TestCrackReciprocity(t *testing.T) {
	crack := wavelengths(steel, 1.3)
	for a := 0.1; a < 2*math.Pi; a += 0.7 {
		for b := 0.2; b < 2*math.Pi; b += 0.9 {
			for in := material.L; in <= material.T; in++ {
				for out := material.L; out <= material.T; out++ {
					there := crack.Amplitude(in, out, a, b) * complex(math.Pow(steel.Speed(out), 2), 0)
					back := crack.Amplitude(out, in, b, a) * complex(math.Pow(steel.Speed(in), 2), 0)
					if !(cmplx.Abs(there-back) <= 1e-11*math.Pow(steel.Longitudinal, 2)) {
						t.Fatalf("%v at %.1f rad, %v at %.1f rad: %v, backwards %v", in, a, out, b, there, back)
					}
				}
			}
		}
	}
}

// TestShortCrack compares a crack of 1e-4 wavelengths with the static opening under
// tension or shear, 2·(1 - ν)/μ·stress·√(a² - X²) (closed form; I. N. Sneddon, 1946, from memory).
// Its integral over X is π·(1 - ν)·a²/μ·stress.
func TestShortCrack(t *testing.T) {
	const length = 1e-4
	crack := wavelengths(steel, length)
	mu := steel.ShearModulus()
	ratio := steel.Transverse / steel.Longitudinal
	poisson := (1 - 2*ratio*ratio) / (2 * (1 - ratio*ratio))
	static := func(_, _, normal, shear float64) (x, y complex128) {
		moved := math.Pi * (1 - poisson) / mu * crack.half * crack.half
		return complex(0, moved*shear), complex(0, moved*normal)
	}
	for in := material.L; in <= material.T; in++ {
		for out := material.L; out <= material.T; out++ {
			for a := 0.2; a < 6; a += 0.8 {
				want := crack.tip.radiate(in, out, a, 1.7*a, static)
				got := crack.Amplitude(in, out, a, 1.7*a)
				if !(cmplx.Abs(got-want) <= 2e-5*length*length) {
					t.Errorf("%v to %v at %.1f rad: %v, static %v", in, out, a, got, want)
				}
			}
		}
	}
}

// TestLongCrack compares the echo at normal incidence with Kirchhoff's approximation: the length in
// wavelengths, and a cross-section of twice the length (closed form).
func TestLongCrack(t *testing.T) {
	for mode := material.L; mode <= material.T; mode++ {
		crack := check.Must(NewCrack(steel, 20*steel.Speed(mode), 1))
		check.Within(t, "echo", crack.echo(mode, 0)/20, 1, 5e-3)
		check.Within(t, "cross-section", crack.CrossSection(mode, math.Pi/2)/(20*steel.Speed(mode)), 2, 1e-2)
	}
}

// TestNearTip isolates the echo of the nearer tip of a crack by its arrival, and compares it with
// the solution for a half plane, another method. The mean over frequencies is the echo at that time
// in a pulse with a Gaussian spectrum. All other echoes of the crack arrive later.
func TestNearTip(t *testing.T) {
	const length, width, step = 3.0, 0.2, 0.02 // wavelengths; shares of the frequency
	tip := check.Must(NewTip(steel))
	mean, total := map[[3]int]complex128{}, 0.0
	psis := []float64{20, 30, 45}
	for f := 0.05; f < 1.95; f += step {
		crack := check.Must(NewCrack(steel, length*steel.Longitudinal, f))
		weight := math.Exp(-math.Pow((f-1)/width, 2) / 2)
		total += weight
		for in := material.L; in <= material.T; in++ {
			for out := material.L; out <= material.T; out++ {
				for i, psi := range psis {
					path := length / 2 * steel.Longitudinal * math.Cos(psi*degree) * (1/steel.Speed(in) + 1/steel.Speed(out))
					s := crack.Amplitude(in, out, math.Pi-psi*degree, math.Pi-psi*degree)
					mean[[3]int{int(in), int(out), i}] += complex(weight, 0) * s * cmplx.Rect(1, 2*math.Pi*f*path)
				}
			}
		}
	}
	for in := material.L; in <= material.T; in++ {
		for out := material.L; out <= material.T; out++ {
			for i, psi := range psis {
				want := tip.Coefficient(in, out, math.Pi-psi*degree, math.Pi-psi*degree)
				got := mean[[3]int{int(in), int(out), i}] / complex(total, 0)
				if !(cmplx.Abs(got-want) <= 2e-5) {
					t.Errorf("%v to %v, %v°: %.6f, tip %.6f", in, out, psi, got, want)
				}
			}
		}
	}
}

func TestNewCrackErrors(t *testing.T) {
	for _, c := range []struct {
		name              string
		medium            material.Isotropic
		length, frequency float64
		want              string
	}{
		{"fluid", material.Isotropic{Density: 1000, Longitudinal: 1480}, 1e-3, 1e6, "fluid"},
		{"no length", steel, 0, 1e6, "length 0 m"},
		{"too long", steel, 0.2, 1e6, "length 0.2 m: want a number above 0 and at most 0.162"},
		{"length not a number", steel, math.NaN(), 1e6, "length NaN"},
		{"no frequency", steel, 1e-3, 0, "frequency 0 Hz"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := NewCrack(c.medium, c.length, c.frequency)
			check.Error(t, err, c.want)
		})
	}
	check.Must(NewCrack(steel, 50*steel.Transverse, 1))
}

func BenchmarkNewCrack(b *testing.B) {
	for b.Loop() {
		wavelengths(steel, 5)
	}
}

func BenchmarkAmplitude(b *testing.B) {
	crack := wavelengths(steel, 5)
	for b.Loop() {
		crack.Amplitude(material.L, material.T, 1, 2)
	}
}

// TestZeroCrack checks that the results of a zero Crack are NaN.
func TestZeroCrack(t *testing.T) {
	var c Crack
	if s, width := c.Amplitude(material.L, material.L, 1, 1), c.CrossSection(material.L, 1); !cmplx.IsNaN(s) || !math.IsNaN(width) {
		t.Errorf("amplitude %v and cross-section %v, want NaN", s, width)
	}
}
