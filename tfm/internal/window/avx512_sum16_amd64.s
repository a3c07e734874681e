// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "go_asm.h"
#include "textflag.h"
#include "run_amd64.h"

// A lane of 32 bits is a pixel. Both halves of the lane hold its delay: an index of 5 bits and a
// fraction f of 11 bits. The upper half is one sample later, so the two indices belong to
// neighbouring samples. VPERMW fetches both samples. Their weights are 2048 - f, in the lower half,
// and f, in the upper half. VPDPWSSD multiplies the samples by the weights, and adds both products
// to the sum.
//
// In a segment of two transmitters, both use the offsets of each receiver that were loaded once.
// Z20 and Z21 hold the offsets of the first transmitter, left and right half. Z22 and Z23 hold the
// offsets of the second one. Its windows begin at BP, and in the right half at second-8(SP).

// Z16 is one sample in the upper half of a lane. Z17 is -1 in the lower half: XORed, it turns f
// into -1 - f there; subtracted afterwards, it leaves 2048 - f. Z18 selects the fractions.
#define CONSTANTS \
	BROADCAST(0x08000000, Z16) \
	BROADCAST(0x0000ffff, Z17) \
	BROADCAST(0x07ff07ff, Z18)

// The sums: real parts of the left and the right half, then imaginary parts.
#define START \
	VPXORD Z0, Z0, Z0 \
	VPXORD Z1, Z1, Z1 \
	VPXORD Z2, Z2, Z2 \
	VPXORD Z3, Z3, Z3

// DOUBLE separates the halves of a block and doubles each offset. A row of 8 offsets fills 128
// bits: the left half of the block is in the lower 64 bits.
#define DOUBLE(left, right) \
	VPUNPCKLWD right, right, left \
	VPUNPCKHWD right, right, right

// TX_OFFSETS loads the offsets of transmitter tx from R8 on. The upper halves are one sample later.
#define TX_OFFSETS(tx, left, right) \
	SHLQ      $6, tx              \
	VMOVDQU64 (R8)(tx*1), right   \
	DOUBLE(left, right)           \
	VPADDW    Z16, left, left     \
	VPADDW    Z16, right, right

// RX_OFFSETS loads the offsets of receiver AX/8 to Z8 and Z9.
#define RX_OFFSETS \
	VMOVDQU64 (R9)(AX*8), Z9 \
	DOUBLE(Z8, Z9)

// WINDOW loads the window of both halves from the trace at place: real parts to Z10, imaginary
// parts to Z11.
#define WINDOW(left, right, place) \
	MOVLQSX   (R11)(AX*1), SI    \
	LEAQ      (place)(SI*2), SI  \
	ADDQ      left, SI           \
	VMOVDQU64 (SI), Z10          \
	VMOVDQU64 (SI)(R13*1), Z11

// WINDOW_SPLIT loads a window for each half. The window of the right half goes to Z26 and Z27.
#define WINDOW_SPLIT(left, right, place) \
	WINDOW(left, right, place)    \
	MOVLQSX   4(R11)(AX*1), SI    \
	LEAQ      (place)(SI*2), SI   \
	ADDQ      right, SI           \
	VMOVDQU64 (SI), Z26           \
	VMOVDQU64 (SI)(R13*1), Z27

// WEIGHTS sets Z12 and Z13 to the weights, Z14 and Z15 to the indices, of the left and the right
// half. The truth table 0x28 is (Z12 ^ Z17) & Z18.
#define WEIGHTS(left, right) \
	VPADDW     Z8, left, Z12        \
	VPADDW     Z9, right, Z13       \
	VPSRLW     $11, Z12, Z14        \
	VPSRLW     $11, Z13, Z15        \
	VPTERNLOGD $0x28, Z18, Z17, Z12 \
	VPTERNLOGD $0x28, Z18, Z17, Z13 \
	VPSUBW     Z17, Z12, Z12        \
	VPSUBW     Z17, Z13, Z13

// PICK sets Z24 and Z25 to the samples of the left half, from its window in Z10 and Z11. It sets
// Z26 and Z27 to the samples of the right half, from its window in re and im.
#define PICK(re, im) \
	VPERMW Z10, Z14, Z24 \
	VPERMW re, Z15, Z26  \
	VPERMW Z11, Z14, Z25 \
	VPERMW im, Z15, Z27

#define DOTS \
	VPDPWSSD Z24, Z12, Z0 \
	VPDPWSSD Z26, Z13, Z1 \
	VPDPWSSD Z25, Z12, Z2 \
	VPDPWSSD Z27, Z13, Z3

// DOTS_IN_TWO does what DOTS does, for processors without VPDPWSSD.
#define DOTS_IN_TWO \
	VPMADDWD Z24, Z12, Z24 \
	VPMADDWD Z26, Z13, Z26 \
	VPMADDWD Z25, Z12, Z25 \
	VPMADDWD Z27, Z13, Z27 \
	VPADDD   Z24, Z0, Z0   \
	VPADDD   Z26, Z1, Z1   \
	VPADDD   Z25, Z2, Z2   \
	VPADDD   Z27, Z3, Z3

#define FLUSH \
	ACCUMULATORS               \
	VCVTDQ2PS Z0, Z0           \
	VCVTDQ2PS Z1, Z1           \
	VCVTDQ2PS Z2, Z2           \
	VCVTDQ2PS Z3, Z3           \
	VADDPS    (SI), Z0, Z0     \
	VADDPS    64(SI), Z1, Z1   \
	VADDPS    128(SI), Z2, Z2  \
	VADDPS    192(SI), Z3, Z3  \
	VMOVUPS   Z0, (SI)         \
	VMOVUPS   Z1, 64(SI)       \
	VMOVUPS   Z2, 128(SI)      \
	VMOVUPS   Z3, 192(SI)

// KERNEL sums a run. window is WINDOW, and then re and im are Z10 and Z11. Or it is WINDOW_SPLIT,
// and then they are Z26 and Z27.
#define KERNEL(window, re, im, dots) \
	LOAD_RUN                        \
	CONSTANTS                       \
block:                              \
	START                           \
	LOAD_SEGMENTS                   \
segment:                            \
	NEXT_SEGMENT(1)                 \
	MOVL (Segment_Second-Segment__size)(BX), DX \
	TX_OFFSETS(AX, Z20, Z21)        \
	CMPL DX, $-1                    \
	JEQ  one                        \
	WINDOWS(DX, 1, BP, AX)          \
	MOVQ AX, second-8(SP)           \
	TX_OFFSETS(DX, Z22, Z23)        \
two:                                \
	MOVL (Entry__size+Entry_Line)(R15), R8 \
	NEXT_ENTRY                      \
	ADDQ $Entry__size, R15          \
	SHLQ $const_lineBits, R8               \
	SHLQ $3, AX                     \
	window(R12, R10, DX)            \
	RX_OFFSETS                      \
	WEIGHTS(Z20, Z21)               \
	PICK(re, im)                    \
	dots                            \
	window(BP, second-8(SP), R8)    \
	WEIGHTS(Z22, Z23)               \
	PICK(re, im)                    \
	dots                            \
	DECQ R14                        \
	JNZ  two                        \
	JMP  done                       \
one:                                \
	NEXT_ENTRY                      \
	SHLQ $3, AX                     \
	window(R12, R10, DX)            \
	RX_OFFSETS                      \
	WEIGHTS(Z20, Z21)               \
	PICK(re, im)                    \
	dots                            \
	DECQ R14                        \
	JNZ  one                        \
done:                               \
	DECQ CX                         \
	JNZ  segment                    \
	FLUSH                           \
	NEXT_BLOCK                      \
	JNZ  block                      \
	VZEROUPPER                      \
	RET

// func joint16VNNI(r *Run)
TEXT ·joint16VNNI(SB), NOSPLIT, $16-8
	KERNEL(WINDOW, Z10, Z11, DOTS)

// func split16VNNI(r *Run)
TEXT ·split16VNNI(SB), NOSPLIT, $16-8
	KERNEL(WINDOW_SPLIT, Z26, Z27, DOTS)

// func joint16AVX512(r *Run)
TEXT ·joint16AVX512(SB), NOSPLIT, $16-8
	KERNEL(WINDOW, Z10, Z11, DOTS_IN_TWO)

// func split16AVX512(r *Run)
TEXT ·split16AVX512(SB), NOSPLIT, $16-8
	KERNEL(WINDOW_SPLIT, Z26, Z27, DOTS_IN_TWO)
