// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "go_asm.h"
#include "textflag.h"
#include "run_amd64.h"
#include "avx2_amd64.h"

// The upper 9 bits of the sum of two offsets are the index into a window of 32 samples. The lower
// 23 bits are the fraction. With the exponent of the number 1 they are a float32 from 1 to 2.

DATA fraction<>+0(SB)/4, $0x007fffff
GLOBL fraction<>(SB), RODATA|NOPTR, $4

DATA one<>+0(SB)/4, $0x3f800000
GLOBL one<>(SB), RODATA|NOPTR, $4

#define START \
	ACCUMULATORS             \
	VMOVUPS (SI), Y0         \
	VMOVUPS 32(SI), Y1       \
	VMOVUPS 64(SI), Y2       \
	VMOVUPS 96(SI), Y3       \
	VMOVUPS 128(SI), Y4      \
	VMOVUPS 160(SI), Y5      \
	VMOVUPS 192(SI), Y6      \
	VMOVUPS 224(SI), Y7

#define FLUSH \
	ACCUMULATORS             \
	VMOVUPS Y0, (SI)         \
	VMOVUPS Y1, 32(SI)       \
	VMOVUPS Y2, 64(SI)       \
	VMOVUPS Y3, 96(SI)       \
	VMOVUPS Y4, 128(SI)      \
	VMOVUPS Y5, 160(SI)      \
	VMOVUPS Y6, 192(SI)      \
	VMOVUPS Y7, 224(SI)

// PICK sets Y13 to 8 samples of the window that begins the given number of bytes after place. It
// permutes each quarter of the window by the lower 3 bits of the indices. The upper 2 bits choose
// the quarter.
#define PICK(bytes, place) \
	VPERMPS   bytes+0 place, Y10, Y13  \
	VPERMPS   bytes+32 place, Y10, Y14 \
	VBLENDVPS Y11, Y14, Y13, Y13       \
	VPERMPS   bytes+64 place, Y10, Y14 \
	VPERMPS   bytes+96 place, Y10, Y15 \
	VBLENDVPS Y11, Y15, Y14, Y14       \
	VBLENDVPS Y12, Y14, Y13, Y13

// EIGHT looks up 8 pixels. Y9 becomes the weight of the first sample, Y8 the weight of the second
// sample, and Y10 the indices. Y11 and Y12 get the upper 2 bits of the indices in the places of
// their signs.
#define EIGHT(at, window, re, im) \
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
	PICK(0, (window))                  \
	VFMADD231PS  Y13, Y9, re           \
	PICK(4, (window))                  \
	VFMADD231PS  Y13, Y8, re           \
	PICK(0, (window)(R13*1))           \
	VFMADD231PS  Y13, Y9, im           \
	PICK(4, (window)(R13*1))           \
	VFMADD231PS  Y13, Y8, im

#define LOOKUP \
	EIGHT(0, DX, Y0, Y4)  \
	EIGHT(32, DX, Y1, Y5) \
	EIGHT(64, SI, Y2, Y6) \
	EIGHT(96, SI, Y3, Y7)

// func sum32AVX2(r *Run)
TEXT ·sum32AVX2(SB), NOSPLIT, $8-8
	KERNEL(2, 4, 7)
