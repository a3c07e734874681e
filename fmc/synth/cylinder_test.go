// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/isochron-imaging/isochron/material"
)

const degree = math.Pi / 180

func at(c *cylinder, in, out material.Mode, angle float64) complex128 {
	return c.at(in, out, newHarmonics(angle, c.orders()))
}

// TestCylinder compares the amplitudes with the exact series for a cavity in steel of 5920 and
// 3255 m/s, computed independently with mpmath 1.2.1. The amplitudes are divided by the square root
// of the radius.
func TestCylinder(t *testing.T) {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	const a = 1e-3
	for _, row := range []struct {
		in        material.Mode
		ka        float64    // kL·a if in is L, kT·a·(cT/cL) if in is T
		own       [5]float64 // same mode at 0, 45, 90, 135 and 180°
		converted [3]float64 // the other one at 45, 90 and 135°
	}{
		{material.L, 0.1, [5]float64{.045404, .033133, .028904, .060411, .083885}, [3]float64{.046282, .047468, .112780}},
		{material.L, 0.5, [5]float64{.522815, .410541, .365506, .587654, .738663}, [3]float64{.443868, .469364, .712875}},
		{material.L, 1, [5]float64{.841151, .621524, .438874, .603522, .714928}, [3]float64{.668353, .901567, .720385}},
		{material.L, 2, [5]float64{1.126068, .609929, .190969, .642130, .733408}, [3]float64{.644078, .645057, .725029}},
		{material.L, 3.980058, [5]float64{1.580608, .087783, .176926, .528099, .749908}, [3]float64{.231172, .685550, .712675}},
		{material.L, 10, [5]float64{2.574144, .264540, .191750, .541916, .709231}, [3]float64{.394168, .791568, .744892}},
		{material.T, 0.5, [5]float64{.830806, .411194, .925936, .317504, .958624}, [3]float64{.180966, .191361, .290641}},
		{material.T, 1, [5]float64{1.392789, 1.052012, .347405, .290852, .716722}, [3]float64{.272490, .367572, .293703}},
		{material.T, 3.980058, [5]float64{3.338030, .900750, .891743, .066849, .701732}, [3]float64{.094249, .279501, .290560}},
		{material.T, 10, [5]float64{4.598776, .779268, .590212, .233742, .607649}, [3]float64{.160704, .322725, .303695}},
	} {
		c := newCylinder(steel, a, row.ka*steel.Longitudinal/(2*math.Pi*a))
		for i, want := range row.own {
			got := cmplx.Abs(at(&c, row.in, row.in, float64(45*i)*degree)) / math.Sqrt(a)
			if !(math.Abs(got-want) <= 2e-6) {
				t.Errorf("%v, ka %v: own mode at %d°: %.6f, want %.6f",
					row.in, row.ka, 45*i, got, want)
			}
		}
		for i, want := range row.converted {
			got := cmplx.Abs(at(&c, row.in, 1-row.in, float64(45*(i+1))*degree)) / math.Sqrt(a)
			if !(math.Abs(got-want) <= 2e-6) {
				t.Errorf("%v, ka %v: converted at %d°: %.6f, want %.6f",
					row.in, row.ka, 45*(i+1), got, want)
			}
		}
	}
}

// TestCylinderIdentities checks that the conversions are reciprocal. It also checks the optical
// theorem: the loss of the forward wave equals the scattered energy. Both checks include the
// phases.
func TestCylinderIdentities(t *testing.T) {
	aluminium := material.Isotropic{Density: 2700, Longitudinal: 6320, Transverse: 3130}
	kappa := aluminium.Longitudinal / aluminium.Transverse
	for _, radius := range []float64{1e-6, 20e-6, 0.3e-3, 1e-3, 5e-3} {
		const frequency = 5e6
		c := newCylinder(aluminium, radius, frequency)
		largest := 0.0
		for angle := -math.Pi; angle <= math.Pi; angle += 0.1 {
			lt, tl := at(&c, material.L, material.T, angle), at(&c, material.T, material.L, angle)
			largest = max(largest, cmplx.Abs(lt))
			if sum := lt + tl*complex(math.Pow(kappa, 1.5), 0); !(cmplx.Abs(sum) <= 1e-9*(largest+cmplx.Abs(lt))) {
				t.Errorf("radius %v m, %.1f rad: L to T %v, T to L %v: not reciprocal",
					radius, angle, lt, tl)
			}
		}
		for in := material.L; in <= material.T; in++ {
			// The total scattered energy. The energy of the other mode is proportional to its
			// speed.
			total := 0.0
			const steps = 2000
			for i := range steps {
				angle := 2 * math.Pi * float64(i) / steps
				own, other := cmplx.Abs(at(&c, in, in, angle)), cmplx.Abs(at(&c, in, 1-in, angle))
				total += own*own + other*other*aluminium.Speed(1-in)/aluminium.Speed(in)
			}
			total *= 2 * math.Pi / steps
			k := 2 * math.Pi * frequency / aluminium.Speed(in)
			forward := at(&c, in, in, 0) * cmplx.Rect(1, math.Pi/4)
			want := -2 * math.Sqrt(2*math.Pi/k) * real(forward)
			if !(math.Abs(total-want) <= 1e-7*want) || want <= 0 {
				t.Errorf("%v, radius %v m: scatters %v m, the forward wave lacks %v m",
					in, radius, total, want)
			}
		}
	}
}

// TestCylinderSmall checks Rayleigh's law: in a section, the amplitude of a hole that is small
// against the wavelength is proportional to its area and to the frequency to the power 1.5. The law
// holds down to the smallest [Hole], 0.001 wavelengths, at a hundredth of the highest frequency.
func TestCylinderSmall(t *testing.T) {
	largest := newCylinder(testSteel, 1e-6, 2e6)
	for _, share := range []float64{0.1, 0.01, 1e-3} {
		c := newCylinder(testSteel, 1e-6*share, 2e6)
		slow := newCylinder(testSteel, 1e-6, 2e6*share)
		for in := material.L; in <= material.T; in++ {
			for out := material.L; out <= material.T; out++ {
				want := at(&largest, in, out, 2)
				if got := at(&c, in, out, 2) / complex(share*share, 0); !(cmplx.Abs(got-want) <= 1e-3*cmplx.Abs(want)) {
					t.Errorf("%v to %v, %v of the radius: %v, want %v by the area",
						in, out, share, got, want)
				}
				if got := at(&slow, in, out, 2) / complex(math.Pow(share, 1.5), 0); !(cmplx.Abs(got-want) <= 1e-3*cmplx.Abs(want)) {
					t.Errorf("%v to %v, %v of the frequency: %v, want %v",
						in, out, share, got, want)
				}
			}
		}
	}
}

// TestCylinderAtZero compares a hole for which the order 0 of the Bessel function vanishes with a
// hole that differs by 1e-7. A recurrence that divides by the order 0 fails here: with math.Jn the
// difference was 10 %.
func TestCylinderAtZero(t *testing.T) {
	const radius, zero = 1e-3, 2.404825557695773
	frequency := zero * 5920 / (2 * math.Pi * radius)
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	c, near := newCylinder(steel, radius, frequency), newCylinder(steel, radius, frequency*(1+1e-7))
	for angle := 0.0; angle < 3; angle += 0.5 {
		got, want := at(&c, material.L, material.L, angle), at(&near, material.L, material.L, angle)
		if !(cmplx.Abs(got-want) <= 1e-5*math.Sqrt(radius)) {
			t.Errorf("%.1f rad: %v, near the zero %v", angle, got, want)
		}
	}
}
