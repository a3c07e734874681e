// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// func convolve(re, im, x *float32, taps *complex64, n, blocks int)
//
// 64 outputs a turn, real parts in Z0 to Z3 and imaginary ones in Z4 to Z7; a tap is
// a pair of real and imaginary part.
TEXT ·convolve(SB), NOSPLIT, $0-48
	MOVQ re+0(FP), DI
	MOVQ im+8(FP), SI
	MOVQ x+16(FP), DX
	MOVQ blocks+40(FP), BX

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
	MOVQ   taps+24(FP), R9
	MOVQ   n+32(FP), CX

tap:
	VBROADCASTSS (R9), Z16
	VBROADCASTSS 4(R9), Z17
	VMOVUPS      (R8), Z8
	VMOVUPS      64(R8), Z9
	VMOVUPS      128(R8), Z10
	VMOVUPS      192(R8), Z11
	VFMADD231PS  Z8, Z16, Z0
	VFMADD231PS  Z9, Z16, Z1
	VFMADD231PS  Z10, Z16, Z2
	VFMADD231PS  Z11, Z16, Z3
	VFMADD231PS  Z8, Z17, Z4
	VFMADD231PS  Z9, Z17, Z5
	VFMADD231PS  Z10, Z17, Z6
	VFMADD231PS  Z11, Z17, Z7
	ADDQ         $4, R8
	ADDQ         $8, R9
	DECQ         CX
	JNZ          tap
	VMOVUPS      Z0, (DI)
	VMOVUPS      Z1, 64(DI)
	VMOVUPS      Z2, 128(DI)
	VMOVUPS      Z3, 192(DI)
	VMOVUPS      Z4, (SI)
	VMOVUPS      Z5, 64(SI)
	VMOVUPS      Z6, 128(SI)
	VMOVUPS      Z7, 192(SI)
	ADDQ         $256, DX
	ADDQ         $256, DI
	ADDQ         $256, SI
	DECQ         BX
	JNZ          block
	VZEROUPPER
	RET

// func addInt16(dst *float32, src *int16, vectors int, weight float32)
TEXT ·addInt16(SB), NOSPLIT, $0-28
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         vectors+16(FP), CX
	VBROADCASTSS weight+24(FP), Z16

next:
	VPMOVSXWD   (SI), Z0
	VMOVUPS     (DI), Z1
	VCVTDQ2PS   Z0, Z0
	VFMADD231PS Z0, Z16, Z1
	VMOVUPS     Z1, (DI)
	ADDQ        $32, SI
	ADDQ        $64, DI
	DECQ        CX
	JNZ         next
	VZEROUPPER
	RET

// func addFloat32(dst, src *float32, vectors int, weight float32)
TEXT ·addFloat32(SB), NOSPLIT, $0-28
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         vectors+16(FP), CX
	VBROADCASTSS weight+24(FP), Z16

next:
	VMOVUPS     (SI), Z0
	VMOVUPS     (DI), Z1
	VFMADD231PS Z0, Z16, Z1
	VMOVUPS     Z1, (DI)
	ADDQ        $64, SI
	ADDQ        $64, DI
	DECQ        CX
	JNZ         next
	VZEROUPPER
	RET

// func sum(src *float32, vectors int) float32
TEXT ·sum(SB), NOSPLIT, $0-20
	MOVQ   src+0(FP), SI
	MOVQ   vectors+8(FP), CX
	VPXORD Z0, Z0, Z0

next:
	VADDPS        (SI), Z0, Z0
	ADDQ          $64, SI
	DECQ          CX
	JNZ           next
	VEXTRACTF64X4 $1, Z0, Y1
	VADDPS        Y1, Y0, Y0
	VEXTRACTF128  $1, Y0, X1
	VADDPS        X1, X0, X0
	VHADDPS       X0, X0, X0
	VHADDPS       X0, X0, X0
	VMOVSS        X0, ret+16(FP)
	VZEROUPPER
	RET

// func shift(dst *float32, vectors int, by float32)
TEXT ·shift(SB), NOSPLIT, $0-20
	MOVQ         dst+0(FP), DI
	MOVQ         vectors+8(FP), CX
	VBROADCASTSS by+16(FP), Z16

next:
	VADDPS  (DI), Z16, Z0
	VMOVUPS Z0, (DI)
	ADDQ    $64, DI
	DECQ    CX
	JNZ     next
	VZEROUPPER
	RET

// func peak(src *float32, n int) float32
//
// Without its sign bit, the order of a float32 is that of its bits. The last vector
// overlaps the one before, which a maximum does not mind.
TEXT ·peak(SB), NOSPLIT, $0-20
	MOVQ          src+0(FP), SI
	MOVQ          n+8(FP), CX
	MOVL          $0x7fffffff, AX
	VPBROADCASTD  AX, Z16
	LEAQ          -64(SI)(CX*4), DX // the last vector
	VPANDD        (DX), Z16, Z0
	SHRQ          $4, CX

next:
	VPANDD        (SI), Z16, Z1
	VPMAXUD       Z1, Z0, Z0
	ADDQ          $64, SI
	DECQ          CX
	JNZ           next

	// The maximum of the lanes.
	VEXTRACTI64X4 $1, Z0, Y1
	VPMAXUD       Y1, Y0, Y0
	VEXTRACTI128  $1, Y0, X1
	VPMAXUD       X1, X0, X0
	VPSHUFD       $0x4e, X0, X1
	VPMAXUD       X1, X0, X0
	VPSHUFD       $0xb1, X0, X1
	VPMAXUD       X1, X0, X0
	VMOVD         X0, AX
	MOVL          AX, ret+16(FP)
	VZEROUPPER
	RET

// func pack(dst *int16, src *float32, vectors int, scale float32)
TEXT ·pack(SB), NOSPLIT, $0-28
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         vectors+16(FP), CX
	VBROADCASTSS scale+24(FP), Z16

next:
	VMULPS    (SI), Z16, Z0
	VCVTPS2DQ Z0, Z0
	VPMOVDW   Z0, (DI)
	ADDQ      $64, SI
	ADDQ      $32, DI
	DECQ      CX
	JNZ       next
	VZEROUPPER
	RET

// func scale(dst *int16, vectors int, by float32)
TEXT ·scale(SB), NOSPLIT, $0-20
	MOVQ         dst+0(FP), DI
	MOVQ         vectors+8(FP), CX
	VBROADCASTSS by+16(FP), Z16

next:
	VPMOVSXWD (DI), Z0
	VCVTDQ2PS Z0, Z0
	VMULPS    Z0, Z16, Z0
	VCVTPS2DQ Z0, Z0
	VPMOVDW   Z0, (DI)
	ADDQ      $32, DI
	DECQ      CX
	JNZ       next
	VZEROUPPER
	RET
