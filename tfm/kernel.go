// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"

	"github.com/isochron-imaging/isochron/tfm/internal/portable"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
	"github.com/isochron-imaging/isochron/wedge"
)

// Precision is how the samples that a plan sums are held.
type Precision uint8

const (
	// Single sums in single precision. In records that end within 8,192 samples of time 0, images
	// differ from a sum in double precision by at most 5e-6 of their peak.
	Single Precision = iota
	// Fixed16 holds samples in 16 bits, scaled to the strongest sample that the image reads (up to
	// 1 dB above it in [Views]), and delays of each path to 1/2048 of a sample. Images take about
	// half of the time. At 10 samples a period the error of an image of echoes is at most 2e-4 of
	// its peak (74 dB below the peak) for arrays of 16 elements and more. It is at most 4e-4 for a
	// few elements, because the average is then over fewer errors. Images of white noise, and of
	// echoes at 5.6 samples a period, are off by up to 3e-4 for 16 elements and more. An image
	// without echoes, of steps that all channels record at the same time, may be off by 1e-2 for
	// 32 elements, because the steps cancel. The echo of an interface within the image determines
	// the scale: [Scratch.RoundingNoise] tells which echoes are lost. The kernel "portable" sums
	// records that end beyond 524,287 samples from time 0 in single precision instead.
	Fixed16
)

// String returns "single" or "fixed16".
func (p Precision) String() string {
	switch p {
	case Single:
		return "single"
	case Fixed16:
		return "fixed16"
	}
	return fmt.Sprintf("Precision(%d)", uint8(p))
}

// kernel is a way to sum, with its tables for one plan.
type kernel interface {
	// bytes returns the memory of the tables, and of newFrames.
	bytes() (tables, frame int)
	// reads returns the samples of trace i that the image reads, [from, to).
	reads(i int) (from, to int)
	// newFrames returns the memory of one frame: of its traces, and of the functions of its
	// channels that the coherence of the plan needs ([Plan.layers]). Powers are real. In 16 bits
	// the kernel sums their high bits and their low bits: the sum is the real part plus the
	// imaginary part times lowBits.
	newFrames() []frame
	// join reports whether the kernel can sum f too, a frame of another plan of the same traces.
	// Then f packs what both kernels read. It is false for frames in 16 bits, which are shared
	// frame by frame ([sharing]).
	join(f frame) bool
	// newAdder returns the scratch of one goroutine, which sums the first of newFrames or all of
	// them. The adders of a goroutine work in the same memory.
	newAdder(frames []frame, memory *tileMemory) adder
}

// frame holds the traces of one frame, or of a function of its channels, as a kernel reads them.
type frame interface {
	// pack stores the analytic signal of trace i. Only the samples that the kernel reads need
	// valid values. If peak is not 0, no real or imaginary part of these samples exceeds it.
	// Different traces may be packed at the same time.
	pack(i int, re, im []float32, peak float32)
	// target returns memory for trace i that the kernel reads as it is, without pack. It is empty
	// if there is none. Samples that the kernel does not read may be written there too.
	target(i int) planes
	// level brings trace i to the common scale, after all traces have been packed.
	level(i int)
	// needsLevel reports whether level does anything. It is called once, between pack and level.
	needsLevel() bool
	// step is the step to which the samples of the frame are rounded. It is 0 in
	// single precision.
	step() float64
}

// tileMemory is where the adders of one goroutine sum a tile.
type tileMemory struct{ acc, values []float32 }

// adder sums the tiles of an image.
type adder interface {
	// only limits sum to the lookups of one row of the transmitting table: to one event.
	only(tx int)
	// sum writes tile i of each frame to dst, the data of an image for each.
	sum(dst [][]complex64, i int)
}

// kernelNames lists the kernels of this build for this processor, the fastest first.
func kernelNames() (names []string) {
	for _, assembly := range window.Available() {
		names = append(names, assembly.Name)
	}
	return append(names, "portable")
}

// newKernel prepares a kernel for p. The name is one of kernelNames, or "window": plain Go on the
// tables of the kernels in assembly, for tests.
func newKernel(name string, p *Plan, transmit, receive *wedge.Times, axis timeAxis) kernel {
	if name != "window" && len(p.analytic.taps) <= maxDirect() {
		p.direct = newDirect(p.analytic, p.precision)
	}
	if name == "portable" {
		// Records too long for 11 bits of fraction, and coherences, are summed in single
		// precision.
		if p.precision == Fixed16 && p.coherence == nil && axis.fraction >= portable.WeightBits {
			axis.fraction = portable.WeightBits
			return newPlain16(newPlain(p, transmit, receive, axis))
		}
		return newPlain32(p, transmit, receive, axis)
	}
	assembly := window.Plain
	for _, a := range window.Available() {
		if a.Name == name {
			assembly = a
		}
	}
	if p.precision == Fixed16 {
		return newWindowed(p, assembly.Int16, transmit, receive, axis, newFrame16)
	}
	return newWindowed(p, assembly.Float32, transmit, receive, axis, newFrame32)
}
