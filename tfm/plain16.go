// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"

	"github.com/isochron-imaging/isochron/internal/vector"
	"github.com/isochron-imaging/isochron/tfm/internal/portable"
)

// plain16 is the kernel in plain Go for samples of 16 bits.
type plain16 struct{ *plain }

func newPlain16(k *plain) *plain16 {
	k.findReads(0)
	return &plain16{k}
}

func (k *plain16) bytes() (tables, frame int) {
	tables, _ = k.plain.bytes()
	const sampleBytes = 16
	return tables, len(k.plan.traces) * k.stride() * sampleBytes
}

// stride is the stride of plain, with the last sample.
func (k *plain16) stride() int { return k.plain.stride() + 1 }

func (k *plain16) newFrames() []frame {
	return []frame{&plain16Frame{
		plain16: k,
		packed:  make([]portable.Line, len(k.plan.traces)*k.stride()),
		peaks:   make([]float32, len(k.plan.traces)),
	}}
}

// plain16Frame holds packed traces, like frame16. Until the traces are levelled, the base of each
// line holds the sample at the begin of the line.
type plain16Frame struct {
	*plain16
	packed []portable.Line
	peaks  []float32 // of each trace
	peak   float32   // of all
}

// trace returns trace i. It includes a line from the last sample, which must not be read.
func (f *plain16Frame) trace(i int) []portable.Line {
	from := i * f.stride()
	return f.packed[from : from+f.plan.samples]
}

// lines returns trace i as the kernel reads it.
func (f *plain16Frame) lines(i int) []portable.Line { return f.trace(i)[:f.plan.samples-1] }

func (f *plain16Frame) pack(i int, re, im []float32, _ float32) {
	from, to := f.reads(i)
	re, im = re[from:to], im[from:to]
	peak := max(vector.Peak(re), vector.Peak(im))
	scale := fullScale / peak
	if math.IsInf(float64(scale), 0) {
		peak, scale = 0, 0 // nothing, or next to it
	}
	f.peaks[i] = peak
	for k, dst := 0, f.trace(i)[from:to]; k < len(dst); k++ {
		dst[k].Base = portable.NewFixed(rounded(re[k]*scale), rounded(im[k]*scale))
	}
}

// rounded returns v rounded to the nearest integer.
func rounded(v float32) int16 { return int16(math.RoundToEven(float64(v))) }

func (f *plain16Frame) target(int) planes { return planes{} }

func (f *plain16Frame) needsLevel() bool {
	f.peak = vector.Peak(f.peaks)
	return true
}

func (f *plain16Frame) level(i int) {
	from, to := f.reads(i)
	samples := f.trace(i)[from:to]
	if f.peaks[i] != f.peak {
		share := f.peaks[i] / f.peak
		for k := range samples {
			re, im := samples[k].Base.Parts()
			samples[k].Base = portable.NewFixed(rounded(float32(re)*share), rounded(float32(im)*share))
		}
	}
	for k := 0; k+1 < len(samples); k++ {
		samples[k] = portable.NewLine(from+k, samples[k].Base, samples[k+1].Base)
	}
}

func (f *plain16Frame) step() float64 { return float64(f.peak) / fullScale }

func (k *plain16) newAdder(frames []frame, _ *tileMemory) adder {
	f := frames[0].(*plain16Frame)
	return &plain16Adder{f, f.plan.lookups, make([]portable.Fixed, tileRows*tileCols), make([]complex64, tileRows*tileCols)}
}

// plain16Adder sums tiles. It sums groups of lookups in integers, and the sums of the groups in
// floating point.
type plain16Adder struct {
	*plain16Frame
	lookups []lookup
	fixed   []portable.Fixed
	acc     []complex64
}

func (a *plain16Adder) only(tx int) { a.lookups = a.plan.lookupsOf(tx) }

func (a *plain16Adder) sum(dst [][]complex64, i int) {
	t := a.plan.tiles[i]
	fixed, acc := a.fixed[:t.len()], a.acc[:t.len()]
	clear(acc)
	lookups := a.lookups
	for len(lookups) > 0 {
		n := min(len(lookups), portable.MaxFixed)
		clear(fixed)
		a.add(fixed, t, lookups[:n])
		for p, v := range fixed {
			re, im := v.Parts()
			acc[p] += complex(float32(re), float32(im))
		}
		lookups = lookups[n:]
	}
	unit := float32(a.step() / (1 << portable.WeightBits))
	for r := range t.rows {
		row := dst[0][t.index(a.plan.grid, r):][:t.cols]
		for c, v := range acc[r*t.cols:][:t.cols] {
			row[c] = complex(real(v)*unit, imag(v)*unit)
		}
	}
}

// add adds lookups to acc, two receivers of a transmitter at a time.
func (a *plain16Adder) add(acc []portable.Fixed, t tile, lookups []lookup) {
	for len(lookups) > 0 {
		l := lookups[0]
		tx, rx, first := a.tx.of(t, l.tx), a.rx.of(t, l.rx), a.lines(l.trace)
		if len(lookups) >= 2 && lookups[1].tx == l.tx {
			next := lookups[1]
			portable.SumFixed2(acc, tx, rx, a.rx.of(t, next.rx), first, a.lines(next.trace))
			lookups = lookups[2:]
			continue
		}
		portable.SumFixed(acc, tx, rx, first)
		lookups = lookups[1:]
	}
}
