// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.
package pixel

import (
	"math"
	"slices"
	"testing"
)

func TestPeak(t *testing.T) {
	nan, smallest := float32(math.NaN()), float32(math.SmallestNonzeroFloat32)
	for _, test := range []struct {
		name  string
		src   []float32
		peak  float32
		index int
	}{
		{"empty", nil, 0, 0},
		{"all zeros: index 0, not the last", []float32{0, 0, 0}, 0, 0},
		{"all negative: none is above 0", []float32{-3, -1, -2}, 0, 0},
		{"last", []float32{1, 2, 3}, 3, 2},
		{"first", []float32{3, 2, 1}, 3, 0},
		{"equal peaks: the first of them", []float32{1, 3, 3, 2, 3}, 3, 1},
		{"NaN is no peak", []float32{nan, 2, nan, 3}, 3, 3},
		{"infinite", []float32{1, float32(math.Inf(1)), 2}, float32(math.Inf(1)), 1},
		{"the smallest number is above 0", []float32{0, smallest}, smallest, 1},
		{"long, with NaN: the first of the largest",
			append(slices.Repeat([]float32{1, nan, -5}, 20), 3, 2, 3), 3, 60},
		{"long: negative elements have the magnitude of the peak",
			append(slices.Repeat([]float32{-3, 1}, 20), 3), 3, 40},
		{"beyond the first block", append(slices.Repeat([]float32{1, 2}, 800), 3, 3), 3, 1600},
		{"equal peaks in two blocks: the first", append(slices.Repeat([]float32{1, 2}, 800), 2), 2, 1},
		{"long, all negative", slices.Repeat([]float32{-3, -1}, 20), 0, 0},
	} {
		if peak, index := Peak(test.src); peak != test.peak || index != test.index {
			t.Errorf("%s: peak %v at %d, want %v at %d",
				test.name, peak, index, test.peak, test.index)
		}
	}
}

// TestMagnitude takes Pythagorean triples, and numbers so large or small that single precision
// does not hold their squares.
func TestMagnitude(t *testing.T) {
	src := []complex64{
		0, complex(3, -4), complex(-5, 12), complex(3e30, 4e30), complex(-3e-30, 4e-30),
		complex(math.MaxFloat32, 0),
	}
	want := []float32{0, 5, 13, 5e30, 5e-30, math.MaxFloat32}
	got := make([]float32, len(src))
	Magnitude(got, src)
	for i, v := range got {
		if v != want[i] {
			t.Errorf("magnitude of %v is %v, want %v", src[i], v, want[i])
		}
	}
	planes := make([]float32, 2*Group)
	for i, v := range src {
		planes[i], planes[Group+i] = real(v)/2, imag(v)/2
	}
	got = make([]float32, Group)
	Planar(got, planes, 2)
	for i, v := range got[:len(src)] {
		if v != want[i] {
			t.Errorf("planar magnitude of %v is %v, want %v", src[i], v, want[i])
		}
	}
}

// TestDecibels checks levels against decades, which follow from the definition, at the threshold,
// and at the floor.
func TestDecibels(t *testing.T) {
	l := Levels{Scale: 1. / 8, Threshold: 0.01, Floor: -40}
	src := []float32{8, 80, 0.8, 0.09, 0.01, 0, 0.02, float32(math.NaN())}
	want := []float32{0, 20, -20, -38.97695, -40, -40, -40, -40}
	got := make([]float32, len(src))
	Decibels(got, src, l)
	for i, v := range got {
		if !(math.Abs(float64(v-want[i])) <= 1e-5) {
			t.Errorf("level of %v is %v dB, want %v dB", src[i], v, want[i])
		}
	}
	// Only levels at or below the threshold are the floor.
	l = Levels{Scale: 1, Threshold: 0.5, Floor: -100}
	Decibels(got[:2], []float32{0.5, math.Nextafter32(0.5, 1)}, l)
	if got[0] != -100 || !(math.Abs(float64(got[1])+6.0206) <= 1e-4) {
		t.Errorf("levels at and above the threshold: %v", got[:2])
	}
}
