// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// func read64(src *byte, lines int)
// It loads lines · 64 bytes, eight loads of 64 bytes in a turn.
TEXT ·read64(SB), NOSPLIT, $0-16
	MOVQ src+0(FP), SI
	MOVQ lines+8(FP), CX

read64:
	VMOVDQU64 0(SI), Z0
	VMOVDQU64 64(SI), Z1
	VMOVDQU64 128(SI), Z2
	VMOVDQU64 192(SI), Z3
	VMOVDQU64 256(SI), Z4
	VMOVDQU64 320(SI), Z5
	VMOVDQU64 384(SI), Z6
	VMOVDQU64 448(SI), Z7
	ADDQ      $512, SI
	SUBQ      $8, CX
	JGT       read64
	VZEROUPPER
	RET

// func read32(src *byte, lines int)
// It loads lines · 64 bytes, sixteen loads of 32 bytes in a turn.
TEXT ·read32(SB), NOSPLIT, $0-16
	MOVQ src+0(FP), SI
	MOVQ lines+8(FP), CX

read32:
	VMOVDQU 0(SI), Y0
	VMOVDQU 32(SI), Y1
	VMOVDQU 64(SI), Y2
	VMOVDQU 96(SI), Y3
	VMOVDQU 128(SI), Y4
	VMOVDQU 160(SI), Y5
	VMOVDQU 192(SI), Y6
	VMOVDQU 224(SI), Y7
	VMOVDQU 256(SI), Y0
	VMOVDQU 288(SI), Y1
	VMOVDQU 320(SI), Y2
	VMOVDQU 352(SI), Y3
	VMOVDQU 384(SI), Y4
	VMOVDQU 416(SI), Y5
	VMOVDQU 448(SI), Y6
	VMOVDQU 480(SI), Y7
	ADDQ    $512, SI
	SUBQ    $8, CX
	JGT     read32
	VZEROUPPER
	RET

// func multiplyAdd16(turns int)
// A turn is 12 independent multiply-adds of 16 values in single precision.
TEXT ·multiplyAdd16(SB), NOSPLIT, $0-8
	MOVQ   turns+0(FP), CX
	VPXORQ Z0, Z0, Z0
	VPXORQ Z1, Z1, Z1
	VPXORQ Z2, Z2, Z2
	VPXORQ Z3, Z3, Z3
	VPXORQ Z4, Z4, Z4
	VPXORQ Z5, Z5, Z5
	VPXORQ Z6, Z6, Z6
	VPXORQ Z7, Z7, Z7
	VPXORQ Z8, Z8, Z8
	VPXORQ Z9, Z9, Z9
	VPXORQ Z10, Z10, Z10
	VPXORQ Z11, Z11, Z11
	VPXORQ Z12, Z12, Z12

multiplyAdd16:
	VFMADD231PS Z12, Z12, Z0
	VFMADD231PS Z12, Z12, Z1
	VFMADD231PS Z12, Z12, Z2
	VFMADD231PS Z12, Z12, Z3
	VFMADD231PS Z12, Z12, Z4
	VFMADD231PS Z12, Z12, Z5
	VFMADD231PS Z12, Z12, Z6
	VFMADD231PS Z12, Z12, Z7
	VFMADD231PS Z12, Z12, Z8
	VFMADD231PS Z12, Z12, Z9
	VFMADD231PS Z12, Z12, Z10
	VFMADD231PS Z12, Z12, Z11
	DECQ        CX
	JGT         multiplyAdd16
	VZEROUPPER
	RET

// func multiplyAdd8(turns int)
// A turn is 12 independent multiply-adds of 8 values in single precision.
TEXT ·multiplyAdd8(SB), NOSPLIT, $0-8
	MOVQ  turns+0(FP), CX
	VPXOR Y0, Y0, Y0
	VPXOR Y1, Y1, Y1
	VPXOR Y2, Y2, Y2
	VPXOR Y3, Y3, Y3
	VPXOR Y4, Y4, Y4
	VPXOR Y5, Y5, Y5
	VPXOR Y6, Y6, Y6
	VPXOR Y7, Y7, Y7
	VPXOR Y8, Y8, Y8
	VPXOR Y9, Y9, Y9
	VPXOR Y10, Y10, Y10
	VPXOR Y11, Y11, Y11
	VPXOR Y12, Y12, Y12

multiplyAdd8:
	VFMADD231PS Y12, Y12, Y0
	VFMADD231PS Y12, Y12, Y1
	VFMADD231PS Y12, Y12, Y2
	VFMADD231PS Y12, Y12, Y3
	VFMADD231PS Y12, Y12, Y4
	VFMADD231PS Y12, Y12, Y5
	VFMADD231PS Y12, Y12, Y6
	VFMADD231PS Y12, Y12, Y7
	VFMADD231PS Y12, Y12, Y8
	VFMADD231PS Y12, Y12, Y9
	VFMADD231PS Y12, Y12, Y10
	VFMADD231PS Y12, Y12, Y11
	DECQ        CX
	JGT         multiplyAdd8
	VZEROUPPER
	RET
