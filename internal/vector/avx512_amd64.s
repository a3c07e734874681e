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

// NARROW_BYTES writes the low bytes of the 16 integers in Z0 to DI, and their second bytes to DX.
#define NARROW_BYTES \
	VPMOVDB Z0, (DI)   \
	VPSRLD  $8, Z0, Z0 \
	VPMOVDB Z0, (DX)

#define SUM ·sumAVX512
#define SHIFT ·shiftAVX512
#define MULTIPLY ·multiplyAVX512
#define ADD_INT16 ·addInt16AVX512
#define ADD_FLOAT32 ·addFloat32AVX512
#define PEAK ·peakAVX512
#define PACK ·packAVX512
#define SCALE ·scaleAVX512
#define PACK_BYTES ·packBytesAVX512
#define SCALE_BYTES ·scaleBytesAVX512
#define CONVOLVE ·convolveAVX512
#define CONVOLVE_COMPLEX ·convolveComplexAVX512

#include "vector_amd64.h"
