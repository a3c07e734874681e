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
//
// With VBMI2 both halves of a lane belong to different transmitters instead: the lower half to the
// first one, the upper half to the second one, for the same pixel. VPERMI2W fetches a sample of
// each from its own window, and VPDPWSSD adds the products of both. A second VPERMI2W fetches the
// next samples. So one register holds the indices of both transmitters, and each weight stands
// once. A pair of lookups takes 28 vector instructions, and 34 otherwise.

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

// TX_OFFSETS loads the offsets of the transmitter of slot tx from R8 on. The upper halves are one sample later.
#define TX_OFFSETS(tx, left, right) \
	SHLQ      $6, tx              \
	VMOVDQU64 (R8)(tx*1), right   \
	DOUBLE(left, right)           \
	VPADDW    Z16, left, left     \
	VPADDW    Z16, right, right

// RX_OFFSETS loads the offsets of the receiver of slot AX/8 to Z8 and Z9.
#define RX_OFFSETS \
	VMOVDQU64 (R9)(AX*8), Z9 \
	DOUBLE(Z8, Z9)

// LOAD_WINDOW loads a window from the trace at place: real parts to re, imaginary parts to im. The
// windows of the transmitter begin at begin. The base of the receiver for the left half is 0 bytes
// behind the base of the block, and for the right half 4 bytes.
#define LOAD_WINDOW(base, begin, place, re, im) \
	MOVLQSX   base(R11)(AX*1), SI \
	LEAQ      (place)(SI*2), SI   \
	ADDQ      begin, SI           \
	VMOVDQU64 (SI), re            \
	VMOVDQU64 (SI)(R13*1), im

// WINDOW loads the window of both halves from the trace at place: real parts to Z10, imaginary
// parts to Z11.
#define WINDOW(left, right, place) \
	LOAD_WINDOW(0, left, place, Z10, Z11)

// WINDOW_SPLIT loads a window for each half. The window of the right half goes to Z26 and Z27.
#define WINDOW_SPLIT(left, right, place) \
	WINDOW(left, right, place)             \
	LOAD_WINDOW(4, right, place, Z26, Z27)

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

// OFFSETS_APART loads the offsets of transmitter DX. The offsets of the first transmitter are in Z20
// and Z21.
#define OFFSETS_APART \
	TX_OFFSETS(AX, Z20, Z21) \
	TX_OFFSETS(DX, Z22, Z23)

// PAIR_APART sums the lookups of two transmitters with the receiver whose bases are at R11 + AX.
// Their traces are at DX and R8.
#define PAIR_APART(window, re, im, dots, more) \
	window(R12, R10, DX)                             \
	RX_OFFSETS                                       \
	WEIGHTS(Z20, Z21)                                \
	PICK(re, im)                                     \
	dots(Z0, Z1, Z2, Z3)                             \
	more(window, re, im, R12, R10, DX, dots)         \
	window(BP, second-8(SP), R8)                     \
	WEIGHTS(Z22, Z23)                                \
	PICK(re, im)                                     \
	dots(Z0, Z1, Z2, Z3)                             \
	more(window, re, im, BP, second-8(SP), R8, dots)

// CONSTANTS_MIXED adds the constants for lanes of two transmitters. Z19 is the sum of both weights.
// Z22 is 1 in the upper half of a lane, and Z23 is 1 in both.
#define CONSTANTS_MIXED \
	CONSTANTS                  \
	BROADCAST(0x08000800, Z19) \
	BROADCAST(0x00010000, Z22) \
	BROADCAST(0x00010001, Z23)

// OFFSETS_MIXED sets Z20 and Z21 to the offsets of transmitters AX and DX, one in each half of a
// lane.
#define OFFSETS_MIXED \
	SHLQ       $6, AX            \
	SHLQ       $6, DX            \
	VMOVDQU64  (R8)(AX*1), Z21   \
	VMOVDQU64  (R8)(DX*1), Z24   \
	VPUNPCKLWD Z24, Z21, Z20     \
	VPUNPCKHWD Z24, Z21, Z21

// WEIGHTS_MIXED sets Z14 and Z15 to the indices of the left and the right half, Z24 and Z25 to the
// indices of the next samples. Z8 and Z9 become the weights of the samples, Z12 and Z13 the weights
// of the next samples. Bit 5 of an index selects the window of the second transmitter.
#define WEIGHTS_MIXED \
	VPADDW  Z8, Z20, Z8      \
	VPADDW  Z9, Z21, Z9      \
	VPSHLDW $5, Z8, Z22, Z14 \
	VPSHLDW $5, Z9, Z22, Z15 \
	VPANDD  Z18, Z8, Z12     \
	VPANDD  Z18, Z9, Z13     \
	VPADDW  Z23, Z14, Z24    \
	VPADDW  Z23, Z15, Z25    \
	VPSUBW  Z12, Z19, Z8     \
	VPSUBW  Z13, Z19, Z9

// DOT_MIXED adds the products of weights and of the samples at an index to a sum. The windows of the
// two transmitters are first and second.
#define DOT_MIXED(index, weights, first, second, sum) \
	VMOVDQA64 index, Z28         \
	VPERMI2W  second, first, Z28 \
	VPDPWSSD  Z28, weights, sum

// HALF_MIXED adds the products of one half to the sums re and im.
#define HALF_MIXED(index, weights, next, nextWeights, re, im) \
	DOT_MIXED(index, weights, Z10, Z26, re)    \
	DOT_MIXED(index, weights, Z11, Z27, im)    \
	DOT_MIXED(next, nextWeights, Z10, Z26, re) \
	DOT_MIXED(next, nextWeights, Z11, Z27, im)

// PAIR_MIXED does what PAIR_APART does for one layer, with lanes of two transmitters. The windows of
// the first transmitter go to Z10 and Z11, the windows of the second to Z26 and Z27. right loads the
// windows of the right half.
#define PAIR_MIXED(right) \
	LOAD_WINDOW(0, R12, DX, Z10, Z11)     \
	LOAD_WINDOW(0, BP, R8, Z26, Z27)      \
	RX_OFFSETS                            \
	WEIGHTS_MIXED                         \
	HALF_MIXED(Z14, Z8, Z24, Z12, Z0, Z2) \
	right                                 \
	HALF_MIXED(Z15, Z9, Z25, Z13, Z1, Z3)

#define SAME_WINDOWS

#define OWN_WINDOWS \
	LOAD_WINDOW(4, R10, DX, Z10, Z11)          \
	LOAD_WINDOW(4, second-8(SP), R8, Z26, Z27)

// KERNEL sums a run. window is WINDOW, and then re and im are Z10 and Z11. Or it is WINDOW_SPLIT,
// and then they are Z26 and Z27. start, more and flush are for the same number of layers. offsets
// loads the offsets of two transmitters, and pair sums a pair of lookups.
#define KERNEL(window, re, im, dots, constants, start, more, offsets, pair, flush) \
	LOAD_RUN                        \
	constants                       \
block:                              \
	start                           \
	LOAD_SEGMENTS                   \
segment:                            \
	NEXT_SEGMENT(1)                 \
	MOVL (Segment_Second-Segment__size)(BX), DX \
	CMPL DX, $-1                    \
	JEQ  alone                      \
	WINDOWS(DX, 1, BP, SI)          \
	MOVQ SI, second-8(SP)           \
	offsets                         \
two:                                \
	MOVL (Entry__size+Entry_Line)(R15), R8 \
	NEXT_ENTRY                      \
	ADDQ $Entry__size, R15          \
	SHLQ $const_lineBits, R8        \
	SHLQ $3, AX                     \
	pair                            \
	DECQ R14                        \
	JNZ  two                        \
	JMP  done                       \
alone:                              \
	TX_OFFSETS(AX, Z20, Z21)        \
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

// KERNEL_APART is KERNEL for lanes of one transmitter.
#define KERNEL_APART(window, re, im, dots, start, more, flush) \
	KERNEL(window, re, im, dots, CONSTANTS, start, more, OFFSETS_APART, PAIR_APART(window, re, im, dots, more), flush)

// KERNEL_MIXED is KERNEL for lanes of two transmitters, for one layer. Two and three layers, which
// are limited by loads, would gain nothing.
#define KERNEL_MIXED(window, re, im, right) \
	KERNEL(window, re, im, DOTS, CONSTANTS_MIXED, START, NO_MORE, OFFSETS_MIXED, PAIR_MIXED(right), FLUSH)

// func joint16VBMI2(r *Run)
TEXT ·joint16VBMI2(SB), NOSPLIT, $16-8
	KERNEL_MIXED(WINDOW, Z10, Z11, SAME_WINDOWS)

// func split16VBMI2(r *Run)
TEXT ·split16VBMI2(SB), NOSPLIT, $16-8
	KERNEL_MIXED(WINDOW_SPLIT, Z26, Z27, OWN_WINDOWS)

// func joint16VNNI(r *Run)
TEXT ·joint16VNNI(SB), NOSPLIT, $16-8
	KERNEL_APART(WINDOW, Z10, Z11, DOTS, START, NO_MORE, FLUSH)

// func split16VNNI(r *Run)
TEXT ·split16VNNI(SB), NOSPLIT, $16-8
	KERNEL_APART(WINDOW_SPLIT, Z26, Z27, DOTS, START, NO_MORE, FLUSH)

// func joint16AVX512(r *Run)
TEXT ·joint16AVX512(SB), NOSPLIT, $16-8
	KERNEL_APART(WINDOW, Z10, Z11, DOTS_IN_TWO, START, NO_MORE, FLUSH)

// func split16AVX512(r *Run)
TEXT ·split16AVX512(SB), NOSPLIT, $16-8
	KERNEL_APART(WINDOW_SPLIT, Z26, Z27, DOTS_IN_TWO, START, NO_MORE, FLUSH)

// func jointTwo16VNNI(r *Run)
TEXT ·jointTwo16VNNI(SB), NOSPLIT, $16-8
	KERNEL_APART(WINDOW, Z10, Z11, DOTS, START_TWO, ONE_MORE, FLUSH_TWO)

// func splitTwo16VNNI(r *Run)
TEXT ·splitTwo16VNNI(SB), NOSPLIT, $16-8
	KERNEL_APART(WINDOW_SPLIT, Z26, Z27, DOTS, START_TWO, ONE_MORE, FLUSH_TWO)

// func jointTwo16AVX512(r *Run)
TEXT ·jointTwo16AVX512(SB), NOSPLIT, $16-8
	KERNEL_APART(WINDOW, Z10, Z11, DOTS_IN_TWO, START_TWO, ONE_MORE, FLUSH_TWO)

// func splitTwo16AVX512(r *Run)
TEXT ·splitTwo16AVX512(SB), NOSPLIT, $16-8
	KERNEL_APART(WINDOW_SPLIT, Z26, Z27, DOTS_IN_TWO, START_TWO, ONE_MORE, FLUSH_TWO)

// func jointThree16VNNI(r *Run)
TEXT ·jointThree16VNNI(SB), NOSPLIT, $16-8
	KERNEL_APART(WINDOW, Z10, Z11, DOTS, START_THREE, TWO_MORE, FLUSH_THREE)

// func splitThree16VNNI(r *Run)
TEXT ·splitThree16VNNI(SB), NOSPLIT, $16-8
	KERNEL_APART(WINDOW_SPLIT, Z26, Z27, DOTS, START_THREE, TWO_MORE, FLUSH_THREE)

// func jointThree16AVX512(r *Run)
TEXT ·jointThree16AVX512(SB), NOSPLIT, $16-8
	KERNEL_APART(WINDOW, Z10, Z11, DOTS_IN_TWO, START_THREE, TWO_MORE, FLUSH_THREE)

// func splitThree16AVX512(r *Run)
TEXT ·splitThree16AVX512(SB), NOSPLIT, $16-8
	KERNEL_APART(WINDOW_SPLIT, Z26, Z27, DOTS_IN_TWO, START_THREE, TWO_MORE, FLUSH_THREE)
