// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package window lays out delays and traces for kernels that keep a short piece of a
// trace, the window, in registers and look a block of pixels up in it with permute
// instructions.
//
// Neighbouring pixels have neighbouring delays. A block is 8 × 4 pixels, in two
// halves of 4 × 4:
//
//	 0  1  2  3 | 16 17 18 19
//	 4  5  6  7 | 20 21 22 23
//	 8  9 10 11 | 24 25 26 27
//	12 13 14 15 | 28 29 30 31
//
// For each block, element and half, a [Table] holds a base, a whole number of
// samples, and for each pixel an offset from it in fixed point. The delay of a pair
// of elements is the sum of both: base + base is where its window begins in the
// trace; offset + offset says where in the window the pixel looks.
//
// That is right only where the offsets of all pairs stay within the window. [Layout]
// decides for every block, from the delays themselves, how it can be summed (its
// [Kind]), and blocks that no window holds keep whole delays, for a general way that
// is exact anywhere. The same general way serves the pairs whose window crosses an
// end of the record.
//
// Everything here is plain Go; the instructions are in packages avx512, avx2 and neon.
// The general way takes blocks of every kind, and is what their kernels are tested
// against.
package window
