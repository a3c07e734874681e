// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// func sum(src *float32, blocks int, lanes *[8]float64)
//
// 32 samples a turn, widened to float64 and added in four registers.
TEXT ·sum(SB), NOSPLIT, $0-24
	MOVQ   src+0(FP), SI
	MOVQ   blocks+8(FP), CX
	MOVQ   lanes+16(FP), DI
	VPXORD Z0, Z0, Z0
	VPXORD Z1, Z1, Z1
	VPXORD Z2, Z2, Z2
	VPXORD Z3, Z3, Z3

next:
	VCVTPS2PD (SI), Z4
	VCVTPS2PD 32(SI), Z5
	VCVTPS2PD 64(SI), Z6
	VCVTPS2PD 96(SI), Z7
	VADDPD    Z4, Z0, Z0
	VADDPD    Z5, Z1, Z1
	VADDPD    Z6, Z2, Z2
	VADDPD    Z7, Z3, Z3
	ADDQ      $128, SI
	DECQ      CX
	JNZ       next
	VADDPD    Z1, Z0, Z0
	VADDPD    Z3, Z2, Z2
	VADDPD    Z2, Z0, Z0
	VMOVUPD   Z0, (DI)
	VZEROUPPER
	RET

// func shift(dst *float32, blocks int, by float32)
TEXT ·shift(SB), NOSPLIT, $0-20
	MOVQ         dst+0(FP), DI
	MOVQ         blocks+8(FP), CX
	VBROADCASTSS by+16(FP), Z16

next:
	VADDPS  (DI), Z16, Z0
	VMOVUPS Z0, (DI)
	ADDQ    $64, DI
	DECQ    CX
	JNZ     next
	VZEROUPPER
	RET

// func multiply(dst, weights *float32, blocks int)
TEXT ·multiply(SB), NOSPLIT, $0-24
	MOVQ dst+0(FP), DI
	MOVQ weights+8(FP), SI
	MOVQ blocks+16(FP), CX

next:
	VMOVUPS (DI), Z0
	VMULPS  (SI), Z0, Z0
	VMOVUPS Z0, (DI)
	ADDQ    $64, SI
	ADDQ    $64, DI
	DECQ    CX
	JNZ     next
	VZEROUPPER
	RET

// func convolve(dst, x, taps *float32, n, blocks int)
//
// 128 outputs a turn, in eight registers, so that additions need not wait for
// each other.
TEXT ·convolve(SB), NOSPLIT, $0-40
	MOVQ dst+0(FP), DI
	MOVQ x+8(FP), DX
	MOVQ blocks+32(FP), BX

block:
	VPXORD Z0, Z0, Z0
	VPXORD Z1, Z1, Z1
	VPXORD Z2, Z2, Z2
	VPXORD Z3, Z3, Z3
	VPXORD Z4, Z4, Z4
	VPXORD Z5, Z5, Z5
	VPXORD Z6, Z6, Z6
	VPXORD Z7, Z7, Z7
	MOVQ   DX, R8
	MOVQ   taps+16(FP), R9
	MOVQ   n+24(FP), CX

tap:
	VBROADCASTSS (R9), Z16
	VFMADD231PS  (R8), Z16, Z0
	VFMADD231PS  64(R8), Z16, Z1
	VFMADD231PS  128(R8), Z16, Z2
	VFMADD231PS  192(R8), Z16, Z3
	VFMADD231PS  256(R8), Z16, Z4
	VFMADD231PS  320(R8), Z16, Z5
	VFMADD231PS  384(R8), Z16, Z6
	VFMADD231PS  448(R8), Z16, Z7
	ADDQ         $4, R8
	ADDQ         $4, R9
	DECQ         CX
	JNZ          tap
	VMOVUPS      Z0, (DI)
	VMOVUPS      Z1, 64(DI)
	VMOVUPS      Z2, 128(DI)
	VMOVUPS      Z3, 192(DI)
	VMOVUPS      Z4, 256(DI)
	VMOVUPS      Z5, 320(DI)
	VMOVUPS      Z6, 384(DI)
	VMOVUPS      Z7, 448(DI)
	ADDQ         $512, DX
	ADDQ         $512, DI
	DECQ         BX
	JNZ          block
	VZEROUPPER
	RET
