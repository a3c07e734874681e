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

// TAP_OF adds the pair of samples before and after a time to the sums of that time. The tap is at
// tap(AX). A multiplication that reads the tap from memory leaves the units of the sums free, where
// VBROADCASTSS takes one of them. TAP_OF changes Z10 and Z11.
#define TAP_OF(before, after, tap, re, im) \
	VADDPS           after, before, Z10 \
	VSUBPS           after, before, Z11 \
	VFMADD231PS.BCST (tap)(AX), Z10, re \
	VFMADD231PS.BCST (tap+4)(AX), Z11, im

// FOUR_TAPS takes four taps a turn, as long as four are left. Each tap takes most samples of the tap
// before, one time later or earlier, so that 14 loads do for 16 pairs.
#define FOUR_TAPS \
four:                                \
	SUBQ    $4, CX               \
	JLT     rest                 \
	SUBQ    $(4*WIDTH), R12      \
	ADDQ    $(4*WIDTH), R13      \
	VMOVUPS (R12), Z16           \
	VMOVUPS WIDTH(R12), Z17      \
	VMOVUPS (2*WIDTH)(R12), Z18  \
	VMOVUPS (3*WIDTH)(R12), Z19  \
	VMOVUPS (4*WIDTH)(R12), Z20  \
	VMOVUPS (5*WIDTH)(R12), Z21  \
	VMOVUPS (6*WIDTH)(R12), Z22  \
	VMOVUPS (-3*WIDTH)(R13), Z23 \
	VMOVUPS (-2*WIDTH)(R13), Z24 \
	VMOVUPS (-WIDTH)(R13), Z25   \
	VMOVUPS (R13), Z26           \
	VMOVUPS WIDTH(R13), Z27      \
	VMOVUPS (2*WIDTH)(R13), Z28  \
	VMOVUPS (3*WIDTH)(R13), Z29  \
	TAP_OF(Z19, Z23, 8, V0, V4)  \
	TAP_OF(Z20, Z24, 8, V1, V5)  \
	TAP_OF(Z21, Z25, 8, V2, V6)  \
	TAP_OF(Z22, Z26, 8, V3, V7)  \
	TAP_OF(Z18, Z24, 16, V0, V4) \
	TAP_OF(Z19, Z25, 16, V1, V5) \
	TAP_OF(Z20, Z26, 16, V2, V6) \
	TAP_OF(Z21, Z27, 16, V3, V7) \
	TAP_OF(Z17, Z25, 24, V0, V4) \
	TAP_OF(Z18, Z26, 24, V1, V5) \
	TAP_OF(Z19, Z27, 24, V2, V6) \
	TAP_OF(Z20, Z28, 24, V3, V7) \
	TAP_OF(Z16, Z26, 32, V0, V4) \
	TAP_OF(Z17, Z27, 32, V1, V5) \
	TAP_OF(Z18, Z28, 32, V2, V6) \
	TAP_OF(Z19, Z29, 32, V3, V7) \
	ADDQ    $32, AX              \
	JMP     four                 \
rest:                                \
	ADDQ    $4, CX

// SWAP_PAIRS sets to to the numbers of 32 bits in v with their halves in reverse order.
#define SWAP_PAIRS(v, to) \
	VPROLD $16, v, to

// DOT adds the products of the integers in a and b to the sums.
#define DOT(a, b, sums) \
	VPDPWSSD a, b, sums

// DOT_OF adds two pairs of samples around a time to the sums of that time. The two taps are at
// tap(AX), as in TAP_OF.
#define DOT_OF(after, before, tap, re, im) \
	VPADDW        after, before, Z10 \
	VPSUBW        after, before, Z11 \
	VPDPWSSD.BCST (tap)(AX), Z10, re \
	VPDPWSSD.BCST (tap+4)(AX), Z11, im

// EIGHT_TAPS takes eight taps a turn, as long as eight are left. Two taps take the samples of the two
// before, two times later or earlier, so that 20 loads do for 32.
#define EIGHT_TAPS \
eight:                                \
	SUBQ    $4, CX                \
	JLT     left                  \
	VMOVUPS (R13), Z12            \
	VMOVUPS (2*WIDTH)(R13), Z13   \
	VMOVUPS (4*WIDTH)(R13), Z14   \
	VMOVUPS (6*WIDTH)(R13), Z15   \
	VMOVUPS (8*WIDTH)(R13), Z16   \
	VMOVUPS (10*WIDTH)(R13), Z17  \
	VMOVUPS (12*WIDTH)(R13), Z18  \
	VMOVUPS (14*WIDTH)(R13), Z19  \
	VMOVUPS (16*WIDTH)(R13), Z20  \
	VMOVUPS (18*WIDTH)(R13), Z21  \
	VMOVUPS (-11*WIDTH)(R12), Z22 \
	VMOVUPS (-9*WIDTH)(R12), Z23  \
	VMOVUPS (-7*WIDTH)(R12), Z24  \
	VMOVUPS (-5*WIDTH)(R12), Z25  \
	VMOVUPS (-3*WIDTH)(R12), Z26  \
	VMOVUPS (-WIDTH)(R12), Z27    \
	VMOVUPS WIDTH(R12), Z28       \
	VMOVUPS (3*WIDTH)(R12), Z29   \
	VMOVUPS (5*WIDTH)(R12), Z30   \
	VMOVUPS (7*WIDTH)(R12), Z31   \
	DOT_OF(Z12, Z28, 0, V0, V4)   \
	DOT_OF(Z13, Z29, 0, V1, V5)   \
	DOT_OF(Z14, Z30, 0, V2, V6)   \
	DOT_OF(Z15, Z31, 0, V3, V7)   \
	DOT_OF(Z14, Z26, 8, V0, V4)   \
	DOT_OF(Z15, Z27, 8, V1, V5)   \
	DOT_OF(Z16, Z28, 8, V2, V6)   \
	DOT_OF(Z17, Z29, 8, V3, V7)   \
	DOT_OF(Z16, Z24, 16, V0, V4)  \
	DOT_OF(Z17, Z25, 16, V1, V5)  \
	DOT_OF(Z18, Z26, 16, V2, V6)  \
	DOT_OF(Z19, Z27, 16, V3, V7)  \
	DOT_OF(Z18, Z22, 24, V0, V4)  \
	DOT_OF(Z19, Z23, 24, V1, V5)  \
	DOT_OF(Z20, Z24, 24, V2, V6)  \
	DOT_OF(Z21, Z25, 24, V3, V7)  \
	SUBQ    $(16*WIDTH), R12      \
	ADDQ    $(16*WIDTH), R13      \
	ADDQ    $32, AX               \
	JMP     eight                 \
left:                                 \
	ADDQ    $4, CX

#define SUM ·sumAVX512
#define SUM_INT16 ·sumInt16AVX512
#define LOAD ·loadAVX512
#define SET_INT16 ·setInt16AVX512
#define RANGE_INT16 ·rangeInt16AVX512
#define COMBINE ·combineAVX512
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
	CONVOLVE_INTS(DOT, EIGHT_TAPS)
