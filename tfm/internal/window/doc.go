// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package window sums traces over blocks of pixels. It lays out delays and traces for kernels that
// keep a short piece of a trace, the window, in registers. A kernel looks up the pixels of a block
// in the window with permute instructions. In single precision AVX2 and NEON need too many of
// them, and their kernels load both samples of each lookup from the trace.
//
//	l := window.New(window.Format16, blocks, cols, samples, transmit, receive, 0)
//	c := new(window.Chunk)
//	c.Add(l.Tx.Slot(tx), window.NewEntry(l.Rx.Slot(rx), traceBytes))
//	a := window.NewAdder(window.Available()[0].Int16, l, traces)
//	a.Sum(acc, 0, len(blocks), c)
//	for b := range blocks {
//		a.Write(image, cols, b, acc[2*window.Pixels*b:], unit)
//	}
//
// Neighbouring pixels have neighbouring delays. A block is 8 × 4 pixels, in two halves of 4 × 4:
//
//	 0  1  2  3 | 16 17 18 19
//	 4  5  6  7 | 20 21 22 23
//	 8  9 10 11 | 24 25 26 27
//	12 13 14 15 | 28 29 30 31
//
// A kernel has a [Format]. The format lists the windows that the kernel knows: for all pixels of a
// block, for each half, or for a part of a half. For each block, element and part, a [Table] holds
// a base, which is a whole number of samples. For each pixel it holds an offset from the base in
// fixed point. The delay of a pair of elements is the sum of the delays of both elements. The sum
// of the two bases is where the window of the pair begins in its trace. The sum of the two offsets
// is where the pixel looks in the window.
//
// This is right only if the offsets of all pairs stay within the window. [New] chooses for each
// block, from the delays, the first window of the format that holds the block: its [Kind]. Blocks
// that no window holds keep whole delays. They are summed in a general way in plain Go, which is
// exact anywhere. The general way also sums the pairs whose window crosses an end of the record.
//
// # For contributors
//
// The general way takes blocks of every kind, so the kernels in assembly are tested against it. A
// kernel is an entry in the list of [Available]. The tests in kernel_test.go take every kernel of
// that list, between unreadable pages. TestDispatch of package tfm needs a row for a new kernel.
// The kernel must also hold the bounds of package tfm: TestAgainstDoubleLoop, TestTileRemainders
// and the tests in kernel_test.go there, which force each kernel and count the ways.
//
// The assembly reads [Run], [Segment] and [Entry] by the names that the compiler writes to
// go_asm.h, such as Run_Acc. A changed field needs no change in the assembly.
//
// [New] converts times to fixed point in assembly too (convert.go), for all formats alike.
//
// To run the tests with the next best kernel: GODEBUG=cpu.avx512f=off go test ./tfm/...
//
// # Layers
//
// [Traces] may have several layers, which are summed at the same delays: samples, and functions of
// them. The kernels in AVX-512 sum up to three layers at once, which share the indices and weights
// of a lookup. In single precision the permutation of 64 samples of 32 bits takes two thirds of
// the time. So further layers have 16 bits there, which only functions with a known bound allow.
//
// # Memory of the tables
//
// Several layouts may share the tables of a path ([Tables]), as several views do. Layouts may need
// windows of different sizes in a block. A small window may have room for the offsets from the base
// of a large one. Only where it has not, a block stands in two tables.
//
// In 16 bits a table takes 2.25 bytes for each element and pixel: an offset of 2 bytes, and a base
// of 4 bytes for 16 pixels. In planes of bytes it takes 2.5 bytes, with a base for 8 pixels. In
// single precision it takes 4.25 bytes, because an offset of 5 bits of index and 23 bits of
// fraction needs 4 bytes. So does an offset of 8 and 24 bits in AVX2 and NEON. The base takes the
// whole samples, so the fraction has these bits in records of any length. A block that no window
// holds takes 4 bytes more for each element and pixel.
//
// # What was measured
//
// The times are for one core of a virtual machine with AVX-512 (AMD EPYC, family 25, model 17, no
// other program; examples/rates) and 16 elements in a half matrix, over 256 × 256 pixels of 0.2 mm,
// with 2,048 samples at 50 MHz. A lookup is one pair at one pixel.
//
//	                  16 bits   single precision
//	AVX-512           0.09 ns   0.19 ns
//	AVX2              0.20 ns   0.37 ns
//	package portable  1.00 ns   1.09 ns
//
// NEON is tested under emulation. Nobody has measured its speed yet. In single precision a lookup
// takes 6.75 instructions: 1.5 for the index, 2.4 for the weights and offsets, one load, one
// multiplication, 0.8 for the entry. With samples in planes it took 9.75, of which 2 were loads
// and 3 sorted the samples. In 16 bits a lookup takes 3.6 instructions, of which 1 multiplies and
// half a TBL looks up in four registers. Planes of bytes would take 3.4: a TBL of two registers
// takes 16 samples of a plane, but the bytes need as many instructions again that join them, and
// the multiplications stay.
//
// The kernels for 16 bits are limited by arithmetic. The section on AVX2 in BENCHMARKS.md of package
// tfm counts it for AVX2. In AVX-512 a lookup of 32 pixels takes 17 vector instructions, and 14 with
// VBMI2. This processor starts two instructions of 512 bits in a cycle, so it needs 8.5 or 7 cycles.
// With all data in the first-level cache, and chunks of 32 lookups, a lookup takes 9.7 or 8.4
// cycles, of which 1.3 are the chunk: its sums are converted and added once for each block. The
// other kernels are limited by loads. So:
//
//   - In single precision in AVX2 a lookup takes 1.1 cycles with all data in the first-level
//     cache, with or without its arithmetic. It has two loads that depend on each other, of an
//     index and of two samples.
//   - An [Entry] is one word.
//   - The offsets of the transmitter stay in registers.
//   - In 16 bits two transmitters use the offsets of a receiver that are loaded once.
//   - A [Chunk] has 32 lookups, the largest number whose full-scale sums fit into 32 bits.
package window
