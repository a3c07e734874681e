// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

func TestBoundaryBadInput(t *testing.T) {
	wedge := check.Must(NewBoundary(boundaryAcrylic, boundarySteel, LiquidFilm))
	tank := check.Must(NewBoundary(boundaryWater, boundarySteel, Welded))
	free := check.Must(NewFreeSurface(boundarySteel))
	made := func(upper, lower Isotropic, c Contact) error {
		_, err := NewBoundary(upper, lower, c)
		return err
	}
	freed := func(m Isotropic) error {
		_, err := NewFreeSurface(m)
		return err
	}
	scatter := func(b Boundary, m Mode, angle float64) error {
		_, err := b.Scatter(m, angle)
		return err
	}
	roundTrip := func(b Boundary, in, out Mode, angle float64) error {
		_, err := b.RoundTrip(in, out, angle)
		return err
	}
	corner := func(a, b Boundary, m Mode, angle float64) error {
		_, err := CornerEcho(a, b, m, angle)
		return err
	}
	for _, tc := range []struct {
		name string
		err  error
		want []string // parts of the message: field, value, range
	}{
		{"upper medium", made(Isotropic{Density: -1, Longitudinal: 1}, boundarySteel, Welded),
			[]string{"upper", "density -1", "above 0"}},
		{"lower medium", made(boundarySteel, Isotropic{Density: 1, Longitudinal: math.NaN()}, Welded), []string{"lower", "speed NaN", "above 0"}},
		{"vacuum below", made(boundarySteel, Isotropic{}, Welded), []string{"lower", "density 0"}},
		{"transverse too fast", made(boundarySteel, Isotropic{1, 100, 90}, LiquidFilm),
			[]string{"lower", "transverse speed 90"}},
		{"contact", made(boundarySteel, boundarySteel, 2),
			[]string{"contact 2", "Welded (0)", "LiquidFilm (1)"}},
		{"densities apart", made(Isotropic{1e-5, 1, 0}, Isotropic{1e5, 1, 0}, Welded),
			[]string{"densities 1e-05 and 100000", "1e+09"}},
		{"speeds apart", made(Isotropic{1, 1e6, 0}, Isotropic{1, 1, 1e-4}, Welded),
			[]string{"0.0001 to 1e+06", "1e+09"}},
		{"free medium", freed(Isotropic{Density: math.Inf(1), Longitudinal: 1}), []string{"density +Inf"}},
		{"free, speeds apart", freed(Isotropic{1, 1e6, 1e-4}), []string{"0.0001 to 1e+06"}},
		{"negative angle", scatter(wedge, L, -0.1),
			[]string{"angle of incidence -0.1 rad", "0 to π/2"}},
		{"angle in degrees", scatter(wedge, L, 38), []string{"angle of incidence 38 rad"}},
		{"NaN angle", scatter(wedge, L, math.NaN()), []string{"angle of incidence NaN rad"}},
		{"T in water", scatter(tank, T, 0.1), []string{"mode T in a fluid"}},
		{"unknown mode", scatter(wedge, 2, 0.1), []string{"Mode(2)", "L or T"}},
		{"zero boundary", scatter(Boundary{}, L, 0), []string{"zero Boundary", "NewBoundary"}},
		{"round trip out", roundTrip(wedge, L, 3, 0), []string{"Mode(3)", "L or T"}},
		{"round trip angle", roundTrip(wedge, L, T, 2), []string{"angle of incidence 2 rad"}},
		{"round trip, T in water", roundTrip(tank, T, T, 0), []string{"mode T in a fluid"}},
		{"corner of two media", corner(free, wedge, T, 0.7), []string{"different upper media"}},
		{"corner angle", corner(free, free, T, -0.7), []string{"angle of incidence -0.7 rad"}},
		{"corner of nothing", corner(Boundary{}, Boundary{}, L, 0.7), []string{"zero Boundary"}},
	} {
		t.Run(tc.name, func(t *testing.T) { check.Error(t, tc.err, append(tc.want, "material: ")...) })
	}
}

// TestBoundaryEdgeInput checks input at the ends of the ranges.
func TestBoundaryEdgeInput(t *testing.T) {
	wedge := check.Must(NewBoundary(boundaryAcrylic, boundarySteel, LiquidFilm))
	tank := check.Must(NewBoundary(boundaryWater, boundarySteel, Welded))
	film := check.Must(NewBoundary(boundaryWater, boundarySteel, LiquidFilm))
	if got, want := check.Must(tank.Scatter(L, 0.3)), check.Must(film.Scatter(L, 0.3)); got != want {
		t.Errorf("with a fluid, contact makes a difference: %v, %v", got, want)
	}
	// No reflector returns an evanescent wave, or a wave that does not exist.
	back, err := check.Must(NewBoundary(boundarySteel, boundaryWater, Welded)).RoundTrip(L, T, 0.3)
	if err != nil || back != 0 {
		t.Errorf("round trip as T in water: %v, %v, want 0", back, err)
	}
	back, err = wedge.RoundTrip(L, L, 40*boundaryDegree)
	if err != nil || back != 0 {
		t.Errorf("round trip beyond the critical angle: %v, %v, want 0", back, err)
	}
	back, err = check.Must(NewFreeSurface(boundarySteel)).RoundTrip(L, L, 0)
	if err != nil || back != 0 {
		t.Errorf("round trip through a vacuum: %v, %v, want 0", back, err)
	}
}
