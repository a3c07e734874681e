// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "go_asm.h"
#include "textflag.h"

DATA  numbers<>+0(SB)/8, $1.0
DATA  numbers<>+8(SB)/8, $0.5 // longest, and a half
DATA  numbers<>+16(SB)/8, $1.5
DATA  numbers<>+24(SB)/8, $0.25 // shortest
DATA  numbers<>+32(SB)/8, $1e-13 // accuracy
DATA  numbers<>+40(SB)/8, $1e-18 // smallest
DATA  numbers<>+48(SB)/8, $0x7FEFFFFFFFFFFFFF // math.MaxFloat64
DATA  numbers<>+56(SB)/8, $0x7FFFFFFFFFFFFFFF // all but the sign
GLOBL numbers<>(SB), RODATA|NOPTR, $64

// RSQRT sets y to 1/√x, right to two units of the last place. It takes two Newton steps from 14
// bits.
#define RSQRT(x, y, half, t) \
	VRSQRT14PD   x, y           \
	VMULPD       Z30, x, half   \
	VMULPD       y, half, t     \
	VFNMADD213PD Z30, y, t      \
	VFMADD213PD  y, t, y        \
	VMULPD       y, half, t     \
	VFNMADD213PD Z30, y, t      \
	VFMADD213PD  y, t, y

// THICKNESS sets b to base + share·distance for the layer at R10.
#define THICKNESS(b, t) \
	VMOVAPD          Z0, b                      \
	VBROADCASTSD     thickness_share(R10), t    \
	VFMADD213PD.BCST thickness_base(R10), t, b

// LAYER adds the terms of the layer at R10 to x, slope and curve. It leaves b in Z9, w² in Z11 and
// 1/w in Z12.
#define LAYER \
	THICKNESS(Z9, Z10)                       \
	VBROADCASTSD layer_bend(R10), Z10        \
	VMOVAPD      Z31, Z11                    \
	VFMADD231PD  Z10, Z8, Z11                \
	RSQRT(Z11, Z12, Z13, Z14)                \
	VMULPD       Z12, Z9, Z13                \
	VADDPD       Z13, Z4, Z4                 \
	VMULPD       Z12, Z12, Z14               \
	VMULPD       Z14, Z13, Z13               \
	VADDPD       Z13, Z5, Z5                 \
	VMULPD       Z14, Z13, Z13               \
	VFMADD231PD  Z10, Z13, Z6

// HALLEY adds Halley's step to q. The step is at most four of Newton's steps.
#define HALLEY \
	VMULPD       Z5, Z5, Z11                 \
	VMULPD       Z6, Z3, Z12                 \
	VMULPD       Z9, Z12, Z12                \
	VMOVAPD      Z11, Z13                    \
	VFNMADD231PD Z29, Z12, Z13               \
	VMULPD       Z28, Z11, Z11               \
	VMAXPD       Z11, Z13, Z13               \
	VRCP14PD     Z13, Z13                    \
	VMULPD       Z5, Z9, Z9                  \
	VFMADD231PD  Z13, Z9, Z3                 \
	VMAXPD       Z23, Z3, Z3

// NUMBERS loads the constants of both functions.
#define NUMBERS \
	VBROADCASTSD numbers<>+0(SB), Z31        \
	VBROADCASTSD numbers<>+8(SB), Z30        \
	VBROADCASTSD numbers<>+16(SB), Z29       \
	VBROADCASTSD numbers<>+24(SB), Z28       \
	VBROADCASTSD numbers<>+40(SB), Z26       \
	VBROADCASTSD numbers<>+56(SB), Z24       \
	VPXORQ       Z23, Z23, Z23

// The functions take the steps of Stack.solve for eight rays at a time. Registers:
//
//	Z0 distance   Z4 x           Z8  q²               Z17 times found
//	Z1 d          Z5 slope       Z9  short            Z18 tangents found
//	Z2 h          Z6 curve       Z10 step             K1  rays not found yet
//	Z3 q          Z7 way         Z11 to Z15 scratch   K2  rays found by this step
//
// All vectors take the first step before any vector takes the next steps. The processor then works
// on more of them at the same time.

// func begin(tangents *float64, p *Points, s *Stack, first, count int)
TEXT ·begin(SB), NOSPLIT, $0-40
	MOVQ tangents+0(FP), DX
	MOVQ p+8(FP), SI
	MOVQ s+16(FP), BX
	MOVQ first+24(FP), AX
	MOVQ count+32(FP), CX
	LEAQ Points_u(SI)(AX*8), SI
	MOVQ Stack_slow+0(BX), R8
	MOVQ Stack_slow+8(BX), R9
	NUMBERS
	VBROADCASTSD Stack_u(BX), Z22
	VBROADCASTSD Stack_v(BX), Z21

vector:
	// d, and the thickness of the fastest layer.
	VMOVUPD     (SI), Z1
	VMOVUPD     (const_Block*8)(SI), Z2
	VMOVUPD     (const_Block*16)(SI), Z0
	VSUBPD      Z22, Z1, Z1
	VSUBPD      Z21, Z2, Z2
	VMULPD      Z1, Z1, Z1
	VFMADD231PD Z2, Z2, Z1
	VSQRTPD     Z1, Z1
	VMOVUPD     Z1, (const_Block*24)(SI)
	LEAQ        Stack_fast(BX), R10
	THICKNESS(Z2, Z4)
	VPANDQ      Z24, Z2, Z2
	VMAXPD      Z26, Z2, Z2

	// The start: the larger of d/Σb and (d − Σb/√a)/h.
	VMOVAPD Z2, Z4
	VMOVAPD Z1, Z5
	MOVQ    R8, R10
	MOVQ    R9, R11
	TESTQ   R11, R11
	JZ      start

limit:
	THICKNESS(Z9, Z10)
	VADDPD            Z9, Z4, Z4
	VFNMADD231PD.BCST layer_limit(R10), Z9, Z5
	ADDQ              $layer__size, R10
	DECQ              R11
	JNZ               limit

start:
	VRCP14PD Z4, Z3
	VRCP14PD Z2, Z6
	VMULPD   Z1, Z3, Z3
	VMULPD   Z5, Z6, Z5
	VMAXPD   Z5, Z3, Z3

	VMOVAPD Z2, Z4
	VMOVAPD Z2, Z5
	VPXORQ  Z6, Z6, Z6
	VMULPD  Z3, Z3, Z8
	MOVQ    R8, R10
	MOVQ    R9, R11
	TESTQ   R11, R11
	JZ      sums

layer:
	LAYER
	ADDQ $layer__size, R10
	DECQ R11
	JNZ  layer

sums:
	VMOVAPD      Z1, Z9
	VFNMADD231PD Z4, Z3, Z9
	HALLEY
	VMOVUPD      Z3, (DX)
	ADDQ         $64, SI
	ADDQ         $64, DX
	DECQ         CX
	JNZ          vector
	VZEROUPPER
	RET

// func finish(seconds *float32, tangents *float64, p *Points, s *Stack, first, count int) (ok bool)
TEXT ·finish(SB), NOSPLIT, $0-49
	MOVQ seconds+0(FP), DI
	MOVQ tangents+8(FP), DX
	MOVQ p+16(FP), SI
	MOVQ s+24(FP), BX
	MOVQ first+32(FP), AX
	MOVQ count+40(FP), CX
	LEAQ Points_u(SI)(AX*8), SI
	MOVQ Stack_slow+0(BX), R8
	MOVQ Stack_slow+8(BX), R9
	NUMBERS
	VBROADCASTSD numbers<>+32(SB), Z27
	VBROADCASTSD numbers<>+48(SB), Z25
	VBROADCASTSD Stack_slowness(BX), Z20
	MOVQ         $0xFF, AX
	KMOVW        AX, K5 // lanes whose results are all numbers

vector:
	VMOVUPD    (const_Block*16)(SI), Z0
	VMOVUPD    (const_Block*24)(SI), Z1
	VMOVUPD    (DX), Z3
	LEAQ       Stack_fast(BX), R10
	THICKNESS(Z2, Z4)
	VPANDQ     Z24, Z2, Z2
	VMAXPD     Z26, Z2, Z2
	VPTERNLOGD $0xFF, Z17, Z17, Z17 // NaN
	VMOVAPD    Z17, Z18
	MOVQ       $0xFF, AX
	KMOVW      AX, K1
	MOVQ       $(const_steps-1), R12

step:
	VMOVAPD Z2, Z4
	VMOVAPD Z2, Z5
	VPXORQ  Z6, Z6, Z6
	VMOVAPD Z2, Z7
	VMULPD  Z3, Z3, Z8
	MOVQ    R8, R10
	MOVQ    R9, R11
	TESTQ   R11, R11
	JZ      sums

layer:
	LAYER
	VMULPD           Z12, Z11, Z11 // w
	VMULPD           Z11, Z9, Z9
	VFMADD231PD.BCST layer_weight(R10), Z9, Z7
	ADDQ             $layer__size, R10
	DECQ             R11
	JNZ              layer

sums:
	VMOVAPD      Z1, Z9
	VFNMADD231PD Z4, Z3, Z9
	VRCP14PD     Z5, Z10
	VMOVAPD      Z31, Z11
	VFNMADD231PD Z10, Z5, Z11
	VFMADD213PD  Z10, Z11, Z10    // 1/slope, to 28 bits
	VMULPD       Z9, Z10, Z10
	VADDPD       Z31, Z8, Z11
	RSQRT(Z11, Z12, Z13, Z14)     // u
	VFMADD231PD  Z1, Z3, Z7
	VMULPD       Z12, Z12, Z11
	VMULPD       Z10, Z9, Z13
	VMULPD       Z30, Z13, Z13
	VMULPD       Z11, Z13, Z13    // c
	VMULPD       Z10, Z12, Z14
	VPANDQ       Z24, Z14, Z14
	VCMPPD       $18, Z30, Z14, K1, K2 // at most longest
	VMULPD       Z13, Z14, Z14
	VMULPD       Z27, Z7, Z15
	VCMPPD       $18, Z15, Z14, K2, K2 // at most the accuracy
	VADDPD       Z7, Z13, Z13
	VMULPD       Z12, Z13, Z13
	VMULPD       Z20, Z13, K2, Z17
	VADDPD       Z10, Z3, K2, Z18
	VCMPPD       $18, Z25, Z7, K1, K3  // a number
	KANDNW       K3, K2, K1
	KORTESTW     K1, K1
	JZ           found
	DECQ         R12
	JZ           found
	HALLEY
	JMP          step

found:
	VCMPPD    $18, Z25, Z17, K5, K5
	VCVTPD2PS Z17, Y11
	VMOVUPS   Y11, (DI)
	VMOVUPD   Z18, (DX)
	ADDQ      $64, SI
	ADDQ      $32, DI
	ADDQ      $64, DX
	DECQ      CX
	JNZ       vector

	KMOVW K5, AX
	CMPL  AX, $0xFF
	SETEQ ok+48(FP)
	VZEROUPPER
	RET
