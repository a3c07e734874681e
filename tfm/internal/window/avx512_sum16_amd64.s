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

// The sums of a layer: real parts of the left and the right half, then imaginary parts. Z0 to Z3 are
// the sums of the first layer, Z4 to Z7 of the second, Z28 to Z31 of the third.
#define START_LAYER(a, b, c, d) \
	VPXORD a, a, a \
	VPXORD b, b, b \
	VPXORD c, c, c \
	VPXORD d, d, d

#define START \
	START_LAYER(Z0, Z1, Z2, Z3)

#define START_TWO \
	START                       \
	START_LAYER(Z4, Z5, Z6, Z7)

#define START_THREE \
	START_TWO                       \
	START_LAYER(Z28, Z29, Z30, Z31)

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

// DOTS adds the products of samples and weights to the sums a to d.
#define DOTS(a, b, c, d) \
	VPDPWSSD Z24, Z12, a \
	VPDPWSSD Z26, Z13, b \
	VPDPWSSD Z25, Z12, c \
	VPDPWSSD Z27, Z13, d

// DOTS_IN_TWO does what DOTS does, for processors without VPDPWSSD.
#define DOTS_IN_TWO(a, b, c, d) \
	VPMADDWD Z24, Z12, Z24 \
	VPMADDWD Z26, Z13, Z26 \
	VPMADDWD Z25, Z12, Z25 \
	VPMADDWD Z27, Z13, Z27 \
	VPADDD   Z24, a, a   \
	VPADDD   Z26, b, b   \
	VPADDD   Z25, c, c   \
	VPADDD   Z27, d, d

// LAYER does what was done in the trace at place in the trace of the next layer, which begins behind
// it.
#define LAYER(window, re, im, left, right, place, dots, a, b, c, d) \
	LEAQ (place)(R13*2), place \
	window(left, right, place) \
	PICK(re, im)               \
	dots(a, b, c, d)

#define NO_MORE(window, re, im, left, right, place, dots)

#define ONE_MORE(window, re, im, left, right, place, dots) \
	LAYER(window, re, im, left, right, place, dots, Z4, Z5, Z6, Z7)

#define TWO_MORE(window, re, im, left, right, place, dots) \
	ONE_MORE(window, re, im, left, right, place, dots)                  \
	LAYER(window, re, im, left, right, place, dots, Z28, Z29, Z30, Z31)

#define FLUSH \
	ACCUMULATORS                \
	FLUSH_LAYER(Z0, Z1, Z2, Z3)

#define FLUSH_TWO \
	FLUSH                       \
	NEXT_ACCUMULATORS           \
	FLUSH_LAYER(Z4, Z5, Z6, Z7)

#define FLUSH_THREE \
	FLUSH_TWO                       \
	NEXT_ACCUMULATORS               \
	FLUSH_LAYER(Z28, Z29, Z30, Z31)

// KERNEL sums a run. window is WINDOW, and then re and im are Z10 and Z11. Or it is WINDOW_SPLIT,
// and then they are Z26 and Z27. start, more and flush are for the same number of layers.
#define KERNEL(window, re, im, dots, start, more, flush) \
	LOAD_RUN                        \
	CONSTANTS                       \
block:                              \
	start                           \
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
	dots(Z0, Z1, Z2, Z3)            \
	more(window, re, im, R12, R10, DX, dots) \
	window(BP, second-8(SP), R8)    \
	WEIGHTS(Z22, Z23)               \
	PICK(re, im)                    \
	dots(Z0, Z1, Z2, Z3)            \
	more(window, re, im, BP, second-8(SP), R8, dots) \
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
	dots(Z0, Z1, Z2, Z3)            \
	more(window, re, im, R12, R10, DX, dots) \
	DECQ R14                        \
	JNZ  one                        \
done:                               \
	DECQ CX                         \
	JNZ  segment                    \
	flush                           \
	NEXT_BLOCK                      \
	JNZ  block                      \
	VZEROUPPER                      \
	RET

// func joint16VNNI(r *Run)
TEXT ·joint16VNNI(SB), NOSPLIT, $16-8
	KERNEL(WINDOW, Z10, Z11, DOTS, START, NO_MORE, FLUSH)

// func split16VNNI(r *Run)
TEXT ·split16VNNI(SB), NOSPLIT, $16-8
	KERNEL(WINDOW_SPLIT, Z26, Z27, DOTS, START, NO_MORE, FLUSH)

// func joint16AVX512(r *Run)
TEXT ·joint16AVX512(SB), NOSPLIT, $16-8
	KERNEL(WINDOW, Z10, Z11, DOTS_IN_TWO, START, NO_MORE, FLUSH)

// func split16AVX512(r *Run)
TEXT ·split16AVX512(SB), NOSPLIT, $16-8
	KERNEL(WINDOW_SPLIT, Z26, Z27, DOTS_IN_TWO, START, NO_MORE, FLUSH)

// func jointTwo16VNNI(r *Run)
TEXT ·jointTwo16VNNI(SB), NOSPLIT, $16-8
	KERNEL(WINDOW, Z10, Z11, DOTS, START_TWO, ONE_MORE, FLUSH_TWO)

// func splitTwo16VNNI(r *Run)
TEXT ·splitTwo16VNNI(SB), NOSPLIT, $16-8
	KERNEL(WINDOW_SPLIT, Z26, Z27, DOTS, START_TWO, ONE_MORE, FLUSH_TWO)

// func jointTwo16AVX512(r *Run)
TEXT ·jointTwo16AVX512(SB), NOSPLIT, $16-8
	KERNEL(WINDOW, Z10, Z11, DOTS_IN_TWO, START_TWO, ONE_MORE, FLUSH_TWO)

// func splitTwo16AVX512(r *Run)
TEXT ·splitTwo16AVX512(SB), NOSPLIT, $16-8
	KERNEL(WINDOW_SPLIT, Z26, Z27, DOTS_IN_TWO, START_TWO, ONE_MORE, FLUSH_TWO)

// func jointThree16VNNI(r *Run)
TEXT ·jointThree16VNNI(SB), NOSPLIT, $16-8
	KERNEL(WINDOW, Z10, Z11, DOTS, START_THREE, TWO_MORE, FLUSH_THREE)

// func splitThree16VNNI(r *Run)
TEXT ·splitThree16VNNI(SB), NOSPLIT, $16-8
	KERNEL(WINDOW_SPLIT, Z26, Z27, DOTS, START_THREE, TWO_MORE, FLUSH_THREE)

// func jointThree16AVX512(r *Run)
TEXT ·jointThree16AVX512(SB), NOSPLIT, $16-8
	KERNEL(WINDOW, Z10, Z11, DOTS_IN_TWO, START_THREE, TWO_MORE, FLUSH_THREE)

// func splitThree16AVX512(r *Run)
TEXT ·splitThree16AVX512(SB), NOSPLIT, $16-8
	KERNEL(WINDOW_SPLIT, Z26, Z27, DOTS_IN_TWO, START_THREE, TWO_MORE, FLUSH_THREE)
