// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "go_asm.h"
#include "textflag.h"

// Both functions take a row of pixels at a time: four pixels of the left half of the block and
// four of the right half. SI is the address of the times of an element, R8 the distance of rows
// and R10 the distance of elements in bytes. DX is the address of the delays, BX of the extents.
#define LOAD_CONVERSION \
	MOVQ c+0(FP), DI                \
	MOVQ conversion_seconds(DI), SI \
	MOVQ conversion_row(DI), R8     \
	MOVQ conversion_element(DI), R10 \
	MOVQ conversion_fixed(DI), DX   \
	MOVQ (conversion_fixed+8)(DI), CX \
	MOVQ conversion_extents(DI), BX \
	SHLQ $2, R8                     \
	SHLQ $2, R10

// NEXT_ELEMENT goes to the next element. It leaves ZF set after the last.
#define NEXT_ELEMENT \
	ADDQ R10, SI             \
	ADDQ $(const_Pixels*8), DX  \
	ADDQ $extent__size, BX   \
	DECQ CX

// AVX-512. Z16 to Z18 hold offset, scale and reach, Z19 the bits of a magnitude. Z20 is none, Z21
// is beyond and Z22 is -beyond. K7 tells which pixels of a row had all rays so far.

// ROW512 converts the row at SI to delays, and sets k for the pixels with a ray.
#define ROW512(fixed, k) \
	VCVTPS2PD (AX), fixed          \
	VSUBPD    Z16, fixed, fixed    \
	VMULPD    Z17, fixed, fixed    \
	VANDPD    Z19, fixed, Z15      \
	VCMPPD    $18, Z18, Z15, k     \
	VMOVAPD   fixed, Z15           \
	VMOVDQA64 Z20, fixed           \
	VCVTPD2QQ Z15, k, fixed        \
	KANDB     k, K7, K7            \
	ADDQ      R8, AX

// PAIR512 sets the least and the greatest delays of two rows, column by column.
#define PAIR512(a, ka, b, kb, first, last) \
	VMOVDQA64 Z21, first         \
	VPMINSQ   a, first, ka, first \
	VPMINSQ   b, first, kb, first \
	VPMAXSQ   a, Z22, last       \
	VPMAXSQ   b, last, last

// ACROSS512 sets the low half of a to the results of the four quarters: of op over the columns of
// the left half of a and of b, and then of the right half.
#define ACROSS512(op, a, b) \
	VPUNPCKLQDQ b, a, Z14          \
	VPUNPCKHQDQ b, a, Z15          \
	op          Z14, Z15, Z14      \
	VSHUFI64X2  $0xb1, Z14, Z14, Z15 \
	op          Z14, Z15, Z14      \
	VSHUFI64X2  $0x08, Z14, Z14, a

// STORE512 stores two rows of each half, at DX and half a block later.
#define STORE512(a, b, at) \
	VSHUFI64X2 $0x44, b, a, Z14 \
	VSHUFI64X2 $0xee, b, a, Z15 \
	VMOVDQU64  Z14, at(DX)      \
	VMOVDQU64  Z15, (const_Pixels*8/2+at)(DX)

// func convertAVX512(c *conversion) (missing bool)
TEXT ·convertAVX512(SB), NOSPLIT, $0-9
	LOAD_CONVERSION
	VBROADCASTSD conversion_offset(DI), Z16
	VBROADCASTSD conversion_scale(DI), Z17
	VBROADCASTSD conversion_reach(DI), Z18
	VPTERNLOGQ   $0xff, Z19, Z19, Z19
	VPSLLQ       $63, Z19, Z20
	VPSRLQ       $63, Z19, Z21
	VPSLLQ       $51, Z21, Z21
	VPSLLQ       $51, Z19, Z22
	VPSRLQ       $1, Z19, Z19
	KXNORB       K7, K7, K7

element512:
	MOVQ SI, AX
	ROW512(Z0, K1)
	ROW512(Z1, K2)
	ROW512(Z2, K3)
	ROW512(Z3, K4)
	STORE512(Z0, Z1, 0)
	STORE512(Z2, Z3, 64)
	PAIR512(Z0, K1, Z1, K2, Z4, Z5)
	PAIR512(Z2, K3, Z3, K4, Z6, Z7)
	ACROSS512(VPMINSQ, Z4, Z6)
	ACROSS512(VPMAXSQ, Z5, Z7)
	VMOVDQU Y4, extent_first(BX)
	VMOVDQU Y5, extent_last(BX)
	NEXT_ELEMENT
	JNZ  element512

	KMOVB K7, AX
	CMPB  AX, $0xff
	SETNE missing+8(FP)
	VZEROUPPER
	RET

// AVX2 has no conversion to 64 bits, and no order of 64-bit integers. A delay is added to 1.5·2⁵²,
// where float64 has a step of 1: this rounds it to the nearest whole number, halves to even. The
// sums have the order of the delays. As integers they are the delays plus the bits of 1.5·2⁵².
//
// Y8 to Y10 hold offset, scale and reach, Y11 the bits of a magnitude and Y12 the number 1.5·2⁵².
// Y13 is none, Y14 the sum for beyond and Y15 the sum for -beyond. R11 tells which rays are
// missing.

// FOUR converts four pixels at SI to delays at DX. It sets the sums for the least and the
// greatest.
#define FOUR(source, at, first, last) \
	VCVTPS2PD source, Y0            \
	VSUBPD    Y8, Y0, Y0            \
	VMULPD    Y9, Y0, Y0            \
	VANDPD    Y11, Y0, Y1           \
	VCMPPD    $18, Y10, Y1, Y1      \
	VADDPD    Y12, Y0, Y0           \
	VPSUBQ    Y12, Y0, Y2           \
	VBLENDVPD Y1, Y2, Y13, Y2       \
	VMOVDQU   Y2, at(DX)            \
	VBLENDVPD Y1, Y0, Y14, first    \
	VBLENDVPD Y1, Y0, Y15, last     \
	VMOVMSKPD Y1, R12               \
	ANDL      R12, R11

// ACROSS stores the result of op over the lanes of y, which has the low half x.
#define ACROSS(op, y, x, to) \
	VEXTRACTF128 $1, y, X0   \
	op           X0, x, x    \
	VPERMILPD    $1, x, X0   \
	op           X0, x, x    \
	VPSUBQ       X12, x, x   \
	VMOVQ        x, to

// QUARTER converts a quarter: two rows, at AX and R8 later.
#define QUARTER(q) \
	FOUR((AX), (q*const_Pixels*8/4), Y3, Y4)                       \
	FOUR((AX)(R8*1), (q*const_Pixels*8/4+32), Y5, Y6)              \
	VMINPD Y3, Y5, Y3                                        \
	VMAXPD Y4, Y6, Y4                                        \
	ACROSS(VMINPD, Y3, X3, (extent_first+8*q)(BX))           \
	ACROSS(VMAXPD, Y4, X4, (extent_last+8*q)(BX))

// func convertAVX2(c *conversion) (missing bool)
TEXT ·convertAVX2(SB), NOSPLIT, $0-9
	LOAD_CONVERSION
	VBROADCASTSD conversion_offset(DI), Y8
	VBROADCASTSD conversion_scale(DI), Y9
	VBROADCASTSD conversion_reach(DI), Y10
	VPCMPEQQ     Y11, Y11, Y11
	VPSLLQ       $63, Y11, Y13
	VPSRLQ       $1, Y11, Y11
	MOVQ         $0x4338000000000000, AX
	VMOVQ        AX, X12
	VPBROADCASTQ X12, Y12
	MOVQ         $0x4340000000000000, AX
	VMOVQ        AX, X14
	VPBROADCASTQ X14, Y14
	MOVQ         $0x4330000000000000, AX
	VMOVQ        AX, X15
	VPBROADCASTQ X15, Y15
	MOVL         $15, R11

element2:
	MOVQ SI, AX
	QUARTER(0)
	LEAQ (SI)(R8*2), AX
	QUARTER(1)
	LEAQ 16(SI), AX
	QUARTER(2)
	LEAQ 16(SI)(R8*2), AX
	QUARTER(3)
	NEXT_ELEMENT
	JNZ  element2

	CMPL  R11, $15
	SETNE missing+8(FP)
	VZEROUPPER
	RET
