// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package transmit

import (
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

var nan, inf = math.NaN(), math.Inf(1)

// TestLaws compares delays with values worked by hand, for three elements 1 mm apart at 2000 m/s.
func TestLaws(t *testing.T) {
	array := check.Must(fmc.LinearArray(3, 1e-3,
		fmc.Array{Width: 1e-3, CentreFrequency: 1e6, Bandwidth: 0.5}))
	tests := []struct {
		name, reason string
		law          func(fmc.Array, float64, []r3.Vec) ([]fmc.Event, error)
		point        r3.Vec
		want         []float64 // ns
	}{
		{"plane wave straight down", "all at once", PlaneWaves, r3.Vec{Z: 1}, []float64{0, 0, 0}},
		{"plane wave at 30°", "1 mm · sin 30° / 2000 m/s = 250 ns an element", PlaneWaves,
			r3.Vec{X: 0.5, Z: math.Sqrt(3) / 2}, []float64{0, 250, 500}},
		{"plane wave at -30°, a direction of any length", "the mirror image of the row above",
			PlaneWaves, r3.Vec{X: -50, Z: 50 * math.Sqrt(3)}, []float64{500, 250, 0}},
		{"plane wave out of the plane", "a line along x cannot steer along y", PlaneWaves,
			r3.Vec{Y: 1, Z: 1}, []float64{0, 0, 0}},
		{"diverging from 0.75 mm behind", "distances 1.25, 0.75, 1.25 mm", Diverging,
			r3.Vec{Z: -0.75e-3}, []float64{250, 0, 250}},
		{"diverging from an element", "distances 0, 1, 2 mm", Diverging, r3.Vec{X: -1e-3},
			[]float64{0, 500, 1000}},
		{"focused 0.75 mm before", "the outer elements first", Focused, r3.Vec{Z: 0.75e-3},
			[]float64{0, 250, 0}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got := check.Must(test.law(array, 2000, []r3.Vec{test.point}))
			if len(got) != 1 || got[0].Validate(3) != nil {
				t.Fatalf("events %v", got)
			}
			want := fmc.Event{Weights: []float64{1, 1, 1}}
			for _, d := range test.want {
				want.Delays = append(want.Delays, d*1e-9)
			}
			if diff := cmp.Diff(want, got[0], cmpopts.EquateApprox(0, 1e-18)); diff != "" {
				t.Errorf("%s (-want +got):\n%s", test.reason, diff)
			}
		})
	}
}

// TestFocalLaw checks that all pulses arrive at the same time, and that an element without a ray is
// silent.
func TestFocalLaw(t *testing.T) {
	times := []float64{11e-6, nan, 9.25e-6, 10e-6}
	event := check.Must(FocalLaw(times))
	want := fmc.Event{Delays: []float64{0, 0, 1.75e-6, 1e-6}, Weights: []float64{1, 0, 1, 1}}
	if diff := cmp.Diff(want, event, cmpopts.EquateApprox(0, 1e-18)); diff != "" {
		t.Errorf("event (-want +got):\n%s", diff)
	}
	_, err := FocalLaw([]float64{nan, nan})
	check.Error(t, err, "transmit: ", "weights that are all 0")
	_, err = FocalLaw(nil)
	check.Error(t, err, "transmit: ", "weights that are all 0")
	for _, bad := range []float64{inf, -inf} {
		_, err = FocalLaw([]float64{1e-6, bad})
		check.Error(t, err, "transmit: ", "s from element 1: want a finite value")
	}
}

// TestFocusedMatrix checks the arrival times of all elements of a matrix array at a focus.
func TestFocusedMatrix(t *testing.T) {
	array := check.Must(fmc.MatrixArray(4, 3, 1e-3, 1.5e-3,
		fmc.Array{Width: 1e-3, CentreFrequency: 1e6, Bandwidth: 0.5}))
	focus := r3.Vec{X: 2e-3, Y: -3e-3, Z: 7e-3}
	event := check.Must(Focused(array, 3000, []r3.Vec{focus}))[0]
	first := event.Delays[0] + r3.Norm(r3.Sub(array.Elements[0], focus))/3000
	for e, d := range event.Delays {
		arrival := d + r3.Norm(r3.Sub(array.Elements[e], focus))/3000
		if !(math.Abs(arrival-first) <= 1e-18) {
			t.Errorf("element %d arrives at %v s, the first at %v", e, arrival, first)
		}
	}
}

func TestLawsRefuse(t *testing.T) {
	array := linear(3)
	for _, test := range []struct {
		name  string
		array fmc.Array
		speed float64
		point r3.Vec
		want  string
	}{
		{"no array", fmc.Array{}, 5900, r3.Vec{Z: 1}, "array of 0 elements"},
		{"speed 0", array, 0, r3.Vec{Z: 1}, "speed 0 m/s"},
		{"speed negative", array, -1, r3.Vec{Z: 1}, "speed -1 m/s"},
		{"speed NaN", array, nan, r3.Vec{Z: 1}, "speed NaN m/s"},
		{"speed Inf", array, inf, r3.Vec{Z: 1}, "speed +Inf m/s"},
		{"point NaN", array, 5900, r3.Vec{Y: nan, Z: 1}, "finite"},
		{"point Inf", array, 5900, r3.Vec{X: -inf, Z: 1}, "finite"},
		{"times beyond numbers", array, 5e-324, r3.Vec{X: 1, Z: 1}, "want a"},
	} {
		t.Run(test.name, func(t *testing.T) {
			for _, law := range []func(fmc.Array, float64, []r3.Vec) ([]fmc.Event, error){
				PlaneWaves, Diverging, Focused,
			} {
				_, err := law(test.array, test.speed, []r3.Vec{test.point})
				check.Error(t, err, "transmit: ", test.want)
			}
		})
	}
	_, err := PlaneWaves(array, 5900, []r3.Vec{{Z: 1}, {}})
	check.Error(t, err, "transmit: ", "direction 1 is {0 0 0}")
	if events, err := PlaneWaves(array, 5900, nil); len(events) != 0 || err != nil {
		t.Errorf("%d events and error %v of no direction", len(events), err)
	}
}

// TestDirectionsOfAnyLength checks directions so long or short that their squares are Inf or 0.
func TestDirectionsOfAnyLength(t *testing.T) {
	array := linear(3)
	want := check.Must(PlaneWaves(array, 5900, []r3.Vec{{X: 3, Z: 4}}))
	for _, size := range []float64{5e-324, 1e-310, 4e307} {
		got := check.Must(PlaneWaves(array, 5900, []r3.Vec{{X: 3 * size, Z: 4 * size}}))
		if diff := cmp.Diff(want, got, cmpopts.EquateApprox(1e-12, 1e-20)); diff != "" {
			t.Errorf("size %v: events (-want +got):\n%s", size, diff)
		}
	}
}

// TestHadamard checks H·Hᵀ = n·1, the definition of a Hadamard matrix, for all orders that the
// documentation names. Other orders must be errors.
func TestHadamard(t *testing.T) {
	orders := map[int]bool{96: true, 128: true, 256: true}
	for _, n := range []int{1, 2, 4, 8, 12, 16, 20, 24, 32, 40, 44, 48, 60, 64} {
		orders[n] = true
	}
	for n := -1; n <= 64; n++ {
		if !orders[n] {
			_, err := Hadamard(n)
			check.Error(t, err, "transmit: ", "Hadamard code of order")
		}
	}
	_, err := Hadamard(1 << 13)
	check.Error(t, err, "transmit: ", "want 1 to 4096")
	for n := range orders {
		events := check.Must(Hadamard(n))
		if len(events) != n || events[0].Weights[0] != 1 {
			t.Errorf("order %d: %d events, first weight %v", n, len(events), events[0].Weights[0])
		}
		for i, a := range events {
			if err := a.Validate(n); err != nil {
				t.Fatal(err)
			}
			for j, b := range events {
				dot := 0.0
				for k, w := range a.Weights {
					if math.Abs(w) != 1 || a.Delays[k] != 0 {
						t.Fatalf("order %d: weight %v, delay %v", n, w, a.Delays[k])
					}
					dot += w * b.Weights[k]
				}
				if want := map[bool]float64{true: float64(n)}[i == j]; dot != want {
					t.Fatalf("order %d: rows %d and %d have the product %v, want %v", n, i, j, dot,
						want)
				}
			}
		}
	}
	// Sylvester's matrix of order 4, by definition.
	var rows [][]float64
	for _, e := range check.Must(Hadamard(4)) {
		rows = append(rows, e.Weights)
	}
	want := [][]float64{{1, 1, 1, 1}, {1, -1, 1, -1}, {1, 1, -1, -1}, {1, -1, -1, 1}}
	if diff := cmp.Diff(want, rows); diff != "" {
		t.Errorf("order 4 (-want +got):\n%s", diff)
	}
}
