// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"github.com/isochron-imaging/isochron/tfm/internal/portable"
	"github.com/isochron-imaging/isochron/wedge"
)

// plain is the kernel in plain Go.
type plain struct {
	plan     *Plan
	tx, rx   *delays
	fraction uint
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

func (k *plain) bytes() (tables, frame int) {
	tables = 4 * len(k.tx.data)
	if k.rx != k.tx {
		tables += 4 * len(k.rx.data)
	}
	const sampleBytes = 16
	return tables, k.plan.layers() * len(k.plan.traces) * k.stride() * sampleBytes
}

func (k *plain) reads(int) (from, to int) { return 0, k.plan.samples }

// stride returns the distance of packed traces in samples. If the stride were a power of two
// bytes, the same sample of all traces would be in one set of the cache.
func (k *plain) stride() int {
	n := max(k.plan.samples-1, 0)
	if n%64 == 0 {
		n += 4
	}
	return n
}

func (k *plain) newFrames() []frame {
	frames := make([]frame, k.plan.layers())
	for i := range frames {
		frames[i] = &plainFrame{plain: k, packed: make([]portable.Sample, len(k.plan.traces)*k.stride())}
	}
	return frames
}

// plainFrame holds packed traces.
type plainFrame struct {
	*plain
	packed []portable.Sample
}

func (f *plainFrame) pack(i int, re, im []float32, _ float32) {
	portable.Pack(f.trace(i), re, im, f.fraction)
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

func (k *plain) newAdder(frames []frame) adder {
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
		a.add(acc, f.(*plainFrame), t)
		for r := range t.rows {
			copy(dst[k][t.index(a.plan.grid, r):], acc[r*t.cols:(r+1)*t.cols])
		}
	}
}

// add adds all lookups of f to acc, four receivers of a transmitter at a time.
func (a *plainAdder) add(acc []complex64, f *plainFrame, t tile) {
	lookups := a.lookups
	for len(lookups) > 0 {
		l := lookups[0]
		tx := a.tx.of(t, l.tx)
		if len(lookups) >= 4 && lookups[3].tx == l.tx {
			var rx [4][]int32
			var traces [4][]portable.Sample
			for i, l := range lookups[:4] {
				rx[i], traces[i] = a.rx.of(t, l.rx), f.trace(l.trace)
			}
			portable.Sum4(acc, tx, rx, traces, a.fraction)
			lookups = lookups[4:]
			continue
		}
		portable.Sum(acc, tx, a.rx.of(t, l.rx), f.trace(l.trace), a.fraction)
		lookups = lookups[1:]
	}
}
