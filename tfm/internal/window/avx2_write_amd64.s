// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// ROW writes row r of a block. The left half of the row is in the lower lane.
#define ROW(r) \
	VMOVUPS      (16*r)(AX), X0               \
	VMOVUPS      (128+16*r)(AX), X1           \
	VINSERTF128  $1, (64+16*r)(AX), Y0, Y0    \
	VINSERTF128  $1, (192+16*r)(AX), Y1, Y1   \
	VMULPS       Y0, Y15, Y0                  \
	VMULPS       Y1, Y15, Y1                  \
	VUNPCKLPS    Y1, Y0, Y2                   \
	VUNPCKHPS    Y1, Y0, Y3                   \
	VMOVUPS      X2, (DI)                     \
	VMOVUPS      X3, 16(DI)                   \
	VEXTRACTF128 $1, Y2, 32(DI)               \
	VEXTRACTF128 $1, Y3, 48(DI)               \
	ADDQ         SI, DI

// func writeBlockAVX2(dst *complex64, stride uintptr, acc *float32, unit float32)
TEXT ·writeBlockAVX2(SB), NOSPLIT, $0-28
	MOVQ         dst+0(FP), DI
	MOVQ         stride+8(FP), SI
	MOVQ         acc+16(FP), AX
	VBROADCASTSS unit+24(FP), Y15
	ROW(0)
	ROW(1)
	ROW(2)
	ROW(3)
	VZEROUPPER
	RET
