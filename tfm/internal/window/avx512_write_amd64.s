// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// ROW writes row r of a block: lane r, of 128 bits, of each of Z4 to Z7.
#define ROW(r) \
	VEXTRACTF32X4 $r, Z4, (DI)   \
	VEXTRACTF32X4 $r, Z5, 16(DI) \
	VEXTRACTF32X4 $r, Z6, 32(DI) \
	VEXTRACTF32X4 $r, Z7, 48(DI) \
	ADDQ          SI, DI

// func writeBlockAVX512(dst *complex64, stride uintptr, acc *float32, unit float32)
TEXT ·writeBlockAVX512(SB), NOSPLIT, $0-28
	MOVQ         dst+0(FP), DI
	MOVQ         stride+8(FP), SI
	MOVQ         acc+16(FP), AX
	VBROADCASTSS unit+24(FP), Z16
	VMULPS       (AX), Z16, Z0     // real, left half: a row in 128 bits
	VMULPS       64(AX), Z16, Z1   // real, right half
	VMULPS       128(AX), Z16, Z2  // imaginary, left half
	VMULPS       192(AX), Z16, Z3  // imaginary, right half
	VUNPCKLPS    Z2, Z0, Z4        // columns 0 and 1
	VUNPCKHPS    Z2, Z0, Z5        // columns 2 and 3
	VUNPCKLPS    Z3, Z1, Z6        // columns 4 and 5
	VUNPCKHPS    Z3, Z1, Z7        // columns 6 and 7
	ROW(0)
	ROW(1)
	ROW(2)
	ROW(3)
	VZEROUPPER
	RET
