// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import (
	"io"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/thickness"
)

// plate returns a map of 2 rows along s and 4 columns along x, with a reading of 8 mm in the cells
// that no case changes.
func plate() *thickness.Map {
	m := check.Must(thickness.NewMap([]float64{0, 2e-3}, []float64{-1e-3, 0, 1e-3, 2e-3}))
	for i := range m.Readings {
		m.Readings[i] = thickness.Reading{State: thickness.Measured, Thickness: 8e-3}
	}
	return m
}

// TestThicknessMap checks that rows of the picture are columns of the map, and which cells are
// empty.
func TestThicknessMap(t *testing.T) {
	m := plate()
	m.Readings[1].Thickness = 5e-3                                                        // s = 0, x = 0
	m.Readings[4] = thickness.Reading{State: thickness.NoEcho, Thickness: math.NaN()}     // s = 2 mm, x = -1 mm
	m.Readings[7] = thickness.Reading{State: thickness.TwoEchoes, Thickness: 6e-3}        // s = 2 mm, x = 2 mm
	m.Readings[2] = thickness.Reading{State: thickness.NotScanned, Thickness: math.NaN()} // s = 0, x = 1 mm
	m.Readings[6] = thickness.Reading{State: thickness.Disagree, Thickness: 1e-3}         // does not count
	p := check.Must(ThicknessMap(m))
	nan := math.NaN()
	if diff := cmp.Diff([]float64{8, nan, 5, 8, nan, nan, 8, 6}, p.Values, cmp.Comparer(func(a, b float64) bool {
		return math.Abs(a-b) <= 1e-9 || math.IsNaN(a) && math.IsNaN(b)
	})); diff != "" {
		t.Errorf("values: %s", diff)
	}
	for cell, want := range map[int]thickness.State{1: thickness.NoEcho, 4: thickness.NotScanned, 5: thickness.Disagree} {
		if got := p.Reasons[p.Reason[cell]]; got != want.String() {
			t.Errorf("cell %d: %q, want %q", cell, got, want)
		}
	}
	for _, row := range []struct {
		name      string
		got, want float64
	}{
		{"left edge", p.From.X, -1e-3}, {"right edge", p.To.X, 3e-3},
		{"upper edge", p.From.Y, -1.5e-3}, {"lower edge", p.To.Y, 2.5e-3},
		{"low", p.Low, 5}, {"high", p.High, 8}, {"columns", float64(p.Columns), 2}, {"rows", float64(p.Rows), 4},
	} {
		check.Within(t, row.name, row.got, row.want, 1e-9)
	}
	if err := p.WritePNG(io.Discard); err != nil {
		t.Error(err)
	}
}

// TestThicknessMapReasons: more states than a picture has colours for.
func TestThicknessMapReasons(t *testing.T) {
	m := plate()
	states := []thickness.State{thickness.NotScanned, thickness.Disagree, thickness.NoEcho, thickness.NoRepeat,
		thickness.NoInterface, thickness.OutOfGate, thickness.Clipped}
	for i, s := range states {
		m.Readings[i].State = s
	}
	p := check.Must(ThicknessMap(m))
	if len(p.Reasons) != len(reasonColours) || p.Reasons[len(reasonColours)-1] != "other" {
		t.Errorf("reasons %q, want %d, the last one for the other states", p.Reasons, len(reasonColours))
	}
	if p.Low != 7.5 || p.High != 8.5 {
		t.Errorf("colours from %v to %v mm, want half a millimetre on each side of the only thickness", p.Low, p.High)
	}
	if err := p.WritePNG(io.Discard); err != nil {
		t.Error(err)
	}
}

func TestThicknessMapErrors(t *testing.T) {
	for _, row := range []struct {
		name   string
		change func(m *thickness.Map)
		words  []string
	}{
		{"a reading less", func(m *thickness.Map) { m.Readings = m.Readings[1:] }, []string{"7 readings in 2 rows and 4 columns"}},
		{"one row", func(m *thickness.Map) { m.S, m.Readings = m.S[1:], m.Readings[4:] }, []string{"1 places in S"}},
		{"uneven", func(m *thickness.Map) { m.X[1] = 0.1e-3 }, []string{"X[1] = 0.0001 m"}},
		{"not a number", func(m *thickness.Map) { m.X[1] = math.NaN() }, []string{"X[1] = NaN m"}},
		{"nothing measured", func(m *thickness.Map) { clear(m.Readings) }, []string{"no reading of the map counts"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			m := plate()
			row.change(m)
			_, err := ThicknessMap(m)
			check.Error(t, err, row.words...)
		})
	}
	_, err := ThicknessMap(nil)
	check.Error(t, err, "nil")
}
