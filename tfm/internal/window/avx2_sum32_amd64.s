// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "go_asm.h"
#include "textflag.h"
#include "run_amd64.h"

// The upper byte of the sum of two offsets is the index of the first sample of the lookup, counted
// from the sum of the bases. A load of 128 bits fetches this sample and the next one. The lower 24
// bits of the sum are the fraction f, the weight of the second sample. The weight of the first
// sample is 2^24 - f. So the sums are 2^24 times too large until FLUSH.
//
// A block takes two steps. The first step writes the sums of offsets of all lookups to the stack.
// The second step reads their upper bytes as indices. A byte that is read soon after its vector
// was written comes late: in one step a lookup took 1.7 cycles, in two steps it takes 1.1.
//
// The place of a lookup on the stack holds 32 sums of offsets, and then the address of its window.
// R13 is the address of such a place. R8 is behind the last one. R12 and R13 have no other use
// here. The first step also fetches the windows into the first-level cache, and the samples beside
// them, which the next blocks may need, into the second-level cache.

#define PLACE 160

DATA fraction24<>+0(SB)/4, $0x00ffffff
GLOBL fraction24<>(SB), RODATA|NOPTR, $4

DATA scale24<>+0(SB)/4, $0x4b800000 // 2^24
GLOBL scale24<>(SB), RODATA|NOPTR, $4

DATA unit24<>+0(SB)/4, $0x33800000 // 2^-24
GLOBL unit24<>(SB), RODATA|NOPTR, $4

// SEGMENT is NEXT_SEGMENT for one window in a block.
#define SEGMENT \
	MOVL    Segment_Tx(BX), AX        \
	MOVQ    Segment_Count(BX), R14    \
	ADDQ    $Segment__size, BX        \
	MOVQ    Run_TxOffsets(DI), R8     \
	MOVQ    Run_TxBases(DI), SI       \
	ADDQ    Run_TxOffsetsDone(DI), R8 \
	ADDQ    Run_TxBasesDone(DI), SI   \
	MOVLQSX (SI)(AX*4), R12           \
	SHLQ    $3, R12                   \
	ADDQ    Run_Traces(DI), R12       \
	SHLQ    $7, AX                    \
	VMOVDQU (R8)(AX*1), Y0            \
	VMOVDQU 32(R8)(AX*1), Y1          \
	VMOVDQU 64(R8)(AX*1), Y2          \
	VMOVDQU 96(R8)(AX*1), Y3

// FIRST_PLACE sets R13 to the first place. A vector in a place lies within a cache line.
#define FIRST_PLACE \
	LEAQ 31(SP), R13 \
	ANDQ $~31, R13

// OFFSETS writes 8 sums of offsets.
#define OFFSETS(at, tx) \
	VPADDD  at(R9)(AX*1), tx, Y4 \
	VMOVDQU Y4, at(R13)

// TWO adds the lookups of the pixels i and i+4 to sum, whose register has four sums of each pixel:
// the products of the first sample, real and imaginary, and the products of the second sample. DX
// is the window. Y12 holds the weights of second samples, Y13 of first samples, both of 8 pixels.
#define TWO(at, choice, sum) \
	MOVBLZX     at+3(R13), BP             \
	MOVBLZX     at+19(R13), SI            \
	VMOVUPS     (DX)(BP*8), X14           \
	VINSERTF128 $1, (DX)(SI*8), Y14, Y14  \
	VSHUFPS     $choice, Y12, Y13, Y15    \
	VFMADD231PS Y14, Y15, sum

#define EIGHT(at, a, b, c, d) \
	VPAND     at(R13), Y10, Y12 \
	VCVTDQ2PS Y12, Y12       \
	VSUBPS    Y12, Y11, Y13  \
	TWO(at, 0x00, a)         \
	TWO(at+4, 0x55, b)       \
	TWO(at+8, 0xaa, c)       \
	TWO(at+12, 0xff, d)

// FLUSH adds the sums of 8 pixels to the accumulators at SI. It changes Y12 to Y15.
#define FLUSH(at, a, b, c, d) \
	VUNPCKLPD   b, a, Y12                \
	VUNPCKHPD   b, a, Y13                \
	VADDPS      Y13, Y12, Y12            \
	VUNPCKLPD   d, c, Y14                \
	VUNPCKHPD   d, c, Y15                \
	VADDPS      Y15, Y14, Y14            \
	VSHUFPS     $0x88, Y14, Y12, Y13     \
	VSHUFPS     $0xdd, Y14, Y12, Y15     \
	VMOVUPS     at(SI), Y12              \
	VMOVUPS     at+128(SI), Y14          \
	VFMADD231PS Y13, Y9, Y12             \
	VFMADD231PS Y15, Y9, Y14             \
	VMOVUPS     Y12, at(SI)              \
	VMOVUPS     Y14, at+128(SI)

// HALF sums the left (0) or the right (1) half of a block.
#define HALF(lookup, half) \
	VXORPS  Y0, Y0, Y0                          \
	VXORPS  Y1, Y1, Y1                          \
	VXORPS  Y2, Y2, Y2                          \
	VXORPS  Y3, Y3, Y3                          \
	VXORPS  Y4, Y4, Y4                          \
	VXORPS  Y5, Y5, Y5                          \
	VXORPS  Y6, Y6, Y6                          \
	VXORPS  Y7, Y7, Y7                          \
	FIRST_PLACE                                 \
lookup:                                         \
	MOVQ    128(R13), DX                        \
	EIGHT(64*half, Y0, Y1, Y2, Y3)              \
	EIGHT((64*half+32), Y4, Y5, Y6, Y7)         \
	ADDQ    $PLACE, R13                         \
	CMPQ    R13, R8                             \
	JNE     lookup                              \
	ACCUMULATORS                                \
	FLUSH(64*half, Y0, Y1, Y2, Y3)              \
	FLUSH((64*half+32), Y4, Y5, Y6, Y7)

// func sum32AVX2(r *Run)
TEXT ·sum32AVX2(SB), 0, $5152-8
	LOAD_RUN
	VPBROADCASTD fraction24<>(SB), Y10
	VBROADCASTSS scale24<>(SB), Y11
	VBROADCASTSS unit24<>(SB), Y9

block:
	FIRST_PLACE
	LOAD_SEGMENTS

segment:
	SEGMENT

entry:
	NEXT_ENTRY
	MOVLQSX    (R11)(AX*4), BP
	SHLQ       $7, AX
	OFFSETS(0, Y0)
	OFFSETS(32, Y1)
	OFFSETS(64, Y2)
	OFFSETS(96, Y3)
	LEAQ       (R12)(BP*8), BP
	ADDQ       DX, BP
	PREFETCHT0 0(BP)
	PREFETCHT0 64(BP)
	PREFETCHT0 128(BP)
	PREFETCHT0 192(BP)
	PREFETCHT1 -128(BP)
	PREFETCHT1 -64(BP)
	PREFETCHT1 256(BP)
	PREFETCHT1 320(BP)
	MOVQ       BP, 128(R13)
	ADDQ    $PLACE, R13
	DECQ    R14
	JNZ     entry
	DECQ    CX
	JNZ     segment
	MOVQ    R13, R8
	HALF(left, 0)
	HALF(right, 1)
	NEXT_BLOCK
	JNZ     block
	VZEROUPPER
	RET
