// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// The fields of window.Run and window.Entry.
#define run_Acc 0
#define run_TxOffsets 8
#define run_RxOffsets 16
#define run_TxBases 24
#define run_RxBases 32
#define run_TxOffsetStride 40
#define run_TxBaseStride 48
#define run_RxOffsetStride 56
#define run_RxBaseStride 64
#define run_Traces 72
#define run_Plane 80
#define run_Segments 88
#define run_Count 96
#define run_Entries 104
#define run_Blocks 112
#define run_Done 120

// All kernels use the registers alike:
//
//	DI  the run                 BX  the segment, CX segments left
//	R8  transmitters' offsets   R15 the entry, R14 entries left of the segment
//	R9  receivers' offsets      R12 where the transmitter's windows begin in a trace
//	R10 transmitters' bases         at 0: traces + its base; BP for the right half
//	R11 receivers' bases        AX, DX, SI for addresses
//	R13 distance of planes      Z20, Z21 the transmitter's offsets, left and right
//
// Loads are scarcer than arithmetic: an entry is one word, and the transmitter's
// delays stay in registers.
#define LOAD_RUN \
	MOVQ r+0(FP), DI           \
	MOVQ run_TxOffsets(DI), R8 \
	MOVQ run_RxOffsets(DI), R9 \
	MOVQ run_TxBases(DI), R10  \
	MOVQ run_RxBases(DI), R11  \
	MOVQ run_Plane(DI), R13

// The segments and entries of a run, from the first.
#define LOAD_SEGMENTS \
	MOVQ run_Segments(DI), BX \
	MOVQ run_Entries(DI), R15 \
	MOVQ run_Count(DI), CX

// The transmitter of the next segment; samples have 1<<log bytes.
#define NEXT_SEGMENT(log) \
	MOVL      (BX), AX              \
	MOVL      4(BX), R14            \
	ADDQ      $8, BX                \
	MOVLQSX   (R10)(AX*8), R12      \
	MOVLQSX   4(R10)(AX*8), BP      \
	SHLQ      $log, R12             \
	SHLQ      $log, BP              \
	ADDQ      run_Traces(DI), R12   \
	ADDQ      run_Traces(DI), BP    \
	SHLQ      $7, AX                \
	VMOVDQU64 (R8)(AX*1), Z20       \
	VMOVDQU64 64(R8)(AX*1), Z21

// The next entry: AX becomes the receiver, DX the place of its trace.
#define NEXT_ENTRY \
	MOVQ (R15), DX \
	ADDQ $8, R15   \
	MOVL DX, AX    \
	SHRQ $32, DX   \
	SHLQ $6, DX

// On to the next block; the flags say whether there is one.
#define NEXT_BLOCK \
	ADDQ $256, run_Done(DI)         \
	ADDQ run_TxOffsetStride(DI), R8 \
	ADDQ run_RxOffsetStride(DI), R9 \
	ADDQ run_TxBaseStride(DI), R10  \
	ADDQ run_RxBaseStride(DI), R11  \
	DECQ run_Blocks(DI)

// KERNEL sums a run. start and flush begin and end a block, lookup does one entry.
#define KERNEL(constants, start, log, lookup, flush) \
	LOAD_RUN          \
	constants         \
block:                \
	start             \
	LOAD_SEGMENTS     \
segment:              \
	NEXT_SEGMENT(log) \
entry:                \
	NEXT_ENTRY        \
	lookup            \
	DECQ R14          \
	JNZ  entry        \
	DECQ CX           \
	JNZ  segment      \
	flush             \
	NEXT_BLOCK        \
	JNZ  block        \
	VZEROUPPER        \
	RET

// BROADCAST fills dst with 32 bits, through AX.
#define BROADCAST(bits, dst) \
	MOVL         $bits, AX \
	VPBROADCASTD AX, dst

// ---- 16 bits
//
// A lane of 32 bits is a pixel. In both its halves stands the delay, an index of 5 bits
// and a fraction f of 11, in the upper half one sample later: the indices are those
// of two neighbouring samples, and VPERMW brings both. Of the fractions, the upper
// half keeps f and the lower takes 2048 - f: the weights, with which VPDPWSSD
// multiplies the two samples, and adds both products to the sum.

// Z17 is -1 in the lower half, which turns f into -1 - f there when it is XORed, and
// into 2048 - f when it is then subtracted. Z18 selects the fraction.
#define CONSTANTS16 \
	BROADCAST(0x0000ffff, Z17) \
	BROADCAST(0x07ff07ff, Z18)

// Sums: real left and right, imaginary left and right.
#define START16 \
	VPXORD Z0, Z0, Z0 \
	VPXORD Z1, Z1, Z1 \
	VPXORD Z2, Z2, Z2 \
	VPXORD Z3, Z3, Z3

// Z8, Z9 become the weights, Z12, Z13 the indices, left and right. The truth table
// 0x28 is (Z8 ^ Z17) & Z18.
#define INDEX16 \
	SHLQ       $7, AX                \
	VPADDW     (R9)(AX*1), Z20, Z8   \
	VPADDW     64(R9)(AX*1), Z21, Z9 \
	VPSRLW     $11, Z8, Z12          \
	VPSRLW     $11, Z9, Z13          \
	VPTERNLOGD $0x28, Z18, Z17, Z8   \
	VPTERNLOGD $0x28, Z18, Z17, Z9   \
	VPSUBW     Z17, Z8, Z8           \
	VPSUBW     Z17, Z9, Z9

#define DOTS \
	VPDPWSSD Z14, Z8, Z0 \
	VPDPWSSD Z10, Z9, Z1 \
	VPDPWSSD Z15, Z8, Z2 \
	VPDPWSSD Z11, Z9, Z3

// DOTS where there is no VPDPWSSD.
#define DOTS_IN_TWO \
	VPMADDWD Z14, Z8, Z14 \
	VPMADDWD Z10, Z9, Z10 \
	VPMADDWD Z15, Z8, Z15 \
	VPMADDWD Z11, Z9, Z11 \
	VPADDD   Z14, Z0, Z0  \
	VPADDD   Z10, Z1, Z1  \
	VPADDD   Z15, Z2, Z2  \
	VPADDD   Z11, Z3, Z3

// One window for both halves.
#define LOOKUP16 \
	MOVLQSX   (R11)(AX*8), SI    \
	ADDQ      R12, DX            \
	LEAQ      (DX)(SI*2), SI     \
	VMOVDQU64 (SI), Z10          \
	VMOVDQU64 (SI)(R13*1), Z11   \
	INDEX16                      \
	VPERMW    Z10, Z12, Z14      \
	VPERMW    Z10, Z13, Z10      \
	VPERMW    Z11, Z12, Z15      \
	VPERMW    Z11, Z13, Z11

// A window for each half.
#define LOOKUP16_SPLIT \
	MOVLQSX   (R11)(AX*8), SI    \
	LEAQ      (DX)(SI*2), SI     \
	ADDQ      R12, SI            \
	VMOVDQU64 (SI), Z14          \
	VMOVDQU64 (SI)(R13*1), Z15   \
	MOVLQSX   4(R11)(AX*8), SI   \
	LEAQ      (DX)(SI*2), SI     \
	ADDQ      BP, SI             \
	VMOVDQU64 (SI), Z10          \
	VMOVDQU64 (SI)(R13*1), Z11   \
	INDEX16                      \
	VPERMW    Z14, Z12, Z14      \
	VPERMW    Z10, Z13, Z10      \
	VPERMW    Z15, Z12, Z15      \
	VPERMW    Z11, Z13, Z11

#define FLUSH16 \
	MOVQ      run_Acc(DI), SI \
	ADDQ      run_Done(DI), SI \
	VCVTDQ2PS Z0, Z0          \
	VCVTDQ2PS Z1, Z1          \
	VCVTDQ2PS Z2, Z2          \
	VCVTDQ2PS Z3, Z3          \
	VADDPS    (SI), Z0, Z0    \
	VADDPS    64(SI), Z1, Z1  \
	VADDPS    128(SI), Z2, Z2 \
	VADDPS    192(SI), Z3, Z3 \
	VMOVUPS   Z0, (SI)        \
	VMOVUPS   Z1, 64(SI)      \
	VMOVUPS   Z2, 128(SI)     \
	VMOVUPS   Z3, 192(SI)

// func joint16dot(r *window.Run)
TEXT ·joint16dot(SB), NOSPLIT, $8-8
	KERNEL(CONSTANTS16, START16, 1, LOOKUP16 DOTS, FLUSH16)

// func split16dot(r *window.Run)
TEXT ·split16dot(SB), NOSPLIT, $8-8
	KERNEL(CONSTANTS16, START16, 1, LOOKUP16_SPLIT DOTS, FLUSH16)

// func joint16(r *window.Run)
TEXT ·joint16(SB), NOSPLIT, $8-8
	KERNEL(CONSTANTS16, START16, 1, LOOKUP16 DOTS_IN_TWO, FLUSH16)

// func split16(r *window.Run)
TEXT ·split16(SB), NOSPLIT, $8-8
	KERNEL(CONSTANTS16, START16, 1, LOOKUP16_SPLIT DOTS_IN_TWO, FLUSH16)

// ---- single precision
//
// The upper 9 bits of the sum of two offsets are the index into a window of 32
// samples in two registers, the lower 23 the fraction: under the exponent of 1 they are
// a float32 from 1 to 2.

// Z16 selects the fraction, Z17 is 1.0 and Z18 one sample.
#define CONSTANTS32 \
	BROADCAST(0x007fffff, Z16) \
	BROADCAST(0x3f800000, Z17) \
	BROADCAST(1, Z18)

// The sums of the first samples start from the accumulators, those of the second ones
// from zero: four chains for each half, so that none waits long.
#define START32 \
	MOVQ    run_Acc(DI), SI \
	ADDQ    run_Done(DI), SI \
	VMOVUPS (SI), Z0        \
	VMOVUPS 64(SI), Z1      \
	VMOVUPS 128(SI), Z2     \
	VMOVUPS 192(SI), Z3     \
	VPXORD  Z4, Z4, Z4      \
	VPXORD  Z5, Z5, Z5      \
	VPXORD  Z6, Z6, Z6      \
	VPXORD  Z7, Z7, Z7

#define FLUSH32 \
	MOVQ    run_Acc(DI), SI \
	ADDQ    run_Done(DI), SI \
	VADDPS  Z4, Z0, Z0      \
	VADDPS  Z5, Z1, Z1      \
	VADDPS  Z6, Z2, Z2      \
	VADDPS  Z7, Z3, Z3      \
	VMOVUPS Z0, (SI)        \
	VMOVUPS Z1, 64(SI)      \
	VMOVUPS Z2, 128(SI)     \
	VMOVUPS Z3, 192(SI)

// LOAD32 loads the window at SI: real parts to Z8, Z9, imaginary ones to Z10, Z11.
#define LOAD32 \
	VMOVUPS (SI), Z8           \
	VMOVUPS 64(SI), Z9         \
	VMOVUPS (SI)(R13*1), Z10   \
	VMOVUPS 64(SI)(R13*1), Z11

// HALF32 looks 16 pixels up: Z13 and Z14 become the indices of the first and of the
// second sample, Z15 and Z12 their weights. VPERMI2PS puts samples over the
// indices. The truth table 0xea is (Z12 & Z16) | Z17.
#define HALF32(rx, tx, re, im, re2, im2) \
	VPADDD      rx, tx, Z12          \
	VPSRLD      $23, Z12, Z13        \
	VPADDD      Z13, Z18, Z14        \
	VPTERNLOGD  $0xea, Z17, Z16, Z12 \
	VSUBPS      Z17, Z12, Z12        \
	VSUBPS      Z12, Z17, Z15        \
	VMOVDQA64   Z13, Z19             \
	VMOVDQA64   Z14, Z22             \
	VPERMI2PS   Z9, Z8, Z13          \
	VPERMI2PS   Z9, Z8, Z14          \
	VPERMI2PS   Z11, Z10, Z19        \
	VPERMI2PS   Z11, Z10, Z22        \
	VFMADD231PS Z13, Z15, re         \
	VFMADD231PS Z19, Z15, im         \
	VFMADD231PS Z14, Z12, re2        \
	VFMADD231PS Z22, Z12, im2

// One window for both halves.
#define LOOKUP32 \
	MOVLQSX (R11)(AX*8), SI  \
	ADDQ    R12, DX          \
	LEAQ    (DX)(SI*4), SI   \
	LOAD32                   \
	SHLQ    $7, AX           \
	HALF32((R9)(AX*1), Z20, Z0, Z2, Z4, Z6) \
	HALF32(64(R9)(AX*1), Z21, Z1, Z3, Z5, Z7)

// A window for each half.
#define LOOKUP32_SPLIT \
	MOVLQSX (R11)(AX*8), SI  \
	LEAQ    (DX)(SI*4), SI   \
	ADDQ    R12, SI          \
	LOAD32                   \
	MOVLQSX 4(R11)(AX*8), SI \
	LEAQ    (DX)(SI*4), SI   \
	ADDQ    BP, SI           \
	SHLQ    $7, AX           \
	HALF32((R9)(AX*1), Z20, Z0, Z2, Z4, Z6) \
	LOAD32                   \
	HALF32(64(R9)(AX*1), Z21, Z1, Z3, Z5, Z7)

// func joint32(r *window.Run)
TEXT ·joint32(SB), NOSPLIT, $8-8
	KERNEL(CONSTANTS32, START32, 2, LOOKUP32, FLUSH32)

// func split32(r *window.Run)
TEXT ·split32(SB), NOSPLIT, $8-8
	KERNEL(CONSTANTS32, START32, 2, LOOKUP32_SPLIT, FLUSH32)
