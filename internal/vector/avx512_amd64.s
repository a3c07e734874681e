// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

#define WIDTH 64
#define V0 Z0
#define V1 Z1
#define V2 Z2
#define V3 Z3
#define V4 Z4
#define V5 Z5
#define V6 Z6
#define V7 Z7
#define V8 Z8
#define V9 Z9
#define V10 Z10
#define V11 Z11
#define V14 Z14
#define V15 Z15

// FOLD applies an operation to the halves of Z0. Y0 becomes the result.
#define FOLD(operation) \
	VEXTRACTF64X4 $1, Z0, Y1 \
	operation     Y1, Y0, Y0

// NARROW writes the 16 integers in Z0 as 16 bits each.
#define NARROW \
	VPMOVDW Z0, (DI)

// NARROW_INDEX fills Z15 with the order of the 64-bit parts of packed vectors: 0 2 4 6 1 3 5 7.
#define NARROW_INDEX \
	MOVQ      $0x0705030106040200, AX \
	VMOVQ     AX, X15                 \
	VPMOVZXBQ X15, Z15

// NARROW_TWO writes the 32 integers in Z0 and Z1 as 16 bits each.
#define NARROW_TWO \
	VPACKSSDW Z1, Z0, Z0  \
	VPERMQ    Z0, Z15, Z0 \
	VMOVDQU64 Z0, (DI)

// NARROW_BYTES writes the low bytes of the 32 integers in Z0 and Z1 to DI, and their second bytes
// to DX.
#define NARROW_BYTES \
	VPMOVDB Z0, (DI)   \
	VPMOVDB Z1, 16(DI) \
	VPSRLD  $8, Z0, Z0 \
	VPSRLD  $8, Z1, Z1 \
	VPMOVDB Z0, (DX)   \
	VPMOVDB Z1, 16(DX)

// WIDEN_BYTES sets Z0 and Z1 to 32 integers with low bytes from DI and high bytes from DX.
#define WIDEN_BYTES \
	VPMOVZXBD (DI), Z0   \
	VPMOVZXBD 16(DI), Z1 \
	VPMOVSXBD (DX), Z2   \
	VPMOVSXBD 16(DX), Z3 \
	VPSLLD    $8, Z2, Z2 \
	VPSLLD    $8, Z3, Z3 \
	VPADDD    Z2, Z0, Z0 \
	VPADDD    Z3, Z1, Z1

// LOAD_QUADS loads four numbers of every fourth segment from p on.
#define LOAD_QUADS(p, x, v) \
	VMOVUPS      (p), x               \
	VINSERTF32X4 $1, (p)(R10*1), v, v \
	VINSERTF32X4 $2, (p)(R10*2), v, v \
	VINSERTF32X4 $3, (p)(R11*1), v, v

// STORE_QUADS stores four numbers of every fourth segment from p on.
#define STORE_QUADS(x, y, v, p) \
	VMOVUPS       x, (p)             \
	VEXTRACTF128  $1, y, (p)(R10*1)  \
	VEXTRACTF32X4 $2, v, (p)(R10*2)  \
	VEXTRACTF32X4 $3, v, (p)(R11*1)

// TWO_TAPS takes two taps a turn, as long as two are left. The second tap takes the samples of the
// first, one time later or earlier, so that 14 loads do for 16 pairs.
#define TWO_TAPS \
two:                              \
	SUBQ         $2, CX           \
	JLT          rest             \
	SUBQ         $(2*WIDTH), R12  \
	ADDQ         $(2*WIDTH), R13  \
	VMOVUPS      (R12), Z16          \
	VMOVUPS      WIDTH(R12), Z17     \
	VMOVUPS      (2*WIDTH)(R12), Z18 \
	VMOVUPS      (3*WIDTH)(R12), Z19 \
	VMOVUPS      (4*WIDTH)(R12), Z20 \
	VMOVUPS      (-WIDTH)(R13), Z21  \
	VMOVUPS      (R13), Z22          \
	VMOVUPS      WIDTH(R13), Z23     \
	VMOVUPS      (2*WIDTH)(R13), Z24 \
	VMOVUPS      (3*WIDTH)(R13), Z25 \
	VBROADCASTSS 8(AX), V14  \
	VBROADCASTSS 12(AX), V15 \
	PAIR(Z17, Z21, V0, V4)   \
	PAIR(Z18, Z22, V1, V5)   \
	PAIR(Z19, Z23, V2, V6)   \
	PAIR(Z20, Z24, V3, V7)   \
	VBROADCASTSS 16(AX), V14 \
	VBROADCASTSS 20(AX), V15 \
	PAIR(Z16, Z22, V0, V4)   \
	PAIR(Z17, Z23, V1, V5)   \
	PAIR(Z18, Z24, V2, V6)   \
	PAIR(Z19, Z25, V3, V7)   \
	ADDQ         $16, AX     \
	JMP          two         \
rest:                        \
	ADDQ         $2, CX

// SWAP_PAIRS sets to to the numbers of 32 bits in v with their halves in reverse order.
#define SWAP_PAIRS(v, to) \
	VPROLD $16, v, to

// DOT adds the products of the integers in a and b to the sums.
#define DOT(a, b, sums) \
	VPDPWSSD a, b, sums

// FOUR_TAPS takes four taps a turn, as long as four are left. The last two take most samples of
// the first two, two times later or earlier, so that 12 loads do for 16.
#define FOUR_TAPS(dot) \
four:                                 \
	SUBQ         $2, CX               \
	JLT          left                 \
	VMOVUPS      (R13), Z16           \
	VMOVUPS      (2*WIDTH)(R13), Z17  \
	VMOVUPS      (4*WIDTH)(R13), Z18  \
	VMOVUPS      (6*WIDTH)(R13), Z19  \
	VMOVUPS      (8*WIDTH)(R13), Z20  \
	VMOVUPS      (10*WIDTH)(R13), Z21 \
	VMOVUPS      (-3*WIDTH)(R12), Z22 \
	VMOVUPS      (-WIDTH)(R12), Z23   \
	VMOVUPS      WIDTH(R12), Z24      \
	VMOVUPS      (3*WIDTH)(R12), Z25  \
	VMOVUPS      (5*WIDTH)(R12), Z26  \
	VMOVUPS      (7*WIDTH)(R12), Z27  \
	VBROADCASTSS (AX), V14            \
	VBROADCASTSS 4(AX), V15           \
	ADD_PAIRS(dot, Z16, Z24, V0, V4)  \
	ADD_PAIRS(dot, Z17, Z25, V1, V5)  \
	ADD_PAIRS(dot, Z18, Z26, V2, V6)  \
	ADD_PAIRS(dot, Z19, Z27, V3, V7)  \
	VBROADCASTSS 8(AX), V14           \
	VBROADCASTSS 12(AX), V15          \
	ADD_PAIRS(dot, Z18, Z22, V0, V4)  \
	ADD_PAIRS(dot, Z19, Z23, V1, V5)  \
	ADD_PAIRS(dot, Z20, Z24, V2, V6)  \
	ADD_PAIRS(dot, Z21, Z25, V3, V7)  \
	SUBQ         $(8*WIDTH), R12      \
	ADDQ         $(8*WIDTH), R13      \
	ADDQ         $16, AX              \
	JMP          four                 \
left:                                 \
	ADDQ         $2, CX

#define SUM ·sumAVX512
#define SUM_INT16 ·sumInt16AVX512
#define SET_INT16 ·setInt16AVX512
#define SHIFT ·shiftAVX512
#define MULTIPLY ·multiplyAVX512
#define ADD_INT16 ·addInt16AVX512
#define ADD_FLOAT32 ·addFloat32AVX512
#define PEAK ·peakAVX512
#define EXTEND ·extendAVX512
#define PACK ·packAVX512
#define SCALE ·scaleAVX512
#define PACK_BYTES ·packBytesAVX512
#define SCALE_BYTES ·scaleBytesAVX512
#define CONVOLVE ·convolveAVX512
#define INTERLEAVE ·interleaveAVX512
#define INTERLEAVE_INT16 ·interleaveInt16AVX512
#define CONVOLVE_INT16 ·convolveInt16AVX512
#define CONVOLVE_HERMITIAN ·convolveHermitianAVX512
#define CONVOLVE_COMPLEX ·convolveComplexAVX512

#include "vector_amd64.h"
#include "hermitian_amd64.h"

// func convolveInt16VNNI(re, im *float32, x, taps *int16, pairs, stride, n int, unit float32)
TEXT ·convolveInt16VNNI(SB), NOSPLIT, $0-60
	CONVOLVE_INTS(DOT)
