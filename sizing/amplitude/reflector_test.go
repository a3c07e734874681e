// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package amplitude

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material/beam"
	"github.com/isochron-imaging/isochron/sizing"
)

// probe10 has a diameter of 10 mm at a wavelength of 1.48 mm: longitudinal waves of 4 MHz in steel.
var probe10 = beam.Disc{Diameter: 10e-3, Wavelength: 1.48e-3}

// small is a probe whose far field begins at 3 mm.
var small = beam.Disc{Diameter: 2.5e-3, Wavelength: 1.48e-3}

// echo returns the echo of a reflector at a near-field lengths.
func echo(t *testing.T, probe beam.Disc, r Reflector, a float64) float64 {
	t.Helper()
	v, err := Echo(probe, r, a*probe.NearField())
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// The values were computed independently with 30 digits, from the formula of Rogers and Van Buren
// (J. Acoust. Soc. Am. 55, 1974, 724). The exact integral of Williams for a radius of 10
// wavelengths is 0.477959 at 3 near-field lengths.
func TestWall(t *testing.T) {
	for _, test := range []struct {
		a       float64
		printed string
	}{
		{0.25, "0.856547469"}, {0.5, "0.808130211"}, {1, "0.751721252"}, {2, "0.640645391"},
		{3, "0.478004023"}, {10, "0.155793274"}, {20, "0.078378500"},
	} {
		check.Printed(t, fmt.Sprintf("wall at %v", test.a), echo(t, probe10, Wall{}, test.a), test.printed)
	}
	// Diffraction losses in dB by the parameter 2zλ/a² = 2A (independent calculation).
	for s, printed := range map[float64]string{1: "1.85037", 2: "2.47886", 3: "2.70086", 4: "3.86765"} {
		check.Printed(t, fmt.Sprintf("loss at 2zλ/a² = %v", s), -sizing.LevelDB(echo(t, probe10, Wall{}, s/2), 1), printed)
	}
	// How much the far law π/(2A) is too high, in dB (independent calculation).
	for a, printed := range map[float64]string{1: "6.401", 2: "1.769", 3: "0.7913", 5: "0.2855", 10: "0.0714", 20: "0.0179"} {
		check.Printed(t, fmt.Sprintf("error of the far law at %v", a), sizing.LevelDB(math.Pi/(2*a), echo(t, probe10, Wall{}, a)), printed)
	}
}

// Finite discs on the axis in Kirchhoff's approximation, in dB (independent calculation with 30
// digits).
func TestFlatHole(t *testing.T) {
	for _, test := range []struct {
		a, g    float64
		printed string
	}{
		{1, 0.1, "-28.3838"}, {1, 0.3, "-12.4087"}, {1, 0.5, "-8.0935"},
		{3, 0.2, "-28.1511"}, {3, 0.5, "-13.3009"}, {10, 0.5, "-32.3426"}, {0.5, 0.2, "-34.7177"},
	} {
		got := echo(t, probe10, FlatHole{Diameter: test.g * probe10.Diameter}, test.a)
		check.Printed(t, fmt.Sprintf("disc of %v at %v", test.g, test.a), sizing.LevelDB(got, 1), test.printed)
	}
	// Small discs: 4G²·sin²(π/(2A)) (derived).
	const g = 0.002
	for _, a := range []float64{0.3, 0.7, 1, 2.3, 8} {
		sin := math.Sin(math.Pi / (2 * a))
		want := 4 * g * g * sin * sin
		check.Within(t, fmt.Sprintf("small disc at %v", a), echo(t, probe10, FlatHole{Diameter: g * probe10.Diameter}, a), want, 5e-4*want)
	}
	// The far law π²G²/A² is too high by these dB (independent calculation).
	for a, printed := range map[float64]string{1: "7.845", 2: "1.824", 3: "0.8011", 5: "0.2867", 10: "0.0715"} {
		far := math.Pi * math.Pi * g * g / (a * a)
		got := echo(t, probe10, FlatHole{Diameter: g * probe10.Diameter}, a)
		want := check.Must(strconv.ParseFloat(printed, 64))
		check.Within(t, fmt.Sprintf("error of the far law at %v", a), sizing.LevelDB(far, got), want, 5.5e-4)
	}
}

// Levels of reflectors far from the probe (independent calculation from the laws of the far field):
// flat-bottomed and side-drilled holes relative to a back wall.
func TestFarLevels(t *testing.T) {
	level := func(r Reflector, distance, wall float64) float64 {
		return sizing.LevelDB(check.Must(Echo(small, r, distance)), check.Must(Echo(small, Wall{}, wall)))
	}
	for _, test := range []struct {
		name      string
		got, want float64
		tolerance float64
		reason    string
	}{
		{"flat 3 mm, both at 100 mm", level(FlatHole{3e-3}, 0.1, 0.1), -20.39799, 0.02, ""},
		{"flat 2 mm, both at 100 mm", level(FlatHole{2e-3}, 0.1, 0.1), -27.44164, 0.02, ""},
		{"flat 3 mm at 50 mm, wall at 100 mm", level(FlatHole{3e-3}, 0.05, 0.1), -8.35679, 0.06, "the rim of the hole is 1.7° off the axis"},
		{"side 3 mm at 50 mm", level(SideHole{3e-3}, 0.05, 0.05), -15.3572, 5e-5, "with the exact curvature"},
		{"side 3 mm at 100 mm", level(SideHole{3e-3}, 0.1, 0.1), -18.3037, 5e-5, "with the exact curvature"},
		{"flat hole, twice the diameter", level(FlatHole{2e-3}, 0.2, 0.2) - level(FlatHole{1e-3}, 0.2, 0.2), 12.0412, 0.01, ""},
		{"side hole, twice the diameter", level(SideHole{6e-3}, 2, 2) - level(SideHole{3e-3}, 2, 2), 3.0103, 0.01, ""},
		{"wall, twice the distance", level(Wall{}, 0.4, 0.2), -6.0206, 0.001, ""},
		{"side hole, twice the distance", level(SideHole{3e-3}, 0.8, 0.2) - level(SideHole{3e-3}, 0.4, 0.2), -9.0309, 0.02, ""},
		{"flat hole, twice the distance", level(FlatHole{1e-3}, 0.4, 0.2) - level(FlatHole{1e-3}, 0.2, 0.2), -12.0412, 0.003, ""},
	} {
		t.Run(test.name, func(t *testing.T) {
			check.Within(t, "level "+test.reason, test.got, test.want, test.tolerance)
		})
	}
}

// A strip as wide as √(λs) has the Fresnel integrals C(1) = 0.7798934 and S(1) = 0.4382591
// (Abramowitz and Stegun, table 7.7, from memory). A narrow one has e·√(2/(λs)), and a small
// rectangle the echo of a disc of equal area (derived). A notch of height h at 45° is a rectangle
// of √2·h.
func TestRectangle(t *testing.T) {
	const s, λ = 60e-3, 1.48e-3
	inf := math.Inf(1)
	wall := check.Must(Echo(small, Wall{}, s))
	for _, test := range []struct {
		name            string
		r               Reflector
		want, tolerance float64
	}{
		{"Fresnel", Rectangle{math.Sqrt(λ * s), inf}, math.Sqrt2 * math.Hypot(0.7798934, 0.4382591), 2e-7},
		{"the other side", Rectangle{inf, math.Sqrt(λ * s)}, math.Sqrt2 * math.Hypot(0.7798934, 0.4382591), 2e-7},
		{"narrow", Rectangle{0.1e-3, inf}, 0.1e-3 * math.Sqrt(2/(λ*s)), 1e-8},
		{"wall", Rectangle{inf, inf}, 1, 0},
		{"wide", Rectangle{6 * math.Sqrt(2*λ*s), inf}, 1, 0.06},
		{"disc of equal area", Rectangle{1e-3, 1e-3}, check.Must(Echo(small, FlatHole{2e-3 / math.Sqrt(math.Pi)}, s)) / wall, 2e-5},
		{"notch", Notch{1e-3, inf, math.Pi / 4, 1}, check.Must(Echo(small, Rectangle{math.Sqrt2 * 1e-3, inf}, s)) / wall, 1e-12},
		{"notch with losses", Notch{1e-3, 2e-3, math.Pi / 6, 0.4}, 0.4 * check.Must(Echo(small, Rectangle{1e-3, 2e-3}, s)) / wall, 1e-12},
	} {
		got, err := Echo(small, test.r, s)
		if err != nil {
			t.Fatal(err)
		}
		check.Within(t, test.name, got/wall, test.want, test.tolerance)
	}
}

func TestEchoInput(t *testing.T) {
	const λ = 1.48e-3
	inf, nan := math.Inf(1), math.NaN()
	far := 3 * probe10.NearField()
	for _, test := range []struct {
		name     string
		probe    beam.Disc
		r        Reflector
		distance float64
		words    []string
	}{
		{"probe", beam.Disc{}, Wall{}, far, []string{"diameter 0 m"}},
		{"no reflector", probe10, nil, far, []string{"reflector is missing"}},
		{"too near", probe10, Wall{}, 0.09 * probe10.NearField(), []string{"0.1 near-field lengths"}},
		{"NaN", probe10, Wall{}, nan, []string{"distance NaN m"}},
		{"infinite", probe10, Wall{}, inf, []string{"distance +Inf m"}},
		{"no disc", probe10, FlatHole{}, far, []string{"flat-bottomed hole of 0 m"}},
		{"large disc", probe10, FlatHole{21e-3}, far, []string{"0.021 m", "at most 0.02 m"}},
		{"thin hole", probe10, SideHole{1.9 * λ}, far, []string{"two wavelengths"}},
		{"hole in the near field", probe10, SideHole{3e-3}, 0.9 * probe10.NearField(), []string{"at least the near-field length"}},
		{"height", probe10, Rectangle{0, 1}, far, []string{"height 0 m of the rectangle"}},
		{"length", probe10, Rectangle{1, nan}, far, []string{"length NaN m of the rectangle"}},
		{"near rectangle", probe10, Rectangle{1e-3, 1e-3}, 0.9 * probe10.NearField(), []string{"rectangle at"}},
		{"notch height", probe10, Notch{inf, 1, 1, 1}, far, []string{"height +Inf m of the notch"}},
		{"notch length", probe10, Notch{1e-3, 0, 1, 1}, far, []string{"length 0 m"}},
		{"notch angle", probe10, Notch{1e-3, 1, math.Pi / 2, 1}, far, []string{"angle 1.57", "rad"}},
		{"notch angle 0", probe10, Notch{1e-3, 1, 0, 1}, far, []string{"angle 0 rad"}},
		{"notch corner", probe10, Notch{1e-3, 1, 1, 1.1}, far, []string{"reflection 1.1"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := Echo(test.probe, test.r, test.distance)
			check.Error(t, err, test.words...)
		})
	}
}

// The limits of a distance themselves are allowed.
func TestNearestDistance(t *testing.T) {
	n := probe10.NearField()
	for _, test := range []struct {
		r Reflector
		a float64
	}{
		{Wall{}, 0.1}, {FlatHole{3e-3}, 0.1}, {SideHole{3e-3}, 1}, {Rectangle{1e-3, 1e-3}, 1}, {Notch{1e-3, 1e-3, 1, 0.5}, 1},
	} {
		if v, err := Echo(probe10, test.r, test.a*n); err != nil || !(v > 0) {
			t.Errorf("%T at %v near-field lengths: %v, error %v", test.r, test.a, v, err)
		}
	}
}

// Equal echoes of discs and side-drilled holes (independent calculation).
func TestEquivalence(t *testing.T) {
	for _, test := range []struct {
		hole, s, λ float64
		printed    string // mm
	}{
		{3e-3, 50e-3, 1.48e-3, "2.8565"}, {3e-3, 100e-3, 1.48e-3, "3.3970"}, {3e-3, 100e-3, 1.184e-3, "3.0384"},
	} {
		disc, err := SideHole{test.hole}.FlatHole(test.s, test.λ)
		if err != nil {
			t.Fatal(err)
		}
		check.Printed(t, fmt.Sprintf("disc for %v m at %v m", test.hole, test.s), disc.Diameter*1e3, test.printed)
		back, err := disc.SideHole(test.s, test.λ)
		if err != nil {
			t.Fatal(err)
		}
		check.Within(t, "back again", back.Diameter, test.hole, 1e-15)
		// Both have one echo: within the curvature, 0.13 dB at most here, and the finite disc.
		probe := beam.Disc{Diameter: 4e-3, Wavelength: test.λ}
		difference := sizing.LevelDB(check.Must(Echo(probe, disc, test.s)), check.Must(Echo(probe, SideHole{test.hole}, test.s)))
		check.Within(t, "level of disc over hole", difference, 0, 0.15)
	}
	_, err := SideHole{2.9e-3}.FlatHole(50e-3, 1.48e-3)
	check.Error(t, err, "two wavelengths")
	_, err = SideHole{3e-3}.FlatHole(14e-3, 1.48e-3)
	check.Error(t, err, "five diameters")
	_, err = SideHole{3e-3}.FlatHole(50e-3, 0)
	check.Error(t, err, "wavelength 0 m")
	_, err = FlatHole{2e-3}.SideHole(50e-3, 1.48e-3) // 0.72 mm, too thin
	check.Error(t, err, "two wavelengths")
	_, err = FlatHole{}.SideHole(50e-3, 1.48e-3)
	check.Error(t, err, "flat-bottomed hole of 0 m")
}

func TestEquivalentDisc(t *testing.T) {
	wall := func(s float64) Known { return Known{Wall{}, s} }
	// A disc of 3 mm at 50 mm is 8.35679 dB below a wall at 100 mm by the laws of the far field
	// (independent calculation); one of 2 mm at 100 mm 27.44164 dB.
	for _, test := range []struct {
		level, s, want float64
	}{{-8.35679, 50e-3, 3e-3}, {-27.44164, 100e-3, 2e-3}} {
		d, err := EquivalentDisc(small, test.level, wall(100e-3), test.s, nil)
		if err != nil {
			t.Fatal(err)
		}
		check.Within(t, "disc", d, test.want, 0.003*test.want)
	}
	// Near the probe: the values of TestFlatHole divided by the values of TestWall.
	near := probe10.NearField()
	d, err := EquivalentDisc(probe10, -12.4087+2.47886, wall(near), near, nil)
	if err != nil {
		t.Fatal(err)
	}
	check.Within(t, "disc at the near-field length", d, 3e-3, 1e-7)

	// With attenuation of 20 dB/m in the part, 5 dB/m in the block, and 2 dB at the surface.
	transfer := Transfer{SurfaceDB: 2, BlockAttenuation: 5, PartAttenuation: 20}
	lost := 2 + 2*20*50e-3 - 2*5*100e-3
	d, err = EquivalentDisc(small, -8.35679-lost, wall(100e-3), 50e-3, &transfer)
	if err != nil {
		t.Fatal(err)
	}
	check.Within(t, "disc with transfer", d, 3e-3, 0.01e-3)

	_, err = EquivalentDisc(probe10, 3, wall(near), near, nil)
	if !errors.Is(err, ErrNoEquivalent) {
		t.Errorf("echo above all discs: error %v, want ErrNoEquivalent", err)
	}
	for _, test := range []struct {
		name      string
		level, s  float64
		reference Known
		transfer  *Transfer
		words     []string
	}{
		{"near", -10, 0.6 * near, wall(near), nil, []string{fmt.Sprint(0.7 * near), "0.7 near-field lengths"}},
		{"nearer", -10, 0.05 * near, wall(near), nil, []string{"0.1 near-field lengths"}},
		{"level", math.NaN(), near, wall(near), nil, []string{"level NaN dB"}},
		{"reference", -10, near, Known{nil, near}, nil, []string{"reference", "missing"}},
		{"transfer", -10, near, wall(near), &Transfer{SurfaceDB: math.Inf(1)}, []string{"transfer correction"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := EquivalentDisc(probe10, test.level, test.reference, test.s, test.transfer)
			check.Error(t, err, test.words...)
		})
	}
}
