// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"
#include "run_amd64.h"

// The upper 9 bits of the sum of two offsets are the index into a window of 32
// samples, the lower 23 the fraction: under the exponent of 1 they are a float32
// from 1 to 2.

DATA fraction<>+0(SB)/4, $0x007fffff
GLOBL fraction<>(SB), RODATA|NOPTR, $4

DATA one<>+0(SB)/4, $0x3f800000
GLOBL one<>(SB), RODATA|NOPTR, $4

#define START \
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

#define FLUSH \
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

// PICK takes 8 samples to Y13, of the window that begins some bytes after place. The
// lower 3 bits of the indices permute each quarter of the window, the upper 2 choose
// one.
#define PICK(bytes, place) \
	VPERMPS   bytes+0 place, Y10, Y13  \
	VPERMPS   bytes+32 place, Y10, Y14 \
	VBLENDVPS Y11, Y14, Y13, Y13       \
	VPERMPS   bytes+64 place, Y10, Y14 \
	VPERMPS   bytes+96 place, Y10, Y15 \
	VBLENDVPS Y11, Y15, Y14, Y14       \
	VBLENDVPS Y12, Y14, Y13, Y13

// EIGHT looks 8 pixels up. Y8 becomes the weight of the second sample, Y9 that of the
// first, Y10 the indices, Y11 and Y12 their upper 2 bits at the places of signs.
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

// func sum32(r *window.Run)
TEXT ·sum32(SB), NOSPLIT, $8-8
	KERNEL(2, 4, 7)
