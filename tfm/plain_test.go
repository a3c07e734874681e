// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm/internal/portable"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestLocalDelays images grids of two tiles with the kernel in plain Go, and counts the tiles
// whose delays count from bases. The image must be right where they do and where they cannot.
func TestLocalDelays(t *testing.T) {
	for _, test := range []struct {
		name    string
		step    float64 // m
		samples int
		missing bool // a ray in the second tile
		want    int  // tiles whose delays count from bases
	}{
		{"fine", 0.1e-3, 700, false, 2},
		{"the record ends within the image", 0.1e-3, 500, false, 2},
		{"the longest record for which the error is promised", 0.1e-3, 8192, false, 2},
		{"a ray is missing", 0.1e-3, 700, true, 1},
		{"a tile spreads over 6,000 samples", 2e-3, 8000, false, 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := randomCapture(31, 4, test.samples, fmc.HalfPairs(4))
			c.FirstSample = 0
			columns := float64(2*tileCols - 1)
			g := check.Must(NewSection(0, columns*test.step, 2e-3, 2e-3+11*test.step, test.step))
			path := check.Must(wedge.NewPath([]wedge.Leg{{Speed: 3240}}, nil))
			times := check.Must(path.Times(background, c.Array.Elements, g.Points(), nil))
			if test.missing {
				times.Seconds[g.Cols-1] = float32(math.NaN())
			}
			want := doubleLoop(t, c, g, times, times, Options{})
			p := check.Must(NewPlan(c, g, times, times, &Options{kernel: "portable"}))
			got := check.Must(p.Image(background, c)).Data
			for _, i := range atEnds(c, times, times) {
				got[i] = complex64(want[i])
			}
			wantImage(t, got, want, 5e-6)
			local := 0
			for _, l := range p.kernel.(*plain).local {
				if l {
					local++
				}
			}
			if local != test.want || len(p.tiles) != 2 {
				t.Errorf("%d of %d tiles count from bases, want %d of 2", local, len(p.tiles), test.want)
			}
		})
	}
}

// TestWindowAtTheEnd ends the record just before the last delay of a tile. A pixel there must not
// read the trace that follows in memory.
func TestWindowAtTheEnd(t *testing.T) {
	c := randomCapture(32, 4, 700, fmc.HalfPairs(4))
	c.FirstSample = 0
	g := check.Must(NewSection(2e-3, 3e-3, 2e-3, 3e-3, 0.1e-3))
	path := check.Must(wedge.NewPath([]wedge.Leg{{Speed: 3240}}, nil))
	times := check.Must(path.Times(background, c.Array.Elements, g.Points(), nil))
	longest := 2 * float64(slices.Max(times.Seconds)) * c.SampleRate
	c.Samples = int(longest) + 1
	c.Data = c.Data[:len(c.Pairs)*c.Samples]
	want := doubleLoop(t, c, g, times, times, Options{})
	got := check.Must(check.Must(NewPlan(c, g, times, times, &Options{kernel: "portable"})).Image(background, c)).Data
	wantImage(t, got, want, 5e-6)
	if f := longest - math.Floor(longest); !(f > 0.01 && f < 0.99) {
		t.Errorf("the longest delay is %v samples: too near to a sample for the test", longest)
	}
}

// TestCount counts delays from a base, of which the first is a millionth of a sample below a whole
// number.
func TestCount(t *testing.T) {
	g := Grid{Cols: 3, Rows: 1, Slices: 1}
	times := &wedge.Times{Elements: 1, Points: 3, Seconds: []float32{100, 101.25, 102.5}}
	axis := timeAxis{sampleRate: 1, offset: 1e-6, reach: 1000, fraction: 17}
	d := newDelays(times, g, tiles(g, tileCols), axis)
	d.count(times, g, tiles(g, tileCols), []bool{true}, axis)
	b := d.bases[0]
	for k, got := range d.data {
		want := (axis.samples(times.Seconds[k]) - float64(b.sample)) * (1 << 20)
		if !(math.Abs(float64(got)-want) <= 0.5) || got < 0 || got > b.last {
			t.Errorf("delay %d is %d from sample %d, want %v, in 0 to %d", k, got, b.sample, want, b.last)
		}
	}
	if b.sample != 99 || b.last != d.data[2] {
		t.Errorf("base %+v, want 99 and the last delay", b)
	}
}

// TestPlainReads compares the samples that a plan packs with the samples that its tables read.
// Whole delays have 17 bits of fraction, and delays from bases have 20, so their sums round to
// different samples here.
func TestPlainReads(t *testing.T) {
	const bit = 1. / (1 << 20)
	g := Grid{Cols: 1, Rows: 1, Slices: 1}
	for _, test := range []struct {
		name          string
		sent, offset  float64
		read, rounded int
	}{
		{"the sample before", 100, 3.75 * bit, 199, 200},
		{"the sample after", 100 - 8*bit, -3.75 * bit, 200, 199},
	} {
		t.Run(test.name, func(t *testing.T) {
			times := &wedge.Times{Elements: 2, Points: 1, Seconds: []float32{float32(test.sent), 100}}
			p := &Plan{grid: g, tiles: tiles(g, tileCols), samples: 300, traces: make([]traceSum, 1), lookups: []lookup{{tx: 0, rx: 1}}}
			k := newPlain32(p, times, times, timeAxis{sampleRate: 1, offset: test.offset, reach: 300, fraction: 17})
			whole := newDelays(times, g, p.tiles, timeAxis{sampleRate: 1, offset: test.offset, reach: 300, fraction: 17})
			if got := int(whole.data[0]+whole.data[1]) >> 17; got != test.rounded {
				t.Errorf("whole delays read sample %d, want %d", got, test.rounded)
			}
			read := int(k.tx.bases[0].sample+k.tx.bases[1].sample) + int(k.tx.data[0]+k.tx.data[1])>>portable.FractionBits
			if from, to := k.reads(0); read != test.read || !(from <= read && read+2 <= to) {
				t.Errorf("sample %d is read and samples %d to %d are packed, want sample %d and the next", read, from, to-1, test.read)
			}
		})
	}
}
