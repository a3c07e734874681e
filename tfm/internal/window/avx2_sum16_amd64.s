// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "go_asm.h"
#include "textflag.h"
#include "run_amd64.h"
#include "avx2_amd64.h"

// A lane of 32 bits is a pixel. Both halves of the lane hold its delay: an index of 5 bits and a
// fraction f of 11 bits. The index tells where a pair of neighbouring samples begins. The weights
// of the two samples are 2048 - f, in the lower half, and f, in the upper half. VPMADDWD multiplies
// the samples by the weights and adds both products.

DATA fractions<>+0(SB)/4, $0x07ff07ff
GLOBL fractions<>(SB), RODATA|NOPTR, $4

// The lower half of a lane is -1. XORed, it turns f into -1 - f there. Subtracted afterwards, it
// leaves 2048 - f in the lower 11 bits.
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

// PICK sets Y12 to 8 pairs of neighbouring samples of the window at place. It permutes the pairs of
// each half of the window by the middle 3 bits of the indices: first the pairs that begin at even
// samples, then, one sample later, the pairs that begin at odd samples. The lowest bit of an index
// chooses between even and odd, the highest bit between the halves of the window.
#define PICK(place) \
	VPERMD    0 place, Y9, Y12   \
	VPERMD    2 place, Y9, Y13   \
	VBLENDVPS Y10, Y13, Y12, Y12 \
	VPERMD    32 place, Y9, Y13  \
	VPERMD    34 place, Y9, Y14  \
	VBLENDVPS Y10, Y14, Y13, Y13 \
	VBLENDVPS Y11, Y13, Y12, Y12

// EIGHT looks up 8 pixels. Y8 holds the sums of their offsets, and becomes the weights. Y9 becomes
// the middle bits of the indices. Y10 and Y11 get the lowest and the highest bit of the indices in
// the places of their signs.
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

// ROWS looks up two rows. The offsets of a row fill 128 bits: the left half of the block is in the
// lower 64 bits. Unpacking separates the halves of the block, and doubles each offset.
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
	ACCUMULATORS          \
	ADD(0, Y0)            \
	ADD(32, Y1)           \
	ADD(64, Y2)           \
	ADD(96, Y3)           \
	ADD(128, Y4)          \
	ADD(160, Y5)          \
	ADD(192, Y6)          \
	ADD(224, Y7)

// func sum16AVX2(r *Run)
TEXT ·sum16AVX2(SB), NOSPLIT, $8-8
	KERNEL(1, 2, 6)
