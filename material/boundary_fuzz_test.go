// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"testing"
)

func FuzzFreeSurfaceOfSolid(f *testing.F)  { fuzzBoundary(f, "free solid") }
func FuzzFreeSurfaceOfFluid(f *testing.F)  { fuzzBoundary(f, "free fluid") }
func FuzzBoundaryFluidFluid(f *testing.F)  { fuzzBoundary(f, "fluid/fluid") }
func FuzzBoundaryFluidSolid(f *testing.F)  { fuzzBoundary(f, "fluid/solid") }
func FuzzBoundarySolidFluid(f *testing.F)  { fuzzBoundary(f, "solid/fluid") }
func FuzzBoundarySolidWelded(f *testing.F) { fuzzBoundary(f, "welded") }
func FuzzBoundarySolidOnFilm(f *testing.F) { fuzzBoundary(f, "liquid film") }

// fuzzBoundary makes a boundary of the named kind from any media that its constructor accepts, with
// any angle from 0° to 90°. It checks that all coefficients are finite and that energy is conserved
// to 1e-12.
func fuzzBoundary(f *testing.F, kind string) {
	var construct func(upper, lower Isotropic) (Boundary, error)
	for _, k := range boundaryKinds {
		if k.name == kind {
			construct = k.make
		}
	}
	right := math.Pi / 2
	for _, mode := range []bool{false, true} {
		f.Add(1180., 2730., 1430., 7850., 5920., 3255., 0.6, mode)           // contact wedge
		f.Add(7850., 5920., 3255., 7850., 5920., 3255., right, mode)         // equal media, grazing
		f.Add(7850., 5920., 3255., 1.2, 343., 1e-5, right/2, mode)           // nearly air
		f.Add(1000., 1480., 0.001, 7850., 5920., 3255., 0., mode)            // nearly fluid
		f.Add(1., 1., math.Sqrt(.5), 2., math.Sqrt2, 1., right/2, mode)      // ν = 0 on both sides, 45°
		f.Add(1., 1., math.Sqrt(1./3), 1., math.Sqrt(3), 1., right/3, mode)  // ν = 1/4, 30°
		f.Add(1., 1e9, 5e8, 1e9, 1., 0.8, right, mode)                       // the limit of contrast
		f.Add(1e-300, 1e-300, 5e-301, 1e-291, 1e-295, 5e-296, 1.1, mode)     // tiny numbers
		f.Add(1e300, 1e300, 5e299, 1e308, 1e295, 5e294, 0.2, mode)           // huge numbers
		f.Add(5e-324, 5e-324, 5e-324, 5e-324, 5e-324, 5e-324, 0.2, mode)     // denormal numbers
		f.Add(7850., 5920., 3255., 1180., 2730., 1430., right-0x1p-52, mode) // next to grazing
	}
	f.Fuzz(func(t *testing.T, rho1, l1, t1, rho2, l2, t2, angle float64, transverse bool) {
		upper, lower := Isotropic{rho1, l1, t1}, Isotropic{rho2, l2, t2}
		b, err := construct(upper, lower)
		if err != nil {
			t.Skip("not a physical pair of media")
		}
		angle = math.Abs(math.Remainder(angle, math.Pi)) // any finite number to 0…π/2
		mode := L
		if transverse && !b.upper.Fluid() {
			mode = T
		}
		s, err := b.Scatter(mode, angle)
		if math.IsNaN(angle) {
			if err == nil {
				t.Fatal("no error for an angle that is not finite")
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		for out := L; out <= T; out++ {
			for _, c := range [...]complex128{
				s.Displacement.Reflected[out], s.Displacement.Transmitted[out],
				s.Pressure.Reflected[out], s.Pressure.Transmitted[out],
				complex(s.Energy.Reflected[out], s.Energy.Transmitted[out]),
			} {
				// NaN fails both comparisons.
				if !(math.Abs(real(c)) <= math.MaxFloat64 && math.Abs(imag(c)) <= math.MaxFloat64) {
					t.Fatalf("%+v, %v at %v: %+v", b, mode, angle, s)
				}
			}
		}
		if sum := energySum(s.Energy); !(math.Abs(sum-1) <= 1e-12) {
			t.Fatalf("%+v, %v at %v: energy %v, sum − 1 = %g", b, mode, angle, s.Energy, sum-1)
		}
	})
}
