// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"runtime/debug"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge"
)

// steelTimer returns the timer of an array in contact with steel.
func steelTimer(c *fmc.Capture) Timer {
	path := check.Must(wedge.NewPath([]wedge.Leg{{Speed: 5900}}, nil))
	return func(ctx context.Context, points []r3.Vec) (transmit, receive *wedge.Times, err error) {
		t, err := path.Times(ctx, c.Array.Elements, points, nil)
		return t, t, err
	}
}

// TestBands compares bands with a plan of the whole grid, bit for bit. The limits hold from four
// rows to the whole grid.
func TestBands(t *testing.T) {
	c := randomCapture(40, 6, 700, fmc.HalfPairs(6))
	second := randomCapture(41, 6, 700, fmc.HalfPairs(6))
	section := check.Must(NewSection(-3e-3, 3e-3, 1e-3, 9.1e-3, 0.2e-3))
	volume := check.Must(NewVolume(r3.Vec{X: -2e-3, Y: -1e-3, Z: 2e-3}, r3.Vec{X: 2e-3, Y: 1e-3, Z: 6e-3}, r3.Vec{X: 0.3e-3, Y: 0.5e-3, Z: 0.3e-3}))
	for name, g := range map[string]Grid{"section": section, "volume": volume} {
		timer := steelTimer(c)
		transmit, receive, err := timer(background, g.Points())
		if err != nil {
			t.Fatal(err)
		}
		plan := check.Must(NewPlan(c, g, transmit, receive, nil))
		want := []*Image{check.Must(plan.Image(background, c)), check.Must(plan.Image(background, second))}
		fixed, row := check.Must(NewBands(c, g, timer, 1e9, nil)).bytes()
		for _, rows := range []int{4, 7, 11, 14, 33, 40, 100} {
			t.Run(fmt.Sprintf("%s/rows=%d", name, rows), func(t *testing.T) {
				last := 0.0
				limit := fixed + rows*row
				b := check.Must(NewBands(c, g, timer, limit, &Options{Progress: func(share float64) {
					if !(share > last) {
						t.Errorf("progress %v after %v", share, last)
					}
					last = share
				}}))
				if whole := rows == 100; whole != (len(b.bands) == 1) {
					t.Errorf("%d bands", len(b.bands))
				}
				got := check.Must(b.Images(background, c, second))
				for i := range want {
					if !slices.Equal(got[i].Data, want[i].Data) || got[i].Grid != g {
						t.Errorf("image %d is not the image of one plan", i)
					}
					wantStates(t, got[i].States, want[i].States)
				}
				if last != 1 {
					t.Errorf("progress ended at %v", last)
				}
				for i := range b.bands {
					wantWithin(t, b, i, limit)
				}
			})
		}
	}
}

// wantStates compares states but for CoarseGrid, which is found from neighbours.
func wantStates(t *testing.T, got, want []State) {
	t.Helper()
	if got == nil || len(got) != len(want) {
		t.Fatalf("%d states, want %d", len(got), len(want))
	}
	for p := range want {
		if (got[p]^want[p])&^CoarseGrid != 0 {
			t.Fatalf("pixel %d is %q, want %q", p, got[p], want[p])
		}
	}
}

// wantWithin checks that band i takes no more memory than the limit.
func wantWithin(t *testing.T, b *Bands, i, limit int) {
	t.Helper()
	part := b.bands[i]
	c := check.Must(fmc.New(*b.capture))
	times := check.Must(check.Must(wedge.NewPath([]wedge.Leg{{Speed: 5900}}, nil)).Times(background, c.Array.Elements, part.grid.Points(), nil))
	tables, frame := check.Must(NewPlan(c, part.grid, times, times, &b.options)).Bytes()
	// Both paths may have tables of their own.
	if n := 2*(tables+4*len(times.Seconds)) + 24*part.grid.Len() + frame; n > limit {
		t.Errorf("band of %d × %d × %d pixels takes %d bytes, limit %d", part.grid.Cols, part.grid.Rows, part.grid.Slices, n, limit)
	}
}

// TestBandsMemory measures the memory of a band on many cores, against its limit. The list of
// pairs is short, so that the scratches of the cores take most of the memory.
func TestBandsMemory(t *testing.T) {
	c := randomCapture(43, 4, 1000, fmc.HalfPairs(4))
	g := check.Must(NewSection(-3e-3, 3e-3, 1e-3, 2e-3, 0.2e-3))
	times, _, err := steelTimer(c)(background, g.Points())
	if err != nil {
		t.Fatal(err)
	}
	const workers = 32
	eachKernel(t, func(t *testing.T, o Options, _ float64) {
		o.Workers = workers
		fixed, row := check.Must(NewBands(c, g, steelTimer(c), 1e9, &o)).bytes()
		before := heldBytes()
		p := check.Must(NewPlan(c, g, times, times, &o))
		s := p.NewScratch()
		taken := heldBytes() - before
		if limit := fixed + row*roundUp(g.Rows, 4); taken > limit {
			t.Errorf("%d bytes taken, limit %d", taken, limit)
		}
		runtime.KeepAlive(p)
		runtime.KeepAlive(s)
	})
}

// TestBandsTraces measures the memory of a band with many traces, with and without a coherence.
// The limit holds it, and is not much larger: otherwise an array of many elements would need far
// more memory than it takes.
func TestBandsTraces(t *testing.T) {
	c := randomCapture(45, 32, 2000, fmc.HalfPairs(32))
	g := check.Must(NewSection(-1e-3, 1e-3, 10e-3, 11e-3, 0.2e-3))
	times, _, err := steelTimer(c)(background, g.Points())
	if err != nil {
		t.Fatal(err)
	}
	eachKernel(t, func(t *testing.T, o Options, _ float64) {
		for _, o.Coherence = range []Coherence{NoCoherence, CoherenceFactor, AuxiliaryPhaseCoherence} {
			o.Workers = 1
			fixed, row := check.Must(NewBands(c, g, steelTimer(c), 1e9, &o)).bytes()
			limit := fixed + row*roundUp(g.Rows, 4)
			before := heldBytes()
			p := check.Must(NewPlan(c, g, times, times, &o))
			s := p.NewScratch()
			taken := heldBytes() - before
			if taken > limit || limit > 2*taken+1<<20 {
				t.Errorf("%v: %d bytes taken, limit %d", o.Coherence, taken, limit)
			}
			runtime.KeepAlive(p)
			runtime.KeepAlive(s)
		}
	})
}

// TestBandsHeap measures the heap, garbage included, while a grid of many bands is imaged
// through two paths: with the tables of a band, and with all that a band takes. It may
// exceed the limit by 1 MB, for what the runtime and the workers allocate. The collector
// would let garbage grow to ten times what is in use.
func TestBandsHeap(t *testing.T) {
	defer debug.SetGCPercent(debug.SetGCPercent(1000))
	var pairs []fmc.Pair // few, so that tables take most of the memory and of the time
	for e := range 64 {
		pairs = append(pairs, fmc.Pair{Tx: e, Rx: e})
	}
	c := randomCapture(44, 64, 6000, pairs)
	// Pixels so far apart that delays take the most memory that they can.
	g := check.Must(NewSection(-60e-3, 60e-3, 1e-3, 121e-3, 0.4e-3))
	fast := check.Must(wedge.NewPath([]wedge.Leg{{Speed: 5900}}, nil))
	slow := check.Must(wedge.NewPath([]wedge.Leg{{Speed: 3240}}, nil))
	before, peak := 0, 0
	note := func() {
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		peak = max(peak, int(m.HeapAlloc)-before)
	}
	timer := func(ctx context.Context, points []r3.Vec) (transmit, receive *wedge.Times, err error) {
		transmit = check.Must(fast.Times(ctx, c.Array.Elements, points, nil))
		receive = check.Must(slow.Times(ctx, c.Array.Elements, points, nil))
		note()
		return transmit, receive, nil
	}
	fixed, row := check.Must(NewBands(c, g, timer, 1e9, nil)).bytes()
	limit := fixed + 40*row
	b := check.Must(NewBands(c, g, timer, limit, &Options{Progress: func(float64) { note() }}))
	before = heldBytes() + 9*g.Len() // with the image
	images := check.Must(b.Images(background, c))
	if len(b.bands) < 5 {
		t.Fatalf("%d bands, want some", len(b.bands))
	}
	if peak > limit+1<<20 {
		t.Errorf("%d bytes taken, limit %d", peak, limit)
	}
	if peak < limit/4 {
		t.Errorf("%d bytes taken, limit %d: the measurement misses most of it", peak, limit)
	}
	runtime.KeepAlive(images)
}

// heldBytes returns the memory in use.
func heldBytes() int {
	var m runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&m)
	return int(m.HeapAlloc)
}

func TestBandsErrors(t *testing.T) {
	c := randomCapture(42, 3, 300, fmc.HalfPairs(3))
	g := check.Must(NewSection(-1e-3, 1e-3, 1e-3, 3e-3, 0.2e-3))
	timer := steelTimer(c)
	_, err := NewBands(c, g, timer, 1000, nil)
	check.Error(t, err, "memory limit of 1000 bytes", "want at least", "4 rows")
	_, err = NewBands(c, g, timer, -1, nil)
	check.Error(t, err, "memory limit of -1 bytes")
	_, err = NewBands(c, g, timer, 1e9, &Options{Weights: []float32{1}})
	check.Error(t, err, "1 weights", "want 6")
	_, err = NewBands(nil, g, timer, 1e9, nil)
	check.Error(t, err, "without a capture")
	_, err = NewBands(c, g, nil, 1e9, nil)
	check.Error(t, err, "tables of times")
	_, err = NewBands(c, Grid{}, timer, 1e9, nil)
	check.Error(t, err, "step 0 m along x")
	b := check.Must(NewBands(c, g, timer, 1e9, nil))
	_, err = b.Images(background, c, nil)
	check.Error(t, err, "frame 1 is nil")
	short := *c
	short.Data = c.Data[1:]
	_, err = b.Images(background, &short)
	check.Error(t, err, "frame of 1799 samples")
	failed := errors.New("no times today")
	b = check.Must(NewBands(c, g, func(context.Context, []r3.Vec) (a, b *wedge.Times, err error) { return nil, nil, failed }, 1e9, nil))
	if _, err = b.Images(background, c); !errors.Is(err, failed) {
		t.Errorf("error %v, want the error of the timer", err)
	}
	ended, cancel := context.WithCancel(background)
	cancel()
	b = check.Must(NewBands(c, g, timer, 1e9, nil))
	if _, err = b.Images(ended, c); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want the error of the context", err)
	}
}
