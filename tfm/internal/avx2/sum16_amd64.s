// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"
#include "run_amd64.h"

// A lane of 32 bits is a pixel. In both its halves stands the delay, an index of 5 bits
// and a fraction f of 11. The lower half tells where a pair of neighbours begins. Of
// the fractions, the upper half keeps f and the lower takes 2048 - f: the weights, with
// which VPMADDWD multiplies the two samples.

DATA fractions<>+0(SB)/4, $0x07ff07ff
GLOBL fractions<>(SB), RODATA|NOPTR, $4

// Minus 1 in the lower half turns f into -1 - f there when it is XORed, and into
// 2048 - f when it is then subtracted.
DATA lower<>+0(SB)/4, $0x0000ffff
GLOBL lower<>(SB), RODATA|NOPTR, $4

#define START \
	VPXOR Y0, Y0, Y0 \
	VPXOR Y1, Y1, Y1 \
	VPXOR Y2, Y2, Y2 \
	VPXOR Y3, Y3, Y3 \
	VPXOR Y4, Y4, Y4 \
	VPXOR Y5, Y5, Y5 \
	VPXOR Y6, Y6, Y6 \
	VPXOR Y7, Y7, Y7

// PICK takes 8 pairs of neighbours to Y12, of the window at place. The middle 3 bits of
// the indices permute the pairs of either half of the window, once those that begin at
// even samples and once, from a sample later, at odd ones: the lowest bit of an index
// chooses between these, the highest between the halves.
#define PICK(place) \
	VPERMD    0 place, Y9, Y12   \
	VPERMD    2 place, Y9, Y13   \
	VBLENDVPS Y10, Y13, Y12, Y12 \
	VPERMD    32 place, Y9, Y13  \
	VPERMD    34 place, Y9, Y14  \
	VBLENDVPS Y10, Y14, Y13, Y13 \
	VBLENDVPS Y11, Y13, Y12, Y12

// EIGHT looks up the 8 pixels of whose offsets Y8 holds the sums. Y8 becomes the weights,
// Y9 the indices of pairs, Y10 and Y11 the lowest and the highest bit of the indices at
// the places of signs.
#define EIGHT(window, re, im) \
	VPBROADCASTD lower<>(SB), Y12     \
	VPBROADCASTD fractions<>(SB), Y13 \
	VPSRLD       $12, Y8, Y9          \
	VPSLLD       $20, Y8, Y10         \
	VPSLLD       $16, Y8, Y11         \
	VPXOR        Y12, Y8, Y8          \
	VPAND        Y13, Y8, Y8          \
	VPSUBW       Y12, Y8, Y8          \
	PICK((window))                    \
	VPMADDWD     Y12, Y8, Y12         \
	VPADDD       Y12, re, re          \
	PICK((window)(R13*1))             \
	VPMADDWD     Y12, Y8, Y12         \
	VPADDD       Y12, im, im

// ROWS looks up two rows. Their offsets fill 128 bits each, the left four pixels the
// lower half of them: so they come apart and are doubled.
#define ROWS(at, re, im, reRight, imRight) \
	VMOVDQU    at(R8), Y15             \
	VPADDW     at(R9)(AX*1), Y15, Y15  \
	VPUNPCKLWD Y15, Y15, Y8            \
	EIGHT(DX, re, im)                  \
	VPUNPCKHWD Y15, Y15, Y8            \
	EIGHT(SI, reRight, imRight)

#define LOOKUP \
	ROWS(0, Y0, Y4, Y2, Y6)  \
	ROWS(32, Y1, Y5, Y3, Y7)

#define ADD(at, sum) \
	VCVTDQ2PS sum, sum         \
	VADDPS    at(SI), sum, sum \
	VMOVUPS   sum, at(SI)

#define FLUSH \
	MOVQ run_Acc(DI), SI  \
	ADDQ run_Done(DI), SI \
	ADD(0, Y0)            \
	ADD(32, Y1)           \
	ADD(64, Y2)           \
	ADD(96, Y3)           \
	ADD(128, Y4)          \
	ADD(160, Y5)          \
	ADD(192, Y6)          \
	ADD(224, Y7)

// func sum16(r *window.Run)
TEXT ·sum16(SB), NOSPLIT, $8-8
	KERNEL(1, 2, 6)
