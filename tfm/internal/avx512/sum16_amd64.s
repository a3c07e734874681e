// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"
#include "run_amd64.h"

// A lane of 32 bits is a pixel. In both its halves stands the delay, an index of 5 bits
// and a fraction f of 11, in the upper half one sample later: the indices are those
// of two neighbouring samples, and VPERMW brings both. Of the fractions, the upper
// half keeps f and the lower takes 2048 - f: the weights, with which VPDPWSSD
// multiplies the two samples, and adds both products to the sum.
//
// Two transmitters share the offsets of a receiver: Z20 and Z21 are those of the
// first, Z22 and Z23 of the second, whose windows begin at BP and, in the right half,
// at second-8(SP).

// Z16 is a sample in the upper half. Z17 is -1 in the lower half, which turns f into
// -1 - f there when it is XORed, and into 2048 - f when it is then subtracted. Z18
// selects the fraction.
#define CONSTANTS \
	BROADCAST(0x08000000, Z16) \
	BROADCAST(0x0000ffff, Z17) \
	BROADCAST(0x07ff07ff, Z18)

// Sums: real left and right, imaginary left and right.
#define START \
	VPXORD Z0, Z0, Z0 \
	VPXORD Z1, Z1, Z1 \
	VPXORD Z2, Z2, Z2 \
	VPXORD Z3, Z3, Z3

// Rows of 8 offsets fill 128 bits, the left four pixels the lower half of them: so
// they come apart and are doubled.
#define DOUBLE(left, right) \
	VPUNPCKLWD right, right, left \
	VPUNPCKHWD right, right, right

// The offsets of transmitter tx, of those at R8, with the upper halves a sample on.
#define TX_OFFSETS(tx, left, right) \
	SHLQ      $6, tx              \
	VMOVDQU64 (R8)(tx*1), right   \
	DOUBLE(left, right)           \
	VPADDW    Z16, left, left     \
	VPADDW    Z16, right, right

// The offsets of receiver AX/8 into Z8 and Z9.
#define RX_OFFSETS \
	VMOVDQU64 (R9)(AX*8), Z9 \
	DOUBLE(Z8, Z9)

// The window of both halves, at place in a trace at 0: real parts to Z10, imaginary
// ones to Z11.
#define WINDOW(left, right, place) \
	MOVLQSX   (R11)(AX*1), SI    \
	LEAQ      (place)(SI*2), SI  \
	ADDQ      left, SI           \
	VMOVDQU64 (SI), Z10          \
	VMOVDQU64 (SI)(R13*1), Z11

// A window for each half; that of the right one goes to Z26 and Z27.
#define WINDOW_SPLIT(left, right, place) \
	WINDOW(left, right, place)    \
	MOVLQSX   4(R11)(AX*1), SI    \
	LEAQ      (place)(SI*2), SI   \
	ADDQ      right, SI           \
	VMOVDQU64 (SI), Z26           \
	VMOVDQU64 (SI)(R13*1), Z27

// Z12, Z13 become the weights, Z14, Z15 the indices, left and right. The truth table
// 0x28 is (Z12 ^ Z17) & Z18.
#define WEIGHTS(left, right) \
	VPADDW     Z8, left, Z12        \
	VPADDW     Z9, right, Z13       \
	VPSRLW     $11, Z12, Z14        \
	VPSRLW     $11, Z13, Z15        \
	VPTERNLOGD $0x28, Z18, Z17, Z12 \
	VPTERNLOGD $0x28, Z18, Z17, Z13 \
	VPSUBW     Z17, Z12, Z12        \
	VPSUBW     Z17, Z13, Z13

// PICK brings the samples of the left half to Z24 and Z25, those of the right half to
// Z26 and Z27, from its window re and im.
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

// DOTS where there is no VPDPWSSD.
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
	MOVQ      run_Acc(DI), SI  \
	ADDQ      run_Done(DI), SI \
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

// KERNEL sums a run: window is WINDOW with PICK(Z10, Z11), or WINDOW_SPLIT with
// PICK(Z26, Z27).
#define KERNEL(window, re, im, dots) \
	LOAD_RUN                        \
	CONSTANTS                       \
block:                              \
	START                           \
	LOAD_SEGMENTS                   \
segment:                            \
	MOVL segment_Tx(BX), AX         \
	MOVL segment_Second(BX), DX     \
	MOVQ segment_Count(BX), R14     \
	ADDQ $segment__size, BX         \
	LOAD_TRANSMITTERS               \
	WINDOWS(AX, 1, R12, R10)        \
	TX_OFFSETS(AX, Z20, Z21)        \
	CMPL DX, $-1                    \
	JEQ  one                        \
	WINDOWS(DX, 1, BP, AX)          \
	MOVQ AX, second-8(SP)           \
	TX_OFFSETS(DX, Z22, Z23)        \
two:                                \
	MOVL (entry__size+entry_Trace)(R15), R8 \
	NEXT_ENTRY                      \
	ADDQ $entry__size, R15          \
	SHLQ $logLine, R8               \
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

// func joint16dot(r *window.Run)
TEXT ·joint16dot(SB), NOSPLIT, $16-8
	KERNEL(WINDOW, Z10, Z11, DOTS)

// func split16dot(r *window.Run)
TEXT ·split16dot(SB), NOSPLIT, $16-8
	KERNEL(WINDOW_SPLIT, Z26, Z27, DOTS)

// func joint16(r *window.Run)
TEXT ·joint16(SB), NOSPLIT, $16-8
	KERNEL(WINDOW, Z10, Z11, DOTS_IN_TWO)

// func split16(r *window.Run)
TEXT ·split16(SB), NOSPLIT, $16-8
	KERNEL(WINDOW_SPLIT, Z26, Z27, DOTS_IN_TWO)
