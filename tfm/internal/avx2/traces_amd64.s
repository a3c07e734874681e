// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// func convolve(re, im, x *float32, taps *complex64, n, blocks int)
//
// 32 outputs a turn, real parts in Y0 to Y3 and imaginary ones in Y4 to Y7; a tap is
// a pair of real and imaginary part.
TEXT ·convolve(SB), NOSPLIT, $0-48
	MOVQ re+0(FP), DI
	MOVQ im+8(FP), SI
	MOVQ x+16(FP), DX
	MOVQ blocks+40(FP), BX

block:
	VPXOR Y0, Y0, Y0
	VPXOR Y1, Y1, Y1
	VPXOR Y2, Y2, Y2
	VPXOR Y3, Y3, Y3
	VPXOR Y4, Y4, Y4
	VPXOR Y5, Y5, Y5
	VPXOR Y6, Y6, Y6
	VPXOR Y7, Y7, Y7
	MOVQ  DX, R8
	MOVQ  taps+24(FP), R9
	MOVQ  n+32(FP), CX

tap:
	VBROADCASTSS (R9), Y14
	VBROADCASTSS 4(R9), Y15
	VMOVUPS      (R8), Y8
	VMOVUPS      32(R8), Y9
	VMOVUPS      64(R8), Y10
	VMOVUPS      96(R8), Y11
	VFMADD231PS  Y8, Y14, Y0
	VFMADD231PS  Y9, Y14, Y1
	VFMADD231PS  Y10, Y14, Y2
	VFMADD231PS  Y11, Y14, Y3
	VFMADD231PS  Y8, Y15, Y4
	VFMADD231PS  Y9, Y15, Y5
	VFMADD231PS  Y10, Y15, Y6
	VFMADD231PS  Y11, Y15, Y7
	ADDQ         $4, R8
	ADDQ         $8, R9
	DECQ         CX
	JNZ          tap
	VMOVUPS      Y0, (DI)
	VMOVUPS      Y1, 32(DI)
	VMOVUPS      Y2, 64(DI)
	VMOVUPS      Y3, 96(DI)
	VMOVUPS      Y4, (SI)
	VMOVUPS      Y5, 32(SI)
	VMOVUPS      Y6, 64(SI)
	VMOVUPS      Y7, 96(SI)
	ADDQ         $128, DX
	ADDQ         $128, DI
	ADDQ         $128, SI
	DECQ         BX
	JNZ          block
	VZEROUPPER
	RET

// func addInt16(dst *float32, src *int16, vectors int, weight float32)
TEXT ·addInt16(SB), NOSPLIT, $0-28
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         vectors+16(FP), CX
	VBROADCASTSS weight+24(FP), Y14

next:
	VPMOVSXWD   (SI), Y0
	VMOVUPS     (DI), Y1
	VCVTDQ2PS   Y0, Y0
	VFMADD231PS Y0, Y14, Y1
	VMOVUPS     Y1, (DI)
	ADDQ        $16, SI
	ADDQ        $32, DI
	DECQ        CX
	JNZ         next
	VZEROUPPER
	RET

// func addFloat32(dst, src *float32, vectors int, weight float32)
TEXT ·addFloat32(SB), NOSPLIT, $0-28
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         vectors+16(FP), CX
	VBROADCASTSS weight+24(FP), Y14

next:
	VMOVUPS     (SI), Y0
	VMOVUPS     (DI), Y1
	VFMADD231PS Y0, Y14, Y1
	VMOVUPS     Y1, (DI)
	ADDQ        $32, SI
	ADDQ        $32, DI
	DECQ        CX
	JNZ         next
	VZEROUPPER
	RET

// func sum(src *float32, vectors int) float32
TEXT ·sum(SB), NOSPLIT, $0-20
	MOVQ  src+0(FP), SI
	MOVQ  vectors+8(FP), CX
	VPXOR Y0, Y0, Y0

next:
	VADDPS       (SI), Y0, Y0
	ADDQ         $32, SI
	DECQ         CX
	JNZ          next
	VEXTRACTF128 $1, Y0, X1
	VADDPS       X1, X0, X0
	VHADDPS      X0, X0, X0
	VHADDPS      X0, X0, X0
	VMOVSS       X0, ret+16(FP)
	VZEROUPPER
	RET

// func shift(dst *float32, vectors int, by float32)
TEXT ·shift(SB), NOSPLIT, $0-20
	MOVQ         dst+0(FP), DI
	MOVQ         vectors+8(FP), CX
	VBROADCASTSS by+16(FP), Y14

next:
	VADDPS  (DI), Y14, Y0
	VMOVUPS Y0, (DI)
	ADDQ    $32, DI
	DECQ    CX
	JNZ     next
	VZEROUPPER
	RET

// func peak(src *float32, n int) float32
//
// Without its sign bit, the order of a float32 is that of its bits. The last vector
// overlaps the one before, which a maximum does not mind.
TEXT ·peak(SB), NOSPLIT, $0-20
	MOVQ     src+0(FP), SI
	MOVQ     n+8(FP), CX
	VPCMPEQD Y14, Y14, Y14
	VPSRLD   $1, Y14, Y14
	VPAND    -32(SI)(CX*4), Y14, Y0
	SHRQ     $3, CX

next:
	VPAND        (SI), Y14, Y1
	VPMAXUD      Y1, Y0, Y0
	ADDQ         $32, SI
	DECQ         CX
	JNZ          next

	// The maximum of the lanes.
	VEXTRACTI128 $1, Y0, X1
	VPMAXUD      X1, X0, X0
	VPSHUFD      $0x4e, X0, X1
	VPMAXUD      X1, X0, X0
	VPSHUFD      $0xb1, X0, X1
	VPMAXUD      X1, X0, X0
	VMOVSS       X0, ret+16(FP)
	VZEROUPPER
	RET

// INT16 writes 8 integers as 16 bits.
#define INT16 \
	VEXTRACTI128 $1, Y0, X1  \
	VPACKSSDW    X1, X0, X0  \
	VMOVDQU      X0, (DI)

// func pack(dst *int16, src *float32, vectors int, scale float32)
TEXT ·pack(SB), NOSPLIT, $0-28
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         vectors+16(FP), CX
	VBROADCASTSS scale+24(FP), Y14

next:
	VMULPS    (SI), Y14, Y0
	VCVTPS2DQ Y0, Y0
	INT16
	ADDQ      $32, SI
	ADDQ      $16, DI
	DECQ      CX
	JNZ       next
	VZEROUPPER
	RET

// func scale(dst *int16, vectors int, by float32)
TEXT ·scale(SB), NOSPLIT, $0-20
	MOVQ         dst+0(FP), DI
	MOVQ         vectors+8(FP), CX
	VBROADCASTSS by+16(FP), Y14

next:
	VPMOVSXWD (DI), Y0
	VCVTDQ2PS Y0, Y0
	VMULPS    Y0, Y14, Y0
	VCVTPS2DQ Y0, Y0
	INT16
	ADDQ      $16, DI
	DECQ      CX
	JNZ       next
	VZEROUPPER
	RET
