// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package pixel

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"golang.org/x/sys/cpu"

	"github.com/isochron-imaging/isochron/internal/guard"
)

// sameBits compares bit by bit.
func sameBits(a, b []float32) bool {
	return slices.EqualFunc(a, b, func(x, y float32) bool {
		return math.Float32bits(x) == math.Float32bits(y)
	})
}

// TestForms compares assembly with plain Go, bit for bit. It takes every short length, between
// unreadable pages.
func TestForms(t *testing.T) {
	if !available {
		t.Skip("no assembly; TestDispatch tells if that is wrong")
	}
	var memory []*guard.Memory
	for _, side := range guard.Sides {
		memory = append(memory, guard.New(t, side))
	}
	rng := rand.New(rand.NewPCG(7, 7))
	amplitude := map[string]func() float32{
		"ordinary":   func() float32 { return float32(rng.ExpFloat64()) },
		"any finite": func() float32 { return math.Float32frombits(rng.Uint32() & 0x7f7fffff) },
		"tiny":       func() float32 { return math.Float32frombits(rng.Uint32() & 0x00ffffff) },
	}
	near := func(exponent int) func() float32 {
		return func() float32 { return float32(math.Ldexp(1+rng.Float64(), exponent+rng.IntN(5))) }
	}
	amplitude["near the greatest power"], amplitude["near the least power"] = near(47), near(-43)
	levels := []Levels{
		{Scale: 1, Threshold: 0.01, Floor: -40},
		{Scale: 1e-3, Threshold: 1e-3, Floor: -120},
		{Scale: 1e42, Threshold: 1e-45, Floor: -1e4}, // ratios above the range of single precision
		{Scale: 1e-30, Threshold: 0, Floor: -2000},   // ratios below its normal numbers
	}
	for name, next := range amplitude {
		for n := range 100 {
			samples, amplitudes := make([]complex64, n), make([]float32, n)
			for i := range n {
				amplitudes[i] = next()
				sign := float32(rng.IntN(2)*2 - 1)
				samples[i] = complex(sign*next(), -sign*next())
			}
			compare(t, memory, fmt.Sprintf("magnitudes, %s, n=%d", name, n), samples, Magnitude)
			parts := make([]float32, n/20*2*Group)
			for i := range parts {
				parts[i] = next()
			}
			for _, unit := range []float32{1, 3e-5, -1e20} {
				compare(t, memory, fmt.Sprintf("planar, %s, n=%d, unit %v", name, len(parts), unit), parts,
					func(dst, src []float32) { Planar(dst[:len(src)/2], src, unit) })
			}
			for _, l := range levels {
				what := fmt.Sprintf("levels, %s, n=%d, %+v", name, n, l)
				compare(t, memory, what, amplitudes, func(dst, src []float32) { Decibels(dst, src, l) })
				compare(t, memory, what+", in place", amplitudes, func(dst, src []float32) {
					copy(dst, src)
					Decibels(dst, dst, l)
				})
			}
		}
	}
}

// compare checks that an operation gives the same bits in assembly, between unreadable pages, and
// in plain Go.
func compare[S complex64 | float32](
	t *testing.T, memory []*guard.Memory, name string, src []S, operation func(dst []float32, src []S),
) {
	t.Helper()
	want := make([]float32, len(src))
	fast = false
	operation(want, src)
	fast = available
	for i, side := range guard.Sides {
		m := memory[i]
		m.Reset()
		got := guard.Copy(m, "dst", want)
		clear(got)
		if err := m.Run(func() { operation(got, guard.Copy(m, "src", src)) }); err != nil {
			t.Fatalf("%s, guard %s: %v", name, side, err)
		}
		if !sameBits(got, want) {
			t.Fatalf("%s: %v, want %v", name, got, want)
		}
	}
}

// TestPowerLimits checks that assembly takes pixels whose power is at a limit, and leaves all
// pixels to plain Go if the power of one pixel is beyond it.
func TestPowerLimits(t *testing.T) {
	if !available {
		t.Skip("no assembly; TestDispatch tells if that is wrong")
	}
	for _, test := range []struct {
		name string
		re   float32
		want bool
	}{
		{"zero", 0, true},
		{"least power", 0x1p-40, true},
		{"below the least power", math.Nextafter32(0x1p-40, 0), false},
		{"greatest power", 0x1p+50, true},
		{"above the greatest power", math.Nextafter32(0x1p+50, 0x1p+51), false},
	} {
		samples, parts, dst := make([]complex64, Group), make([]float32, 2*Group), make([]float32, Group)
		for i := range samples {
			samples[i], parts[i] = 1, 1
		}
		samples[17], parts[17] = complex(test.re, 0), test.re
		if got := magnitude(&dst[0], &samples[0], Group/lanes); got != test.want {
			t.Errorf("magnitudes, %s: in assembly %t, want %t", test.name, got, test.want)
		}
		if got := planar(&dst[0], &parts[0], 1, 1); got != test.want {
			t.Errorf("planar, %s: in assembly %t, want %t", test.name, got, test.want)
		}
		if power := test.re * test.re; test.want != (power == 0 || power >= minPower && power <= maxPower) {
			t.Errorf("%s: plain Go has other limits", test.name)
		}
	}
}

// TestDispatch fails where the processor could do an operation in assembly and plain Go does it.
func TestDispatch(t *testing.T) {
	if !guard.Pages {
		t.Skip("this system has no unreadable pages")
	}
	magnitude, planar, decibels := "pixel.Magnitude", "pixel.Planar", "pixel.Decibels"
	avx512 := cpu.X86.HasAVX512F && cpu.X86.HasAVX512DQ && cpu.X86.HasAVX512VL
	if guard.Assembly && runtime.GOARCH == "amd64" && avx512 {
		magnitude, planar, decibels = "pixel.magnitude", "pixel.planar", "pixel.decibels"
	}
	const n = 1000
	dst := make([]float32, n)
	for want, do := range map[string]func(){
		magnitude: func() { Magnitude(dst, guard.Unreadable[complex64](t, n)) },
		planar:    func() { Planar(dst, guard.Unreadable[float32](t, 2*Group), 1) },
		decibels:  func() { Decibels(dst, guard.Unreadable[float32](t, n), Levels{Scale: 1}) },
	} {
		if got := guard.Toucher(do); got != want {
			t.Errorf("%q touched the pixels, want %q", got, want)
		}
	}
}
