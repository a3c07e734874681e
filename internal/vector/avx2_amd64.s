// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

#define WIDTH 32
#define V0 Y0
#define V1 Y1
#define V2 Y2
#define V3 Y3
#define V4 Y4
#define V5 Y5
#define V6 Y6
#define V7 Y7
#define V8 Y8
#define V9 Y9
#define V10 Y10
#define V11 Y11
#define V14 Y14
#define V15 Y15

// FOLD has nothing to do: the result of an operation is wanted in Y0.
#define FOLD(operation)

// NARROW writes the 8 integers in Y0 as 16 bits each.
#define NARROW \
	VEXTRACTI128 $1, Y0, X1 \
	VPACKSSDW    X1, X0, X0 \
	VMOVDQU      X0, (DI)

// NARROW_INDEX has nothing to do.
#define NARROW_INDEX

// NARROW_TWO writes the 16 integers in Y0 and Y1 as 16 bits each.
#define NARROW_TWO \
	VPACKSSDW Y1, Y0, Y0    \
	VPERMQ    $0xd8, Y0, Y0 \
	VMOVDQU   Y0, (DI)

// Within 16 bytes, lowFirst puts the low bytes of the integers of 16 bits before their high bytes.
DATA lowFirst<>+0(SB)/8, $0x0e0c0a0806040200
DATA lowFirst<>+8(SB)/8, $0x0f0d0b0907050301
DATA lowFirst<>+16(SB)/8, $0x0e0c0a0806040200
DATA lowFirst<>+24(SB)/8, $0x0f0d0b0907050301
GLOBL lowFirst<>(SB), RODATA|NOPTR, $32

// VPACKSSDW leaves integers 0 to 3 and 8 to 11 in the lower half. laneOrder puts fours in order.
DATA laneOrder<>+0(SB)/8, $0x0000000400000000
DATA laneOrder<>+8(SB)/8, $0x0000000500000001
DATA laneOrder<>+16(SB)/8, $0x0000000600000002
DATA laneOrder<>+24(SB)/8, $0x0000000700000003
GLOBL laneOrder<>(SB), RODATA|NOPTR, $32

// NARROW_BYTES writes the low bytes of the 16 integers in Y0 and Y1 to DI, and their second bytes
// to DX.
#define NARROW_BYTES \
	VPACKSSDW    Y1, Y0, Y0              \
	VPSHUFB      lowFirst<>(SB), Y0, Y0  \
	VMOVDQU      laneOrder<>(SB), Y1     \
	VPERMD       Y0, Y1, Y0              \
	VMOVDQU      X0, (DI)                \
	VEXTRACTI128 $1, Y0, (DX)

// WIDEN_BYTES sets Y0 and Y1 to 16 integers with low bytes from DI and high bytes from DX.
#define WIDEN_BYTES \
	VMOVDQU    (DI), X0    \
	VMOVDQU    (DX), X1    \
	VPUNPCKHBW X1, X0, X2  \
	VPUNPCKLBW X1, X0, X0  \
	VPMOVSXWD  X2, Y1      \
	VPMOVSXWD  X0, Y0

// LOAD_QUADS loads four numbers of every fourth segment from p on.
#define LOAD_QUADS(p, x, v) \
	VMOVUPS     (p), x                \
	VINSERTF128 $1, (p)(R10*1), v, v

// STORE_QUADS stores four numbers of every fourth segment from p on.
#define STORE_QUADS(x, y, v, p) \
	VMOVUPS      x, (p)              \
	VEXTRACTF128 $1, y, (p)(R10*1)

// FOUR_TAPS has nothing to do: there are no registers for the samples of several taps.
#define FOUR_TAPS

// SWAP_PAIRS sets to to the numbers of 32 bits in v with their halves in reverse order.
#define SWAP_PAIRS(v, to) \
	VPSHUFLW $0xb1, v, to  \
	VPSHUFHW $0xb1, to, to

#define SUM ·sumAVX2
#define SUM_INT16 ·sumInt16AVX2
#define LOAD ·loadAVX2
#define SET_INT16 ·setInt16AVX2
#define RANGE_INT16 ·rangeInt16AVX2
#define COMBINE ·combineAVX2
#define SHIFT ·shiftAVX2
#define MULTIPLY ·multiplyAVX2
#define ADD_INT16 ·addInt16AVX2
#define ADD_FLOAT32 ·addFloat32AVX2
#define PEAK ·peakAVX2
#define EXTEND ·extendAVX2
#define PACK ·packAVX2
#define SCALE ·scaleAVX2
#define PACK_BYTES ·packBytesAVX2
#define SCALE_BYTES ·scaleBytesAVX2
#define CONVOLVE ·convolveAVX2
#define INTERLEAVE ·interleaveAVX2
#define INTERLEAVE_INT16 ·interleaveInt16AVX2
#define CONVOLVE_INT16 ·convolveInt16AVX2
#define CONVOLVE_HERMITIAN ·convolveHermitianAVX2
#define CONVOLVE_COMPLEX ·convolveComplexAVX2

#include "vector_amd64.h"
#include "hermitian_amd64.h"
