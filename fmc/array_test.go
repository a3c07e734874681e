// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// probe is the template for the arrays of the tests. Its values are invented.
var probe = Array{Width: 0.5e-3, CentreFrequency: 4e6, Bandwidth: 0.6}

func TestMatrixArray(t *testing.T) {
	tests := []struct {
		name           string
		nx, ny         int
		pitchX, pitchY float64
		want           []r3.Vec
	}{
		{"one element sits on the origin", 1, 1, 1, 1, []r3.Vec{{}}},
		{"even count straddles the origin", 2, 1, 1, 1, []r3.Vec{{X: -0.5}, {X: 0.5}}},
		{"odd count has an element on the origin", 3, 1, 2, 1, []r3.Vec{{X: -2}, {}, {X: 2}}},
		{"x runs fastest", 2, 3, 1, 2, []r3.Vec{
			{X: -0.5, Y: -2}, {X: 0.5, Y: -2}, {X: -0.5}, {X: 0.5}, {X: -0.5, Y: 2}, {X: 0.5, Y: 2},
		}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			got, err := MatrixArray(test.nx, test.ny, test.pitchX, test.pitchY, probe)
			if err != nil {
				t.Fatal(err)
			}
			want := probe
			want.Elements = test.want
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("array (-want +got):\n%s", diff)
			}
		})
	}
}

func TestMatrixArrayRefuses(t *testing.T) {
	wide, mute := probe, probe
	wide.Width, mute.CentreFrequency = 1.1e-3, 0
	tests := []struct {
		name           string
		nx, ny         int
		pitchX, pitchY float64
		like           Array
		want           string
	}{
		{"no columns", 0, 1, 1e-3, 1e-3, probe, "0 × 1 elements"},
		{"negative rows", 1, -1, 1e-3, 1e-3, probe, "1 × -1 elements"},
		{"count above the limit", 1 << 11, 1 << 10, 1e-3, 1e-3, probe, "at most 1048576 in all"},
		{"count beyond any array", math.MaxInt, math.MaxInt, 1e-3, 1e-3, probe, "elements: want"},
		{"zero pitch", 2, 1, 0, 1e-3, probe, "pitch 0 m"},
		{"negative pitch along y", 2, 2, 1e-3, -1e-3, probe, "pitch -0.001 m"},
		{"pitch NaN", 2, 1, math.NaN(), 1e-3, probe, "pitch NaN m"},
		{"pitch Inf", 2, 1, math.Inf(1), 1e-3, probe, "pitch +Inf m"},
		{"overlapping elements", 2, 1, 1e-3, 1e-3, wide,
			"element width 0.0011 m: want at most the pitch, 0.001 m"},
		{"template out of range", 2, 1, 1e-3, 1e-3, mute, "centre frequency 0 Hz"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, err := MatrixArray(test.nx, test.ny, test.pitchX, test.pitchY, test.like)
			check.Error(t, err, "fmc: ", test.want)
		})
	}
}

// TestPlaceOnWedge puts a linear array of 0.6 mm pitch on a 36° wedge. The reference values are
// the elements of testdata/weld32.json, which another program computed.
func TestPlaceOnWedge(t *testing.T) {
	flat, err := LinearArray(32, 0.6e-3, probe)
	if err != nil {
		t.Fatal(err)
	}
	first, last := r3.Vec{X: -15.854687359e-3, Z: -6e-3}, r3.Vec{X: -0.806971263e-3,
		Z: -16.932805693e-3}
	centre := r3.Scale(0.5, r3.Add(first, last))
	got, err := flat.Place(r3.NewRotation(36*math.Pi/180, r3.Vec{Y: 1}), centre)
	if err != nil {
		t.Fatal(err)
	}
	const tolerance = 1e-12 // m, the last digit in the file
	for _, e := range []struct {
		index int
		want  r3.Vec
	}{
		{0, first},
		{1, r3.Vec{X: -15.369277162e-3, Z: -6.352671151e-3}},
		{31, last},
	} {
		if miss := r3.Norm(r3.Sub(got.Elements[e.index], e.want)); !(miss <= tolerance) {
			t.Errorf("element %d at %v, want %v", e.index, got.Elements[e.index], e.want)
		}
	}
	if flat.Elements[0].Z != 0 {
		t.Error("Place changed the array that it was given")
	}
}

// TestPlaceAlongEachAxis turns an array about each axis and moves it along each axis. For example,
// a quarter turn about z moves an element from +x to +y.
func TestPlaceAlongEachAxis(t *testing.T) {
	flat, err := LinearArray(2, 2e-3, probe)
	if err != nil {
		t.Fatal(err)
	}
	const quarter = math.Pi / 2
	for _, test := range []struct {
		name        string
		turn        r3.Rotation
		shift, want r3.Vec // want of the element at x = 1 mm
	}{
		{"x", r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{X: 5e-3}, r3.Vec{X: 6e-3}},
		{"y", r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{Y: 5e-3}, r3.Vec{X: 1e-3, Y: 5e-3}},
		{"-y", r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{Y: -5e-3}, r3.Vec{X: 1e-3, Y: -5e-3}},
		{"z", r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{Z: -5e-3}, r3.Vec{X: 1e-3, Z: -5e-3}},
		{"about x", r3.NewRotation(quarter, r3.Vec{X: 1}), r3.Vec{Y: 5e-3},
			r3.Vec{X: 1e-3, Y: 5e-3}},
		{"about y", r3.NewRotation(quarter, r3.Vec{Y: 1}), r3.Vec{Y: 5e-3},
			r3.Vec{Y: 5e-3, Z: -1e-3}},
		{"about z", r3.NewRotation(quarter, r3.Vec{Z: 1}), r3.Vec{Y: 5e-3}, r3.Vec{Y: 6e-3}},
	} {
		placed, err := flat.Place(test.turn, test.shift)
		if err != nil {
			t.Fatal(err)
		}
		if got := placed.Elements[1]; !(r3.Norm(r3.Sub(got, test.want)) <= 1e-17) {
			t.Errorf("%s: element at %v m, want %v m", test.name, got, test.want)
		}
	}
}

func TestPlaceRefuses(t *testing.T) {
	flat, err := LinearArray(2, 1e-3, probe)
	if err != nil {
		t.Fatal(err)
	}
	for _, test := range []struct {
		name  string
		turn  r3.Rotation
		shift r3.Vec
		want  string
	}{
		{"zero value is no rotation", r3.Rotation{}, r3.Vec{}, "want a unit quaternion"},
		{"axis of length 0 gives NaN", r3.NewRotation(1, r3.Vec{}), r3.Vec{},
			"want a unit quaternion"},
		{"scaling", r3.Rotation{Real: 2}, r3.Vec{}, "norm 2"},
		{"shift NaN", r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{Z: math.NaN()},
			"want finite coordinates"},
		{"shift along y NaN", r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{Y: math.NaN()},
			"want finite coordinates"},
		{"shift Inf", r3.NewRotation(0, r3.Vec{Y: 1}), r3.Vec{X: math.Inf(-1)},
			"want finite coordinates"},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := flat.Place(test.turn, test.shift)
			check.Error(t, err, "fmc: ", test.want)
		})
	}
}

func TestArrayValidate(t *testing.T) {
	tests := []struct {
		name   string
		change func(*Array)
		want   string
	}{
		{"no elements", func(a *Array) { a.Elements = nil },
			"array of 0 elements: want at least 1"},
		{"x NaN", func(a *Array) { a.Elements[1].X = math.NaN() }, "of element 1"},
		{"y Inf", func(a *Array) { a.Elements[0].Y = math.Inf(1) }, "of element 0"},
		{"z -Inf", func(a *Array) { a.Elements[2].Z = math.Inf(-1) }, "of element 2"},
		{"two elements at one place", func(a *Array) { a.Elements[2] = a.Elements[0] },
			"elements 0 and 2 both lie at"},
		{"zero of either sign is one place", func(a *Array) {
			a.Elements[0], a.Elements[1] = r3.Vec{}, r3.Vec{X: math.Copysign(0, -1)}
		}, "elements 0 and 1"},
		{"width 0", func(a *Array) { a.Width = 0 },
			"element width 0 m: want a finite value above 0"},
		{"width NaN", func(a *Array) { a.Width = math.NaN() }, "element width NaN m"},
		{"frequency negative", func(a *Array) { a.CentreFrequency = -1 },
			"centre frequency -1 Hz: want a finite value above 0"},
		{"frequency Inf", func(a *Array) { a.CentreFrequency = math.Inf(1) },
			"centre frequency +Inf Hz"},
		{"bandwidth 0", func(a *Array) { a.Bandwidth = 0 }, "bandwidth 0 of"},
		{"band reaching 0 Hz", func(a *Array) { a.Bandwidth = 2 },
			"bandwidth 2 of the centre frequency: want a value above 0 and below 2"},
		{"bandwidth NaN", func(a *Array) { a.Bandwidth = math.NaN() }, "bandwidth NaN of"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			a, err := LinearArray(3, 0.6e-3, probe)
			if err != nil {
				t.Fatal(err)
			}
			test.change(&a)
			check.Error(t, a.Validate(), "fmc: ", test.want)
		})
	}
}

// TestSpectralDeviation checks that the Gaussian spectrum is half of its peak, -6 dB, at the ends
// of the band.
func TestSpectralDeviation(t *testing.T) {
	off := probe.Bandwidth * probe.CentreFrequency / 2 / probe.SpectralDeviation()
	check.Within(t, "spectrum at the end of the band", math.Exp(-off*off/2), 0.5, 1e-12)
}

func TestArraySub(t *testing.T) {
	a, err := LinearArray(4, 1e-3, probe)
	if err != nil {
		t.Fatal(err)
	}
	got, err := a.sub([]int{0, 3})
	if err != nil {
		t.Fatal(err)
	}
	want := probe
	want.Elements = []r3.Vec{a.Elements[0], a.Elements[3]}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("array (-want +got):\n%s", diff)
	}
	for _, test := range []struct {
		name     string
		elements []int
		want     string
	}{
		{"none", nil, "array of 0 elements"},
		{"negative", []int{-1}, "element -1 of the sub-aperture: want 0 to 3"},
		{"beyond the last", []int{2, 4}, "element 4 of the sub-aperture: want 0 to 3"},
		{"twice", []int{1, 1}, "element 1 of the sub-aperture after 1: want ascending order"},
		{"descending", []int{2, 1}, "element 1 of the sub-aperture after 2: want ascending order"},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := a.sub(test.elements)
			check.Error(t, err, "fmc: ", test.want)
		})
	}
}

// TestMirrored: both elements lie as far from the plane as before, on its other side.
func TestMirrored(t *testing.T) {
	a := Array{Elements: []r3.Vec{{X: -3, Y: 1, Z: -2}, {X: 5, Z: -4}}, Width: 1, CentreFrequency: 2, Bandwidth: 0.5}
	kept := slices.Clone(a.Elements)
	want := Array{Elements: []r3.Vec{{X: 7, Y: 1, Z: -2}, {X: -1, Z: -4}}, Width: 1, CentreFrequency: 2, Bandwidth: 0.5}
	if diff := cmp.Diff(want, a.Mirrored(2)); diff != "" {
		t.Error(diff)
	}
	if !slices.Equal(a.Elements, kept) {
		t.Errorf("the elements of the original moved to %v", a.Elements)
	}
}
