// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build amd64 && !purego

package avx512

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/tfm/internal/kerneltest"
	"github.com/isochron-imaging/isochron/tfm/internal/pixel"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
)

// sameBits compares bit by bit.
func sameBits(a, b []float32) bool {
	return slices.EqualFunc(a, b, func(x, y float32) bool { return math.Float32bits(x) == math.Float32bits(y) })
}

// TestPixels compares the operations on pixels with plain Go, bit for bit, over every
// short length, between unreadable pages.
func TestPixels(t *testing.T) {
	needAVX512(t)
	rng := rand.New(rand.NewPCG(7, 7))
	amplitude := map[string]func() float32{
		"ordinary":   func() float32 { return float32(rng.ExpFloat64()) },
		"any finite": func() float32 { return math.Float32frombits(rng.Uint32() & 0x7f7fffff) },
		"tiny":       func() float32 { return math.Float32frombits(rng.Uint32() & 0x00ffffff) },
	}
	levels := []pixel.Levels{
		{Scale: 1, Threshold: 0.01, Floor: -40},
		{Scale: 1e-3, Threshold: 1e-3, Floor: -120},
		{Scale: 1e42, Threshold: 1e-45, Floor: -1e4}, // ratios beyond single precision
		{Scale: 1e-30, Threshold: 0, Floor: -2000},   // and below its normal numbers
	}
	for name, next := range amplitude {
		for n := range 100 {
			t.Run(fmt.Sprintf("%s/n=%d", name, n), func(t *testing.T) {
				vector, plain := kerneltest.GuardedPixels(t, Pixels()), pixel.Plain()
				samples, amplitudes := make([]complex64, n), make([]float32, n)
				for i := range n {
					amplitudes[i] = next()
					sign := float32(rng.IntN(2)*2 - 1)
					samples[i] = complex(sign*next(), -sign*next())
				}
				var magnitudes [2][]float32
				levelled := make([][2][]float32, len(levels))
				for i, o := range []pixel.Ops{vector, plain} {
					magnitudes[i] = make([]float32, n)
					o.Magnitude(magnitudes[i], samples)
					for j, l := range levels {
						levelled[j][i] = make([]float32, n)
						o.Decibels(levelled[j][i], amplitudes, l)
					}
				}
				if !sameBits(magnitudes[0], magnitudes[1]) {
					t.Errorf("magnitudes %v, want %v", magnitudes[0], magnitudes[1])
				}
				for j, l := range levelled {
					if !sameBits(l[0], l[1]) {
						t.Errorf("levels %+v: %v, want %v", levels[j], l[0], l[1])
					}
				}
				gotPeak, gotIndex := vector.Peak(amplitudes)
				if peak, index := plain.Peak(amplitudes); gotPeak != peak || gotIndex != index {
					t.Errorf("peak %v at %d, want %v at %d", gotPeak, gotIndex, peak, index)
				}
			})
		}
	}
	odd := []float32{1, float32(math.NaN()), 3, -5, 3}
	for range 5 {
		odd = append(odd, odd...)
	}
	gotPeak, gotIndex := Pixels().Peak(odd)
	if peak, index := pixel.Peak(odd); gotPeak != peak || gotIndex != index {
		t.Errorf("peak %v at %d of odd amplitudes, want %v at %d", gotPeak, gotIndex, peak, index)
	}
}

// TestWriteBlock compares with plain Go, between pixels that must not change.
func TestWriteBlock(t *testing.T) {
	needAVX512(t)
	rng := rand.New(rand.NewPCG(8, 8))
	const cols, rows = 13, 7
	const first = 2*cols + 3
	acc := make([]float32, 2*window.Pixels)
	for i := range acc {
		acc[i] = float32(rng.NormFloat64())
	}
	got := slices.Repeat([]complex64{complex(1, 2)}, cols*rows)
	want := slices.Clone(got)
	writeBlock(&got[first], 8*cols, &acc[0], 0.3)
	window.Block{First: first, Rows: window.Rows, Cols: window.Cols}.Write(want, cols, acc, 0.3)
	if !slices.Equal(got, want) {
		t.Errorf("wrote %v, want %v", got, want)
	}
}
