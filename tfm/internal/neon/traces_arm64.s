// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// Instructions that the assembler does not know, of registers by number.

// SXTL Vd.4S, Vd.4H: 16 bits to 32, with their sign.
#define SXTL(d) WORD $(0x0f10a400 | d<<5 | d)

// XTN Vd.4H, Vd.4S: the lower 16 bits of 32.
#define XTN(d) WORD $(0x0e612800 | d<<5 | d)

// SCVTF Vd.4S, Vd.4S: integers to single precision.
#define SCVTF(d) WORD $(0x4e21d800 | d<<5 | d)

// FCVTNS Vd.4S, Vd.4S: single precision to the nearest integers, of two the even one.
#define FCVTNS(d) WORD $(0x4e21a800 | d<<5 | d)

// FADD Vd.4S, Vd.4S, Vm.4S
#define FADD(m, d) WORD $(0x4e20d400 | m<<16 | d<<5 | d)

// FADDP Vd.4S, Vd.4S, Vd.4S: sums of neighbours.
#define FADDP(d) WORD $(0x6e20d400 | d<<16 | d<<5 | d)

// FMUL Vd.4S, Vd.4S, Vm.4S
#define FMUL(m, d) WORD $(0x6e20dc00 | m<<16 | d<<5 | d)

// FABS Vd.4S, Vd.4S
#define FABS(d) WORD $(0x4ea0f800 | d<<5 | d)

// FMAX Vd.4S, Vd.4S, Vm.4S: NaN if either is.
#define FMAX(m, d) WORD $(0x4e20f400 | m<<16 | d<<5 | d)

// FMAXV Sd, Vd.4S: the largest of the lanes.
#define FMAXV(d) WORD $(0x6e30f800 | d<<5 | d)

// func convolve(re, im, x *float32, taps *complex64, n, blocks int)
//
// 16 outputs a turn, real parts in V0 to V3 and imaginary ones in V4 to V7; a tap is
// a pair of real and imaginary part.
TEXT ·convolve(SB), NOSPLIT, $0-48
	MOVD re+0(FP), R0
	MOVD im+8(FP), R1
	MOVD x+16(FP), R2
	MOVD blocks+40(FP), R5

block:
	VEOR V0.B16, V0.B16, V0.B16
	VEOR V1.B16, V1.B16, V1.B16
	VEOR V2.B16, V2.B16, V2.B16
	VEOR V3.B16, V3.B16, V3.B16
	VEOR V4.B16, V4.B16, V4.B16
	VEOR V5.B16, V5.B16, V5.B16
	VEOR V6.B16, V6.B16, V6.B16
	VEOR V7.B16, V7.B16, V7.B16
	MOVD R2, R6
	MOVD taps+24(FP), R3
	MOVD n+32(FP), R4

tap:
	VLD2R.P 8(R3), [V20.S4, V21.S4]
	VLD1    (R6), [V16.S4, V17.S4, V18.S4, V19.S4]
	ADD     $4, R6
	VFMLA   V16.S4, V20.S4, V0.S4
	VFMLA   V17.S4, V20.S4, V1.S4
	VFMLA   V18.S4, V20.S4, V2.S4
	VFMLA   V19.S4, V20.S4, V3.S4
	VFMLA   V16.S4, V21.S4, V4.S4
	VFMLA   V17.S4, V21.S4, V5.S4
	VFMLA   V18.S4, V21.S4, V6.S4
	VFMLA   V19.S4, V21.S4, V7.S4
	SUB     $1, R4
	CBNZ    R4, tap
	VST1.P  [V0.S4, V1.S4, V2.S4, V3.S4], 64(R0)
	VST1.P  [V4.S4, V5.S4, V6.S4, V7.S4], 64(R1)
	ADD     $64, R2
	SUB     $1, R5
	CBNZ    R5, block
	RET

// func addInt16(dst *float32, src *int16, vectors int, weight float32)
TEXT ·addInt16(SB), NOSPLIT, $0-28
	MOVD  dst+0(FP), R0
	MOVD  src+8(FP), R1
	MOVD  vectors+16(FP), R2
	MOVWU weight+24(FP), R3
	VDUP  R3, V16.S4

next:
	VLD1.P 8(R1), [V0.H4]
	VLD1   (R0), [V1.S4]
	SXTL(0)
	SCVTF(0)
	VFMLA  V0.S4, V16.S4, V1.S4
	VST1.P [V1.S4], 16(R0)
	SUB    $1, R2
	CBNZ   R2, next
	RET

// func addFloat32(dst, src *float32, vectors int, weight float32)
TEXT ·addFloat32(SB), NOSPLIT, $0-28
	MOVD  dst+0(FP), R0
	MOVD  src+8(FP), R1
	MOVD  vectors+16(FP), R2
	MOVWU weight+24(FP), R3
	VDUP  R3, V16.S4

next:
	VLD1.P 16(R1), [V0.S4]
	VLD1   (R0), [V1.S4]
	VFMLA  V0.S4, V16.S4, V1.S4
	VST1.P [V1.S4], 16(R0)
	SUB    $1, R2
	CBNZ   R2, next
	RET

// func sum(src *float32, vectors int) float32
TEXT ·sum(SB), NOSPLIT, $0-20
	MOVD src+0(FP), R0
	MOVD vectors+8(FP), R1
	VEOR V0.B16, V0.B16, V0.B16

next:
	VLD1.P 16(R0), [V1.S4]
	FADD(1, 0)
	SUB    $1, R1
	CBNZ   R1, next
	FADDP(0)
	FADDP(0)
	FMOVS  F0, ret+16(FP)
	RET

// func shift(dst *float32, vectors int, by float32)
TEXT ·shift(SB), NOSPLIT, $0-20
	MOVD  dst+0(FP), R0
	MOVD  vectors+8(FP), R1
	MOVWU by+16(FP), R2
	VDUP  R2, V16.S4

next:
	VLD1   (R0), [V0.S4]
	FADD(16, 0)
	VST1.P [V0.S4], 16(R0)
	SUB    $1, R1
	CBNZ   R1, next
	RET

// func peak(src *float32, n int) float32
//
// The last vector overlaps the one before, which a maximum does not mind.
TEXT ·peak(SB), NOSPLIT, $0-20
	MOVD src+0(FP), R0
	MOVD n+8(FP), R1
	ADD  R1<<2, R0, R2
	SUB  $16, R2
	VLD1 (R2), [V0.S4]
	FABS(0)
	LSR  $2, R1

next:
	VLD1.P 16(R0), [V1.S4]
	FABS(1)
	FMAX(1, 0)
	SUB    $1, R1
	CBNZ   R1, next
	FMAXV(0)
	FMOVS  F0, ret+16(FP)
	RET

// func pack(dst *int16, src *float32, vectors int, scale float32)
TEXT ·pack(SB), NOSPLIT, $0-28
	MOVD  dst+0(FP), R0
	MOVD  src+8(FP), R1
	MOVD  vectors+16(FP), R2
	MOVWU scale+24(FP), R3
	VDUP  R3, V16.S4

next:
	VLD1.P 16(R1), [V0.S4]
	FMUL(16, 0)
	FCVTNS(0)
	XTN(0)
	VST1.P [V0.H4], 8(R0)
	SUB    $1, R2
	CBNZ   R2, next
	RET

// func scale(dst *int16, vectors int, by float32)
TEXT ·scale(SB), NOSPLIT, $0-20
	MOVD  dst+0(FP), R0
	MOVD  vectors+8(FP), R1
	MOVWU by+16(FP), R2
	VDUP  R2, V16.S4

next:
	VLD1   (R0), [V0.H4]
	SXTL(0)
	SCVTF(0)
	FMUL(16, 0)
	FCVTNS(0)
	XTN(0)
	VST1.P [V0.H4], 8(R0)
	SUB    $1, R1
	CBNZ   R1, next
	RET
