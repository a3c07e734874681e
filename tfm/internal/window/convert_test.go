// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import (
	"math"
	"math/rand/v2"
	"reflect"
	"runtime"
	"testing"

	"golang.org/x/sys/cpu"

	"github.com/isochron-imaging/isochron/internal/guard"
)

// anyConversion returns random times of a block, some of them without a ray, beyond the reach, or
// midway between two delays.
func anyConversion(rng *rand.Rand) *conversion {
	elements, row := 1+rng.IntN(5), Cols+rng.IntN(20)
	element := (Rows-1)*row + Cols + rng.IntN(20)
	seconds := make([]float32, (elements-1)*element+(Rows-1)*row+Cols)
	missing := []float64{0, 0.02, 0.5, 1}[rng.IntN(4)]
	for i := range seconds {
		seconds[i] = float32(rng.IntN(4000)-2000) / 8
		switch {
		case rng.Float64() >= missing:
		case rng.IntN(2) == 0:
			seconds[i] = float32(math.NaN())
		default:
			seconds[i] = []float32{1e9, -1e9, float32(math.Inf(1)), float32(math.Inf(-1))}[rng.IntN(4)]
		}
	}
	c := &conversion{
		seconds: seconds, row: row, element: element,
		offset: float64(rng.IntN(3)), scale: math.Ldexp(1+rng.Float64()*float64(rng.IntN(2)), rng.IntN(40)-2), reach: 1 << 47,
		fixed: make([][Pixels]int64, elements), extents: make([]extent, elements),
	}
	if rng.IntN(2) == 0 { // one delay is exactly as far as the reach
		c.reach = math.Abs((float64(seconds[rng.IntN(len(seconds))]) - c.offset) * c.scale)
	}
	if !(c.reach <= 1<<47) {
		c.reach = 1 << 47
	}
	return c
}

// TestConverters compares the functions in assembly with plain Go, bit for bit, between unreadable
// pages.
func TestConverters(t *testing.T) {
	if len(converters()) == 0 {
		t.Skip("no assembly; TestConverter tells if that is wrong")
	}
	var memory []*guard.Memory
	for _, side := range guard.Sides {
		memory = append(memory, guard.New(t, side))
	}
	rng := rand.New(rand.NewPCG(21, 22))
	full, part := 0, 0
	for range 500 {
		want := anyConversion(rng)
		missing := want.plain()
		if missing {
			part++
		} else {
			full++
		}
		for i, convert := range converters() {
			for _, m := range memory {
				m.Reset()
				got := *want
				got.seconds = guard.Copy(m, "seconds", want.seconds)
				got.fixed = guard.Copy(m, "delays", make([][Pixels]int64, len(want.fixed)))
				got.extents = guard.Copy(m, "extents", make([]extent, len(want.extents)))
				var short bool
				if err := m.Run(func() { short = convert(&got) }); err != nil {
					t.Fatalf("function %d: %v", i, err)
				}
				if short != missing || !reflect.DeepEqual(got.fixed, want.fixed) || !reflect.DeepEqual(got.extents, want.extents) {
					t.Fatalf("function %d: rays missing %v, delays %v, extents %v; in plain Go %v, %v, %v",
						i, short, got.fixed, got.extents, missing, want.fixed, want.extents)
				}
			}
		}
	}
	if full < 50 || part < 50 {
		t.Errorf("%d blocks with all rays, %d without, want many of both", full, part)
	}
}

// TestPlainConversion compares the delays of one row with hand calculation.
func TestPlainConversion(t *testing.T) {
	c := &conversion{
		seconds: make([]float32, Pixels), row: Cols, element: Pixels,
		offset: 1, scale: 2, reach: 100, fixed: make([][Pixels]int64, 1), extents: make([]extent, 1),
	}
	nan := float32(math.NaN())
	copy(c.seconds, []float32{1, 1.25, 1.75, 51, 51.001, -49, nan, 3.2})
	for i := Cols; i < Pixels; i++ {
		c.seconds[i] = nan
	}
	if !c.convert() {
		t.Error("no ray is missing")
	}
	// (1.25 - 1)·2 is 0.5 and (1.75 - 1)·2 is 1.5: halves are rounded to even numbers.
	want := [Cols]int64{0, 0, 2, 100, none, -100, none, 4}
	for i, v := range want {
		if got := c.fixed[0][i/4*half+i%4]; got != v {
			t.Errorf("delay %d of the first row is %d, want %d", i, got, v)
		}
	}
	if got, want := c.extents[0], (extent{
		first: [7]int64{0, beyond, -100, beyond}, last: [7]int64{100, -beyond, 4, -beyond},
	}); got != want {
		t.Errorf("extents %v, want %v", got, want)
	}
}

// TestConverter fails where plain Go converts although the processor could do it in assembly.
func TestConverter(t *testing.T) {
	if !guard.Pages {
		t.Skip("this system has no unreadable pages")
	}
	want := "window.(*conversion).plain"
	switch {
	case !guard.Assembly || runtime.GOARCH != "amd64":
	case cpu.X86.HasAVX512F && cpu.X86.HasAVX512DQ:
		want = "window.convertAVX512"
	case cpu.X86.HasAVX2:
		want = "window.convertAVX2"
	}
	c := &conversion{row: Cols, element: Pixels, fixed: make([][Pixels]int64, 1), extents: make([]extent, 1)}
	c.seconds = guard.Unreadable[float32](t, Pixels)
	if got := guard.Toucher(func() { c.convert() }); got != want {
		t.Errorf("%q touched the times, want %q", got, want)
	}
}
