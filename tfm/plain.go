// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"slices"

	"github.com/isochron-imaging/isochron/tfm/internal/portable"
	"github.com/isochron-imaging/isochron/wedge"
)

// plain is the kernel in plain Go.
type plain struct {
	plan     *Plan
	tx, rx   *delays
	fraction uint
	local    []bool   // of each tile, whether its delays count from bases
	ranges   [][2]int // of each trace, the samples that the image reads
}

func newPlain(p *Plan, transmit, receive *wedge.Times, axis timeAxis) *plain {
	k := &plain{plan: p, fraction: axis.fraction}
	k.tx = newDelays(transmit, p.grid, p.tiles, axis)
	k.rx = k.tx
	if receive != transmit {
		k.rx = newDelays(receive, p.grid, p.tiles, axis)
	}
	return k
}

// findReads notes which samples the image reads of each trace, and margin samples more at both
// ends.
func (k *plain) findReads(margin int64) {
	tx := k.tx.extents(k.plan.tiles)
	rx := tx
	if k.rx != k.tx {
		rx = k.rx.extents(k.plan.tiles)
	}
	k.ranges = make([][2]int, len(k.plan.traces))
	for _, l := range k.plan.lookups {
		for t := range k.plan.tiles {
			sent, received := tx[t*k.tx.elements+l.tx], rx[t*k.rx.elements+l.rx]
			from := max(0, (sent[0]+received[0])>>k.fraction-margin)
			to := min(int64(k.plan.samples), (sent[1]+received[1])>>k.fraction+2+margin)
			if from < to {
				k.ranges[l.trace] = union(k.ranges[l.trace], [2]int{int(from), int(to)})
			}
		}
	}
}

// newPlain32 is newPlain with delays that count from bases, in all tiles where they can.
func newPlain32(p *Plan, transmit, receive *wedge.Times, axis timeAxis) *plain {
	k := newPlain(p, transmit, receive, axis)
	k.findReads(1) // delays that count from bases are rounded in another way
	tx := k.tx.spreads(p.tiles, axis.fraction)
	rx := tx
	if k.rx != k.tx {
		rx = k.rx.spreads(p.tiles, axis.fraction)
	}
	k.local = make([]bool, len(p.tiles))
	for i := range k.local {
		k.local[i] = tx[i]+rx[i] < mostLocal
	}
	k.tx.count(transmit, p.grid, p.tiles, k.local, axis)
	if k.rx != k.tx {
		k.rx.count(receive, p.grid, p.tiles, k.local, axis)
	}
	return k
}

// mostLocal is the number of samples over which the delays of a pair in a tile may spread if they
// count from bases: the sum of two of them has 31 bits.
const mostLocal = 1 << (31 - portable.FractionBits)

func (k *plain) bytes() (tables, frame int) {
	tables = k.tx.bytes()
	if k.rx != k.tx {
		tables += k.rx.bytes()
	}
	const sampleBytes = 16
	return tables, k.plan.layers() * k.packedSamples() * sampleBytes
}

func (k *plain) reads(i int) (from, to int) { return k.ranges[i][0], k.ranges[i][1] }

// stride returns the distance of packed traces in samples. If the stride were a power of two
// bytes, the same sample of all traces would be in one set of the cache.
func (k *plain) stride() int {
	n := max(k.plan.samples-1, 0)
	if n%64 == 0 {
		n += 4
	}
	return n
}

// packedSamples returns the number of packed samples in a frame. The window of the last trace reaches
// beyond its end.
func (k *plain) packedSamples() int { return len(k.plan.traces)*k.stride() + len(portable.Window{}) }

func (k *plain) newFrames() []frame {
	frames := make([]frame, k.plan.layers())
	for i := range frames {
		frames[i] = &plainFrame{k, make([]portable.Sample, k.packedSamples()), slices.Clone(k.ranges)}
	}
	return frames
}

func (k *plain) join(f frame) bool {
	other, ok := f.(*plainFrame)
	if !ok || k.plan.layers() > 1 || other.fraction != k.fraction || other.stride() != k.stride() {
		return false
	}
	for i, r := range k.ranges {
		other.packs[i] = union(other.packs[i], r)
	}
	return true
}

// plainFrame holds packed traces.
type plainFrame struct {
	*plain
	packed []portable.Sample
	packs  [][2]int // of each trace, the samples that are packed
}

func (f *plainFrame) pack(i int, re, im []float32, _ float32) {
	from, to := f.packs[i][0], f.packs[i][1]
	portable.Pack(f.trace(i)[from:max(from, to-1)], re[from:to], im[from:to])
}

func (f *plainFrame) target(int) planes { return planes{} }

func (f *plainFrame) needsLevel() bool { return false }

func (f *plainFrame) level(int) {}

func (f *plainFrame) step() float64 { return 0 }

// trace returns trace i as the kernel reads it.
func (f *plainFrame) trace(i int) []portable.Sample {
	from := i * f.stride()
	return f.packed[from : from+f.plan.samples-1]
}

func (k *plain) newAdder(frames []frame, _ *tileMemory) adder {
	return &plainAdder{k, frames, k.plan.lookups, make([]complex64, tileRows*tileCols)}
}

// plainAdder sums the tiles of one frame after the other.
type plainAdder struct {
	*plain
	frames  []frame
	lookups []lookup
	acc     []complex64
}

func (a *plainAdder) only(tx int) { a.lookups = a.plan.lookupsOf(tx) }

func (a *plainAdder) sum(dst [][]complex64, i int) {
	t := a.plan.tiles[i]
	acc := a.acc[:t.len()]
	for k, f := range a.frames {
		clear(acc)
		if a.local[i] {
			a.addLocal(acc, f.(*plainFrame), i)
		} else {
			for _, l := range a.lookups {
				portable.Sum(acc, a.tx.of(t, l.tx), a.rx.of(t, l.rx), f.(*plainFrame).trace(l.trace), 0, a.fraction)
			}
		}
		for r := range t.rows {
			copy(dst[k][t.index(a.plan.grid, r):], acc[r*t.cols:(r+1)*t.cols])
		}
	}
}

// addLocal adds all lookups of f in tile i, whose delays count from bases. It takes two receivers
// of a transmitter at a time, if all samples that they read are in the record.
func (a *plainAdder) addLocal(acc []complex64, f *plainFrame, i int) {
	t := a.plan.tiles[i]
	for lookups := a.lookups; len(lookups) > 0; {
		l := lookups[0]
		base, inside := a.window(l, i)
		if len(lookups) > 1 && lookups[1].tx == l.tx && inside {
			next := lookups[1]
			if nextBase, inside := a.window(next, i); inside {
				portable.Sum2(acc, a.tx.of(t, l.tx), a.rx.of(t, l.rx), a.rx.of(t, next.rx),
					(*portable.Window)(f.packed[l.trace*f.stride()+base:]),
					(*portable.Window)(f.packed[next.trace*f.stride()+nextBase:]))
				lookups = lookups[2:]
				continue
			}
		}
		portable.Sum(acc, a.tx.of(t, l.tx), a.rx.of(t, l.rx), f.trace(l.trace), base, portable.FractionBits)
		lookups = lookups[1:]
	}
}

// window returns the sample from which the delays of l count in tile i, and whether the record has
// all samples that they read.
func (a *plainAdder) window(l lookup, i int) (base int, inside bool) {
	tx, rx := a.tx.bases[i*a.tx.elements+l.tx], a.rx.bases[i*a.rx.elements+l.rx]
	base = int(tx.sample) + int(rx.sample)
	last := base + int(tx.last+rx.last)>>portable.FractionBits
	return base, base >= 0 && last < a.plan.samples-1
}
