// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// iron is a polycrystal with the speeds of the CRC Handbook. Its crystal has the constants 237, 141
// and 116 GPa (a materials course of Princeton University, MAE 324).
func iron() Grains {
	return Grains{
		Medium:   Isotropic{Density: 7870, Longitudinal: 5960, Transverse: 3240},
		Crystal:  Cubic{C11: 237e9, C12: 141e9, C44: 116e9},
		Diameter: 50e-6,
	}
}

// TestGrainsRayleigh compares with an independent calculation from the formulas, mpmath 1.2.1.
func TestGrainsRayleigh(t *testing.T) {
	l := check.Must(iron().Rayleigh(L))
	s := check.Must(iron().Rayleigh(T))
	check.Printed(t, "longitudinal at 5 MHz, dB/m", l.Decibels(5e6), "2.8736")
	check.Printed(t, "transverse at 5 MHz, dB/m", s.Decibels(5e6), "13.415")
	check.Printed(t, "ratio", s.Nepers(5e6)/l.Nepers(5e6), "4.668367")
}

// TestGrainsIdentities checks that the ratio of the two modes depends on the speeds only, and that
// the laws are powers of frequency and diameter.
func TestGrainsIdentities(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 5))
	for range 200 {
		g := Grains{
			Medium: Isotropic{Density: 2000 + 9000*rng.Float64(),
				Longitudinal: 3000 + 4000*rng.Float64()},
			Crystal:  Cubic{C11: 2e11, C12: 1e11 * rng.Float64(), C44: 2e11 * rng.Float64()},
			Diameter: 1e-6 + 1e-3*rng.Float64(),
		}
		g.Medium.Transverse = g.Medium.Longitudinal * (0.4 + 0.3*rng.Float64())
		k := g.Medium.Longitudinal / g.Medium.Transverse
		coarse := g
		coarse.Diameter *= 2
		for _, tt := range []struct {
			name     string
			law      func(Grains, Mode) (Attenuation, error)
			ratio    float64 // αT/αL
			exponent float64 // of the frequency
			size     float64 // exponent of the diameter
		}{
			{"Rayleigh", Grains.Rayleigh, 0.75 * math.Pow(k, 3), 4, 3},
			{"stochastic", Grains.Stochastic, 0.625 * math.Pow(k, 6), 2, 1},
		} {
			l := check.Must(tt.law(g, L))
			s := check.Must(tt.law(g, T))
			twice := check.Must(tt.law(coarse, L))
			check.Within(t, tt.name+": ratio of modes", s.Nepers(3e6)/l.Nepers(3e6)/tt.ratio, 1,
				1e-13)
			check.Within(t, tt.name+": power of frequency", math.Log2(l.Nepers(8e6)/l.Nepers(4e6)),
				tt.exponent, 1e-13)
			check.Within(t, tt.name+": power of diameter",
				math.Log2(twice.Nepers(1e6)/l.Nepers(1e6)), tt.size, 1e-13)
		}
	}
	isotropic := iron()
	isotropic.Crystal = Cubic{C11: 3e11, C12: 1e11, C44: 1e11}
	law := check.Must(isotropic.Rayleigh(T))
	if got := law.Nepers(5e6); got != 0 {
		t.Errorf("isotropic grains: got %v Np/m, want 0", got)
	}
}

func TestGrainsErrors(t *testing.T) {
	for _, tt := range []struct {
		name   string
		change func(*Grains)
		mode   Mode
		want   string
	}{
		{"medium", func(g *Grains) { g.Medium.Density = 0 }, L, "density 0"},
		{"fluid", func(g *Grains) { g.Medium.Transverse = 0 }, L, "grains in a fluid"},
		{"crystal", func(g *Grains) { g.Crystal.C44 = math.NaN() }, L, "grains NaN Pa"},
		{"diameter 0", func(g *Grains) { g.Diameter = 0 }, T, "grain diameter 0 m"},
		{"diameter Inf", func(g *Grains) { g.Diameter = math.Inf(1) }, T, "grain diameter +Inf m"},
		{"mode", func(*Grains) {}, Mode(7), "wave mode Mode(7): want L or T"},
	} {
		g := iron()
		tt.change(&g)
		if _, err := g.Rayleigh(tt.mode); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: Rayleigh gives error %v, want one with %q", tt.name, err, tt.want)
		}
		if _, err := g.Stochastic(tt.mode); err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: Stochastic gives error %v, want one with %q", tt.name, err, tt.want)
		}
	}
}
