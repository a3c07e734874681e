// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package thickness

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm/ascan"
)

// axis returns n positions in m, a step in mm apart, from 0.
func axis(n int, step float64) []float64 {
	list := make([]float64, n)
	for i := range list {
		list[i] = float64(i) * step * mm
	}
	return list
}

// plate returns a map of a plate of 10 mm, with cells of 1 mm.
func plate(rows, columns int) *Map {
	m := check.Must(NewMap(axis(rows, 1), axis(columns, 1)))
	for i := range m.Readings {
		m.set(i, 10)
	}
	return m
}

// set sets a cell to a thickness in mm.
func (m *Map) set(cell int, thickness float64) {
	m.Readings[cell] = Reading{State: Measured, Thickness: thickness * mm, Uncertainty: 0.05 * mm, Noise: 0.01 * mm, Speed: speed, Check: math.NaN()}
}

// TestSummary checks the statistics of a plate with pits and gaps by hand.
func TestSummary(t *testing.T) {
	m := plate(20, 30)
	m.set(5*30+7, 6)   // a pit of one cell
	m.set(12*30+20, 8) // a pit of three cells, connected over a corner
	m.set(13*30+21, 7) //
	m.set(13*30+22, 8) //
	m.set(0, 9.2)      // shallower than a tenth of the wall
	m.Readings[14*30+22] = without(NoEcho, FirstEcho)
	m.Readings[14*30+23] = without(OutOfGate, FirstEcho)
	m.Readings[5*30+29] = without(NotScanned, FirstEcho)
	m.Readings[19*30] = without(Disagree, FirstEcho)
	m.Readings[19*30].Thickness = 1 * mm // does not count
	s := check.Must(m.Summary(&SummaryOptions{Limit: 7.05 * mm}))
	check.Within(t, "area", s.Area, 600e-6, 1e-12)
	check.Within(t, "coverage", s.Coverage, 596./600, 1e-12)
	cells := map[State]int{}
	for _, a := range s.States {
		cells[a.State] = a.Cells
	}
	if diff := cmp.Diff(map[State]int{Measured: 596, NoEcho: 1, OutOfGate: 1, NotScanned: 1, Disagree: 1}, cells); diff != "" {
		t.Errorf("states (-want +got):\n%s", diff)
	}
	d := s.Thickness
	check.Within(t, "mean", d.Mean, (596*10-4-2-3-2-0.8)*mm/596, 1e-12)
	if diff := cmp.Diff(Spot{5 * mm, 7 * mm, 6 * mm, 0.05 * mm}, d.Minimum); diff != "" {
		t.Errorf("minimum (-want +got):\n%s", diff)
	}
	check.Within(t, "confirmed minimum", d.Confirmed, 8*mm, 1e-12)
	// The expected largest of 596 normal values is 3.06: 3.037 for 500, 3.241 for 1000 (Tippett,
	// Biometrika 17 (1925) 364; from memory).
	check.Within(t, "bias of the minimum", d.Bias, 0.0306*mm, 0.0005*mm)
	check.Within(t, "area below 7.05 mm", d.Below, 2e-6, 1e-12)
	check.Within(t, "area possibly below 7.05 mm", d.PossiblyBelow, 2e-6, 1e-12)
	total := 0
	for _, n := range d.Histogram.Cells {
		total += n
	}
	if total != 596 || d.Histogram.Cells[0] != 1 || d.Histogram.From > 6*mm {
		t.Errorf("histogram %+v, want 596 cells, one in the first bin", d.Histogram)
	}

	if len(s.Pits) != 2 || len(s.Gaps) != 3 {
		t.Fatalf("%d pits and %d gaps, want 2 and 3: %+v", len(s.Pits), len(s.Gaps), s)
	}
	second := s.Pits[1]
	check.Within(t, "depth", second.Depth, 3*mm, 1e-12)
	if second.Cells != 3 || second.Gaps != 2 || second.Deepest.S != m.S[13] || second.Deepest.X != m.X[21] {
		t.Errorf("second pit %+v, want 3 cells, 2 gaps beside, deepest at 13 mm, 21 mm", second)
	}
	check.Within(t, "extent along s", second.S[1]-second.S[0], 2*mm, 1e-12)
	check.Within(t, "extent along x", second.X[1]-second.X[0], 3*mm, 1e-12)
	check.Within(t, "area of the largest gap", s.Gaps[0].Area, 2e-6, 1e-12)

	text := check.Must(json.Marshal(s))
	if !bytes.Contains(text, []byte(`"state":"no echo","cells":1`)) {
		t.Errorf("JSON %s", text)
	}
}

// TestLimits checks the area below a limit, and the area possibly below it, around the limit.
func TestLimits(t *testing.T) {
	m := check.Must(NewMap(axis(1, 1), axis(5, 2)))
	for i, d := range []float64{9.9, 9.99, 10.01, 10.08, 10.1} { // 10 + 1.645·0.05 = 10.082
		m.set(i, d)
	}
	d := check.Must(m.Summary(&SummaryOptions{Limit: 10 * mm})).Thickness
	check.Within(t, "below", d.Below, 2*2*mm, 1e-12)
	check.Within(t, "possibly below", d.PossiblyBelow, 4*2*mm, 1e-12)
	if d.Confirmed != m.Readings[1].Thickness {
		t.Errorf("confirmed minimum %v, want the second cell", d.Confirmed)
	}
}

// TestEmptySummary checks a map without readings.
func TestEmptySummary(t *testing.T) {
	m := check.Must(NewMap(axis(3, 1), axis(4, 1)))
	s := check.Must(m.Summary(nil))
	if s.Coverage != 0 || s.Thickness != nil || len(s.Pits) != 0 || len(s.Gaps) != 1 || s.Gaps[0].Cells != 12 {
		t.Errorf("%+v, want one gap", s)
	}
	check.Must(json.Marshal(s))
}

// TestLeastOfMany checks the bias of the minimum of a plate without pits: the least of many noisy
// readings lies below the truth, by at most Bias on average. The confirmed minimum is nearer.
func TestLeastOfMany(t *testing.T) {
	const trials, noise = 60, 0.05 * mm
	random := rand.New(rand.NewPCG(1, 2))
	var low, confirmed, bias float64
	for range trials {
		m := plate(20, 20)
		for i := range m.Readings {
			m.Readings[i].Thickness += noise * random.NormFloat64()
			m.Readings[i].Noise = noise
		}
		d := check.Must(m.Summary(nil)).Thickness
		low += (10*mm - d.Minimum.Thickness) / trials
		confirmed += (10*mm - d.Confirmed) / trials
		bias = d.Bias
	}
	t.Logf("minimum %.3f mm low, stated %.3f mm; confirmed minimum %.3f mm low", low/mm, bias/mm, confirmed/mm)
	check.Within(t, "bias", low, bias, 0.1*bias)
	if !(confirmed < 0.75*low) {
		t.Errorf("confirmed minimum %v m low, want less than the minimum, %v m", confirmed, low)
	}
}

// TestPitsSurvive checks that no pit is lost, however small, deep or near the edge: a single cell
// stays the minimum and is listed, beside the median around it and under noise.
func TestPitsSurvive(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	for range 30 {
		m := plate(25, 40)
		for i := range m.Readings {
			m.Readings[i].Thickness += 0.05 * mm * random.NormFloat64()
		}
		cell := random.IntN(len(m.Readings))
		m.set(cell, 4+4*random.Float64())
		s := check.Must(m.Summary(nil))
		if s.Thickness.Minimum.Thickness != m.Readings[cell].Thickness {
			t.Errorf("minimum %v, want the pit of cell %d", s.Thickness.Minimum, cell)
		}
		if len(s.Pits) != 1 || s.Pits[0].Cells != 1 || s.Pits[0].Deepest.Thickness != m.Readings[cell].Thickness {
			t.Errorf("pits %+v, want cell %d", s.Pits, cell)
		}
	}
}

// TestTaper checks that a wall whose thickness changes slowly is no pit.
func TestTaper(t *testing.T) {
	m := plate(60, 60)
	for i := range m.Readings {
		m.set(i, 6+0.1*float64(i%60)) // 1 mm in 10 mm
	}
	m.set(30*60+30, 7.5)
	if s := check.Must(m.Summary(&SummaryOptions{Window: 15 * mm})); len(s.Pits) != 1 || s.Pits[0].Cells != 1 {
		t.Errorf("pits %+v, want one of one cell", s.Pits)
	}
}

// TestRead reads A-scans into a map, several times over the same cells.
func TestRead(t *testing.T) {
	m := check.Must(NewMap(axis(2, 1), axis(3, 1)))
	r := plain()
	for _, frame := range []struct{ walls [2]float64 }{{[2]float64{10, 0}}, {[2]float64{0, 9}}, {[2]float64{8, 9.5}}} {
		var traces []*ascan.Trace
		for _, d := range frame.walls {
			traces = append(traces, traced(at(d, complex(math.Min(d, 1), 0))))
		}
		if err := m.Read(r, 1, 1, traces); err != nil {
			t.Fatal(err)
		}
	}
	want := []State{NotScanned, NotScanned, NotScanned, NotScanned, Measured, Measured}
	for i, x := range m.Readings {
		if x.State != want[i] {
			t.Errorf("cell %d: %v, want %v", i, x.State, want[i])
		}
	}
	check.Within(t, "thinner of two", m.Readings[4].Thickness/mm, 8, 1e-3)
	check.Within(t, "thinner of two", m.Readings[5].Thickness/mm, 9, 1e-3)
	check.Error(t, m.Read(r, 1, 2, make([]*ascan.Trace, 2)), "row 1, column 2")
	check.Error(t, m.Read(r, 1, math.MaxInt, make([]*ascan.Trace, 1)), "want places in a map")
	check.Error(t, m.Read(r, 1, 2, make([]*ascan.Trace, 1)), "row 1, column 2", "no A-scan")
	r.Least = 0
	check.Error(t, m.Read(r, 1, 1, nil), "gate")
}

// TestCSV reads the file back with the standard library.
func TestCSV(t *testing.T) {
	m := check.Must(NewMap([]float64{0, 0.1 + 0.2}, []float64{-1 * mm, 2 * mm}))
	m.set(3, 7.25)
	m.Readings[1] = without(NoEcho, FirstEcho)
	var b bytes.Buffer
	if err := m.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	got := check.Must(csv.NewReader(&b).ReadAll())
	want := [][]string{
		{"row", "column", "s_m", "x_m", "state", "method", "thickness_m", "standard_uncertainty_m", "check_m", "level_db"},
		{"0", "0", "0", "-0.001", "not scanned", "", "", "", "", ""},
		{"0", "1", "0", "0.002", "no echo", "", "", "", "", ""},
		{"1", "0", "0.3", "-0.001", "not scanned", "", "", "", "", ""},
		{"1", "1", "0.3", "0.002", "measured", "first echo", "0.00725", "5e-05", "", "0"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("CSV (-want +got):\n%s", diff)
	}
}

// TestMapRefusals checks the errors of bad positions and options.
func TestMapRefusals(t *testing.T) {
	_, err := NewMap(nil, axis(2, 1))
	check.Error(t, err, "without positions s")
	_, err = NewMap(axis(2, 1), []float64{0, 0})
	check.Error(t, err, "x[1]", "ascending")
	_, err = NewMap([]float64{math.NaN()}, axis(2, 1))
	check.Error(t, err, "s[0]", "NaN")
	for _, o := range []SummaryOptions{{Limit: -1}, {Margin: math.NaN()}, {Window: math.Inf(1)}, {Bin: -1}} {
		_, err := plate(2, 2).Summary(&o)
		check.Error(t, err, "at least 0")
	}
}
