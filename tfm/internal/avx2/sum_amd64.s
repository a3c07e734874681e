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
//	DI  the run                     BX  the segment, CX segments left
//	R8  the transmitter's offsets   R15 the entry, R14 entries left of the segment
//	R9  receivers' offsets          R12 where the transmitter's windows begin in a trace
//	R10 transmitters' bases             at 0: traces + its base; BP for the right half
//	R11 receivers' bases            AX  the place of the receiver's offsets
//	R13 distance of planes          DX, SI the windows of real and imaginary parts
//
// A register holds 8 pixels, 4 × 2 of a half of a block. Y0 to Y3 are sums of real
// parts, Y4 to Y7 of imaginary ones.

// What there is no register for is on the stack.
#define right_window 0(SP) // of real parts
#define tx_offsets 8(SP)   // of element 0

#define LOAD_RUN \
	MOVQ r+0(FP), DI           \
	MOVQ run_TxOffsets(DI), R8 \
	MOVQ run_RxOffsets(DI), R9 \
	MOVQ run_TxBases(DI), R10  \
	MOVQ run_RxBases(DI), R11  \
	MOVQ run_Plane(DI), R13    \
	MOVQ R8, tx_offsets

// The segments and entries of a run, from the first.
#define LOAD_SEGMENTS \
	MOVQ run_Segments(DI), BX \
	MOVQ run_Entries(DI), R15 \
	MOVQ run_Count(DI), CX

// The transmitter of the next segment; samples have 1<<log bytes, the offsets of an
// element 1<<logOffsets.
#define NEXT_SEGMENT(log, logOffsets) \
	MOVL    (BX), AX            \
	MOVQ    8(BX), R14          \
	ADDQ    $16, BX             \
	MOVLQSX (R10)(AX*8), R12    \
	MOVLQSX 4(R10)(AX*8), BP    \
	SHLQ    $log, R12           \
	SHLQ    $log, BP            \
	ADDQ    run_Traces(DI), R12 \
	ADDQ    run_Traces(DI), BP  \
	SHLQ    $logOffsets, AX     \
	MOVQ    tx_offsets, R8      \
	ADDQ    AX, R8

// The next entry, with the windows of the left half; samples have size bytes.
#define NEXT_ENTRY(size, logOffsets) \
	MOVQ    (R15), DX         \
	ADDQ    $8, R15           \
	MOVL    DX, AX            \
	SHRQ    $32, DX           \
	SHLQ    $6, DX            \
	MOVLQSX 4(R11)(AX*8), SI  \
	LEAQ    (DX)(SI*size), SI \
	ADDQ    BP, SI            \
	MOVQ    SI, right_window  \
	MOVLQSX (R11)(AX*8), SI   \
	LEAQ    (DX)(SI*size), DX \
	ADDQ    R12, DX           \
	LEAQ    (DX)(R13*1), SI   \
	SHLQ    $logOffsets, AX

// The windows of the right half.
#define RIGHT_HALF \
	MOVQ right_window, DX   \
	LEAQ (DX)(R13*1), SI

// On to the next block; the flags say whether there is one.
#define NEXT_BLOCK \
	ADDQ $256, run_Done(DI)         \
	MOVQ run_TxOffsetStride(DI), AX \
	ADDQ AX, tx_offsets             \
	ADDQ run_TxBaseStride(DI), R10  \
	ADDQ run_RxOffsetStride(DI), R9 \
	ADDQ run_RxBaseStride(DI), R11  \
	DECQ run_Blocks(DI)

// KERNEL sums a run. start and flush begin and end a block, lookup does one entry.
#define KERNEL(start, log, size, logOffsets, lookup, flush) \
	LOAD_RUN             \
block:                   \
	start                \
	LOAD_SEGMENTS        \
segment:                 \
	NEXT_SEGMENT(log, logOffsets) \
entry:                   \
	NEXT_ENTRY(size, logOffsets) \
	lookup               \
	DECQ R14             \
	JNZ  entry           \
	DECQ CX              \
	JNZ  segment         \
	flush                \
	NEXT_BLOCK           \
	JNZ  block           \
	VZEROUPPER           \
	RET

// ---- 16 bits
//
// A lane of 32 bits is a pixel. In both its halves stands the delay, an index of 5 bits
// and a fraction f of 11. The lower half tells where the pair of neighbours begins. Of
// the fractions, the upper half keeps f and the lower takes 2048 - f: the weights, with
// which VPMADDWD multiplies the two samples.

DATA fractions<>+0(SB)/4, $0x07ff07ff
GLOBL fractions<>(SB), RODATA|NOPTR, $4

// Minus 1 in the lower half turns f into -1 - f there when it is XORed, and into
// 2048 - f when it is then subtracted.
DATA lower<>+0(SB)/4, $0x0000ffff
GLOBL lower<>(SB), RODATA|NOPTR, $4

#define START16 \
	VPXOR Y0, Y0, Y0 \
	VPXOR Y1, Y1, Y1 \
	VPXOR Y2, Y2, Y2 \
	VPXOR Y3, Y3, Y3 \
	VPXOR Y4, Y4, Y4 \
	VPXOR Y5, Y5, Y5 \
	VPXOR Y6, Y6, Y6 \
	VPXOR Y7, Y7, Y7

// PICK16 takes 8 pairs of neighbours to Y12, of the window at from. The middle 3 bits of
// the indices permute the pairs of either half of the window, once those that begin at
// even samples and once, from a sample later, at odd ones: the lowest bit of an index
// chooses between these, the highest between the halves.
#define PICK16(from) \
	VPERMD    (from), Y9, Y12       \
	VPERMD    2(from), Y9, Y13      \
	VBLENDVPS Y10, Y13, Y12, Y12    \
	VPERMD    32(from), Y9, Y13     \
	VPERMD    34(from), Y9, Y14     \
	VBLENDVPS Y10, Y14, Y13, Y13    \
	VBLENDVPS Y11, Y13, Y12, Y12

// EIGHT16 looks 8 pixels up: of two rows, each 128 bits of offsets, double takes the
// four of the left or of the right half apart and doubles them. Y8 becomes the weights, Y9 the indices of pairs, Y10 and
// Y11 the lowest and the highest bit of the indices at the places of signs.
#define EIGHT16(at, double, re, im) \
	VMOVDQU      at(R8), Y8           \
	VPADDW       at(R9)(AX*1), Y8, Y8 \
	double       Y8, Y8, Y8           \
	VPBROADCASTD lower<>(SB), Y12     \
	VPBROADCASTD fractions<>(SB), Y13 \
	VPSRLD       $12, Y8, Y9          \
	VPSLLD       $20, Y8, Y10         \
	VPSLLD       $16, Y8, Y11         \
	VPXOR        Y12, Y8, Y8          \
	VPAND        Y13, Y8, Y8          \
	VPSUBW       Y12, Y8, Y8          \
	PICK16(DX)                        \
	VPMADDWD     Y12, Y8, Y12         \
	VPADDD       Y12, re, re          \
	PICK16(SI)                        \
	VPMADDWD     Y12, Y8, Y12         \
	VPADDD       Y12, im, im

#define LOOKUP16 \
	EIGHT16(0, VPUNPCKLWD, Y0, Y4)  \
	EIGHT16(32, VPUNPCKLWD, Y1, Y5) \
	RIGHT_HALF                      \
	EIGHT16(0, VPUNPCKHWD, Y2, Y6)  \
	EIGHT16(32, VPUNPCKHWD, Y3, Y7)

#define ADD16(at, sum) \
	VCVTDQ2PS sum, sum          \
	VADDPS    at(SI), sum, sum  \
	VMOVUPS   sum, at(SI)

#define FLUSH16 \
	MOVQ run_Acc(DI), SI  \
	ADDQ run_Done(DI), SI \
	ADD16(0, Y0)          \
	ADD16(32, Y1)         \
	ADD16(64, Y2)         \
	ADD16(96, Y3)         \
	ADD16(128, Y4)        \
	ADD16(160, Y5)        \
	ADD16(192, Y6)        \
	ADD16(224, Y7)

// func sum16(r *window.Run)
TEXT ·sum16(SB), NOSPLIT, $16-8
	KERNEL(START16, 1, 2, 6, LOOKUP16, FLUSH16)

// ---- single precision
//
// The upper 9 bits of the sum of two offsets are the index into a window of 32
// samples, the lower 23 the fraction: under the exponent of 1 they are a float32
// from 1 to 2.

DATA fraction<>+0(SB)/4, $0x007fffff
GLOBL fraction<>(SB), RODATA|NOPTR, $4

DATA one<>+0(SB)/4, $0x3f800000
GLOBL one<>(SB), RODATA|NOPTR, $4

#define START32 \
	MOVQ    run_Acc(DI), SI  \
	ADDQ    run_Done(DI), SI \
	VMOVUPS (SI), Y0         \
	VMOVUPS 32(SI), Y1       \
	VMOVUPS 64(SI), Y2       \
	VMOVUPS 96(SI), Y3       \
	VMOVUPS 128(SI), Y4      \
	VMOVUPS 160(SI), Y5      \
	VMOVUPS 192(SI), Y6      \
	VMOVUPS 224(SI), Y7

#define FLUSH32 \
	MOVQ    run_Acc(DI), SI  \
	ADDQ    run_Done(DI), SI \
	VMOVUPS Y0, (SI)         \
	VMOVUPS Y1, 32(SI)       \
	VMOVUPS Y2, 64(SI)       \
	VMOVUPS Y3, 96(SI)       \
	VMOVUPS Y4, 128(SI)      \
	VMOVUPS Y5, 160(SI)      \
	VMOVUPS Y6, 192(SI)      \
	VMOVUPS Y7, 224(SI)

// PICK32 takes 8 samples to Y13, of the window that begins at bytes after from. The lower
// 3 bits of the indices permute each quarter of the window, the upper 2 choose one.
#define PICK32(at, from) \
	VPERMPS   at(from), Y10, Y13    \
	VPERMPS   32+at(from), Y10, Y14 \
	VBLENDVPS Y11, Y14, Y13, Y13    \
	VPERMPS   64+at(from), Y10, Y14 \
	VPERMPS   96+at(from), Y10, Y15 \
	VBLENDVPS Y11, Y15, Y14, Y14    \
	VBLENDVPS Y12, Y14, Y13, Y13

// EIGHT32 looks 8 pixels up. Y8 becomes the weight of the second sample, Y9 that of
// the first, Y10 the indices, Y11 and Y12 their upper 2 bits at the places of signs.
#define EIGHT32(at, re, im) \
	VMOVDQU      at(R8), Y8            \
	VPADDD       at(R9)(AX*1), Y8, Y8  \
	VPSRLD       $23, Y8, Y10          \
	VPSLLD       $5, Y8, Y11           \
	VPSLLD       $4, Y8, Y12           \
	VBROADCASTSS fraction<>(SB), Y13   \
	VBROADCASTSS one<>(SB), Y9         \
	VPAND        Y13, Y8, Y8           \
	VPOR         Y9, Y8, Y8            \
	VSUBPS       Y9, Y8, Y8            \
	VSUBPS       Y8, Y9, Y9            \
	PICK32(0, DX)                      \
	VFMADD231PS  Y13, Y9, re           \
	PICK32(4, DX)                      \
	VFMADD231PS  Y13, Y8, re           \
	PICK32(0, SI)                      \
	VFMADD231PS  Y13, Y9, im           \
	PICK32(4, SI)                      \
	VFMADD231PS  Y13, Y8, im

#define LOOKUP32 \
	EIGHT32(0, Y0, Y4)  \
	EIGHT32(32, Y1, Y5) \
	RIGHT_HALF          \
	EIGHT32(64, Y2, Y6) \
	EIGHT32(96, Y3, Y7)

// func sum32(r *window.Run)
TEXT ·sum32(SB), NOSPLIT, $16-8
	KERNEL(START32, 2, 4, 7, LOOKUP32, FLUSH32)
