// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "go_asm.h"
#include "textflag.h"
#include "run_amd64.h"

// Samples stand in planes of bytes. So a table of 16 bytes holds a window of 16 samples, and one
// VPSHUFB looks up 16 pixels with both neighbours of each. These are the pixels of a half of a
// block, in the 16 words of a register. A lane of 128 bits holds 8 of them. For an entry,
//
//	AX      is 16 times the receiver
//	DX      the place of its trace, from Traces on
//	BP      the address of the transmitter's offsets
//	SI      the place of the window of a half in the low bytes of the real parts, or, if the lanes have
//	        windows of their own, of the first lane
//	R12     the place of the window of the second lane
//	R8      the distance from low to high bytes
//	R13     three times this distance: from SI to the high bytes of the imaginary parts
//
// The sums of the left half are in Y0 to Y3, of the right half in Y4 to Y7: two of the real parts,
// then two of the imaginary parts. Unpacking works within lanes. So the first of two sums has the
// first 4 pixels of both lanes, the second has the other pixels. Y15 is one, 2048 in each word.

DATA one<>+0(SB)/4, $0x08000800
GLOBL one<>(SB), RODATA|NOPTR, $4

DATA fractions<>+0(SB)/8, $0x07ff07ff07ff07ff
DATA fractions<>+8(SB)/8, $0x07ff07ff07ff07ff
DATA fractions<>+16(SB)/8, $0x07ff07ff07ff07ff
DATA fractions<>+24(SB)/8, $0x07ff07ff07ff07ff
GLOBL fractions<>(SB), RODATA|NOPTR, $32

// A delay whose fraction bits are all set is 2048·index + 2047. The upper half of its product with
// 0x2020 is index + 256·(index+1): its bytes are the indices of both neighbours.
DATA neighbours<>+0(SB)/8, $0x2020202020202020
DATA neighbours<>+8(SB)/8, $0x2020202020202020
DATA neighbours<>+16(SB)/8, $0x2020202020202020
DATA neighbours<>+24(SB)/8, $0x2020202020202020
GLOBL neighbours<>(SB), RODATA|NOPTR, $32

// VPSHUFB yields 0 where bit 7 of the index is set. The indices of a window of 32 samples have 5
// bits. The sum with below has bit 7 from 16 on, the sum with above has it below 16.
DATA below<>+0(SB)/8, $0x7070707070707070
DATA below<>+8(SB)/8, $0x7070707070707070
DATA below<>+16(SB)/8, $0x7070707070707070
DATA below<>+24(SB)/8, $0x7070707070707070
GLOBL below<>(SB), RODATA|NOPTR, $32

DATA above<>+0(SB)/8, $0xf0f0f0f0f0f0f0f0
DATA above<>+8(SB)/8, $0xf0f0f0f0f0f0f0f0
DATA above<>+16(SB)/8, $0xf0f0f0f0f0f0f0f0
DATA above<>+24(SB)/8, $0xf0f0f0f0f0f0f0f0
GLOBL above<>(SB), RODATA|NOPTR, $32

// INDICES sets Y10 to the indices of the neighbours for the half whose offsets begin the given
// number of bytes into a block. Y9 becomes the weights of the first 4 pixels of both lanes, Y8 the
// weights of the others. The fraction f weights the second neighbour, 2048 - f the first.
#define WEIGHTS(bytes, fractions) \
	VMOVDQU    bytes(BP), Y8              \
	VPADDW     bytes(R9)(AX*4), Y8, Y8    \
	VPOR       fractions, Y8, Y10         \
	VPAND      fractions, Y8, Y8          \
	VPMULHUW   neighbours<>(SB), Y10, Y10 \
	VPSUBW     Y8, Y15, Y14               \
	VPUNPCKLWD Y8, Y14, Y9                \
	VPUNPCKHWD Y8, Y14, Y8

#define INDICES(bytes) \
	WEIGHTS(bytes, Y11)

// INDICES_WIDE also sets Y11 to the indices into the first 16 samples, and Y10 to the indices into
// the other samples.
#define INDICES_WIDE(bytes) \
	WEIGHTS(bytes, fractions<>(SB)) \
	VPADDB below<>(SB), Y10, Y11  \
	VPADDB above<>(SB), Y10, Y10

// BYTES sets dst to the bytes of all pixels in one plane, from a window of 16 samples. BYTES_LANES
// takes a window for each lane. BYTES_WIDE takes a window of 32 samples.
#define BYTES(first, second, dst) \
	VBROADCASTI128 first, dst    \
	VPSHUFB        Y10, dst, dst

#define BYTES_LANES(first, second, dst) \
	VMOVDQU     first, X14           \
	VINSERTI128 $1, second, Y14, Y14 \
	VPSHUFB     Y10, Y14, dst

#define BYTES_WIDE(first, second, dst) \
	VBROADCASTI128 first, dst     \
	VBROADCASTI128 16 first, Y14  \
	VPSHUFB        Y11, dst, dst  \
	VPSHUFB        Y10, Y14, Y14  \
	VPOR           Y14, dst, dst

// PAIRS joins low and high bytes to samples. Y14 becomes the pairs of neighbours for the weights
// in Y9, Y12 the pairs for Y8.
#define PAIRS \
	VPUNPCKLBW Y13, Y12, Y14 \
	VPUNPCKHBW Y13, Y12, Y12

// PRODUCTS adds the products of samples and weights to the sums a and b. a is register number n.
#define PRODUCTS(a, b, n) \
	VPMADDWD Y9, Y14, Y14 \
	VPMADDWD Y8, Y12, Y12 \
	VPADDD   Y14, a, a    \
	VPADDD   Y12, b, b

// PRODUCTS_VNNI does the same with VPDPWSSD Y9, Y14, a and VPDPWSSD Y8, Y12, b in the VEX
// encoding. The assembler only knows the EVEX encoding, which needs AVX-512.
#define PRODUCTS_VNNI(a, b, n) \
	LONG $0x520dc2c4       \
	BYTE $(0xc1+8*(n))     \
	LONG $0x521dc2c4       \
	BYTE $(0xc8+8*(n))

// BASE sets dst to where the window of a part of the block begins.
#define BASE(part, tx, dst) \
	MOVLQSX (4*part)(R11)(AX*1), dst \
	ADDQ    tx, dst                  \
	ADDQ    DX, dst

#define PLACE(part, tx, tx2) \
	BASE(part, tx, SI)

#define PLACE_LANES(part, tx, tx2) \
	BASE(part, tx, SI)        \
	BASE((part+1), tx2, R12)

// HALF looks up a half of a block. a to d are its sums, a is register number n.
#define HALF(bytes, products, a, b, c, d, n) \
	bytes((SI), (R12), Y12)               \
	bytes((SI)(R8*1), (R12)(R8*1), Y13)   \
	PAIRS                                 \
	products(a, b, n)                     \
	bytes((SI)(R8*2), (R12)(R8*2), Y12)   \
	bytes((SI)(R13*1), (R12)(R13*1), Y13) \
	PAIRS                                 \
	products(c, d, n+2)

#define ADD(bytes, sum) \
	VCVTDQ2PS sum, sum            \
	VADDPS    bytes(SI), sum, sum \
	VMOVUPS   sum, bytes(SI)

// FLUSH adds two sums to the accumulators. It joins the lanes of the first pixels, and of the
// second.
#define FLUSH(bytes, a, b) \
	VPERM2I128 $0x31, b, a, Y8 \
	VPERM2I128 $0x20, b, a, a  \
	ADD(bytes, a)              \
	ADD((bytes+32), Y8)

// TX_BASE sets dst to the address of the transmitter's window in the trace of line 0, for a part
// of the block.
#define TX_BASE(part, dst) \
	MOVLQSX (4*part)(SI)(AX*1), dst \
	ADDQ    Run_Traces(DI), dst

// KERNEL sums a run.
#define KERNEL(indices, place, bytes, products) \
	LOAD_RUN                          \
	MOVQ         R13, R8              \
	SHRQ         $1, R8               \
	ADDQ         R8, R13              \
	VPBROADCASTD one<>(SB), Y15       \
	VMOVDQU      fractions<>(SB), Y11 \
block:                                \
	VPXOR Y0, Y0, Y0                  \
	VPXOR Y1, Y1, Y1                  \
	VPXOR Y2, Y2, Y2                  \
	VPXOR Y3, Y3, Y3                  \
	VPXOR Y4, Y4, Y4                  \
	VPXOR Y5, Y5, Y5                  \
	VPXOR Y6, Y6, Y6                  \
	VPXOR Y7, Y7, Y7                  \
	LOAD_SEGMENTS                     \
segment:                              \
	MOVL Segment_Tx(BX), AX           \
	MOVQ Segment_Count(BX), DX        \
	ADDQ $Segment__size, BX           \
	LEAQ (R15)(DX*Entry__size), DX    \
	MOVQ BX, segment-8(SP)            \
	MOVQ CX, segments-16(SP)          \
	MOVQ DX, end-24(SP)               \
	SHLQ $4, AX                       \
	MOVQ Run_TxOffsets(DI), BP        \
	ADDQ Run_TxOffsetsDone(DI), BP    \
	LEAQ (BP)(AX*4), BP               \
	MOVQ Run_TxBases(DI), SI          \
	ADDQ Run_TxBasesDone(DI), SI      \
	TX_BASE(0, BX)                    \
	TX_BASE(1, CX)                    \
	TX_BASE(2, R10)                   \
	TX_BASE(3, R14)                   \
entry:                                \
	MOVL (R15), AX                    \
	MOVL Entry_Line(R15), DX          \
	ADDQ $Entry__size, R15            \
	SHLQ $4, AX                       \
	SHLQ $const_lineBits, DX          \
	place(0, BX, CX)                  \
	indices(0)                        \
	HALF(bytes, products, Y0, Y1, Y2, Y3, 0) \
	place(2, R10, R14)                 \
	indices(32)                       \
	HALF(bytes, products, Y4, Y5, Y6, Y7, 4) \
	CMPQ R15, end-24(SP)              \
	JNE  entry                        \
	MOVQ segment-8(SP), BX            \
	MOVQ segments-16(SP), CX          \
	DECQ CX                           \
	JNZ  segment                      \
	ACCUMULATORS                      \
	FLUSH(0, Y0, Y1)                  \
	FLUSH(64, Y4, Y5)                 \
	FLUSH(128, Y2, Y3)                \
	FLUSH(192, Y6, Y7)                \
	NEXT_BLOCK                        \
	JNZ  block                        \
	VZEROUPPER                        \
	RET

// func halves16AVX2(r *Run)
TEXT ·halves16AVX2(SB), NOSPLIT, $32-8
	KERNEL(INDICES, PLACE, BYTES, PRODUCTS)

// func halves16AVXVNNI(r *Run)
TEXT ·halves16AVXVNNI(SB), NOSPLIT, $32-8
	KERNEL(INDICES, PLACE, BYTES, PRODUCTS_VNNI)

// func lanes16AVX2(r *Run)
TEXT ·lanes16AVX2(SB), NOSPLIT, $32-8
	KERNEL(INDICES, PLACE_LANES, BYTES_LANES, PRODUCTS)

// func lanes16AVXVNNI(r *Run)
TEXT ·lanes16AVXVNNI(SB), NOSPLIT, $32-8
	KERNEL(INDICES, PLACE_LANES, BYTES_LANES, PRODUCTS_VNNI)

// func wide16AVX2(r *Run)
TEXT ·wide16AVX2(SB), NOSPLIT, $32-8
	KERNEL(INDICES_WIDE, PLACE, BYTES_WIDE, PRODUCTS)

// func wide16AVXVNNI(r *Run)
TEXT ·wide16AVXVNNI(SB), NOSPLIT, $32-8
	KERNEL(INDICES_WIDE, PLACE, BYTES_WIDE, PRODUCTS_VNNI)
