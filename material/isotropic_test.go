// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math"
	"strings"
	"testing"
)

func TestIsotropicValidate(t *testing.T) {
	steel := Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	for _, tt := range []struct {
		name   string
		change func(*Isotropic)
		want   string // "" for a valid medium
	}{
		{"solid", func(*Isotropic) {}, ""},
		{"fluid", func(m *Isotropic) { m.Transverse = 0 }, ""},
		{"negative Poisson's ratio", func(m *Isotropic) { m.Transverse = 0.86 * m.Longitudinal }, ""},
		{"density 0", func(m *Isotropic) { m.Density = 0 }, "material: density 0 kg/m³"},
		{"density NaN", func(m *Isotropic) { m.Density = math.NaN() }, "material: density NaN"},
		{"density Inf", func(m *Isotropic) { m.Density = math.Inf(1) }, "material: density +Inf"},
		{"longitudinal below 0", func(m *Isotropic) { m.Longitudinal = -1 }, "material: longitudinal speed -1 m/s"},
		{"longitudinal NaN", func(m *Isotropic) { m.Longitudinal = math.NaN() }, "material: longitudinal speed NaN"},
		{"longitudinal Inf", func(m *Isotropic) { m.Longitudinal = math.Inf(1) }, "material: longitudinal speed +Inf"},
		{"transverse below 0", func(m *Isotropic) { m.Transverse = -1 }, "material: transverse speed -1 m/s"},
		{"transverse NaN", func(m *Isotropic) { m.Transverse = math.NaN() }, "material: transverse speed NaN"},
		{"no bulk modulus", func(m *Isotropic) { m.Transverse = m.Longitudinal * math.Sqrt(3) / 2 }, "want 0 (a fluid) up to, not including, 5126.87 m/s"},
	} {
		m := steel
		tt.change(&m)
		err := m.Validate()
		if tt.want == "" {
			if err != nil {
				t.Errorf("%s: %v", tt.name, err)
			}
		} else if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: error %v, want one with %q", tt.name, err, tt.want)
		}
	}
}

func TestIsotropicSpeed(t *testing.T) {
	steel := Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	water := Isotropic{Density: 998, Longitudinal: 1482}
	if steel.Speed(L) != 5920 || steel.Speed(T) != 3255 || steel.Fluid() {
		t.Errorf("steel: %v, %v, fluid %v", steel.Speed(L), steel.Speed(T), steel.Fluid())
	}
	if water.Speed(L) != 1482 || water.Speed(T) != 0 || !water.Fluid() {
		t.Errorf("water: %v, %v, fluid %v", water.Speed(L), water.Speed(T), water.Fluid())
	}
	if c, z := steel.Speed(Mode(2)), steel.Impedance(Mode(2)); !math.IsNaN(c) || !math.IsNaN(z) {
		t.Errorf("unknown mode: speed %v, impedance %v, want NaN", c, z)
	}
}

func TestModeString(t *testing.T) {
	if got := L.String() + T.String() + Mode(4).String(); got != "LTMode(4)" {
		t.Errorf("got %q", got)
	}
}
