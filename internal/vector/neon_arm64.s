// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// The functions of the type assembly, for vectors of four lanes.

// Instructions that the assembler does not know. Their registers are given by number.

// SXTL Vd.4S, Vd.4H: integers of 16 bits to 32 bits.
#define SXTL(d) WORD $(0x0f10a400 | d<<5 | d)

// XTN Vd.4H, Vd.4S: the lower 16 bits of each lane.
#define XTN(d) WORD $(0x0e612800 | d<<5 | d)

// SADALP Vd.4S, Vn.8H: adds the sums of two neighbours.
#define SADALP(n, d) WORD $(0x4e606800 | n<<5 | d)

// SCVTF Vd.4S, Vd.4S: integers to single precision.
#define SCVTF(d) WORD $(0x4e21d800 | d<<5 | d)

// FCVTNS Vd.4S, Vd.4S: single precision to the nearest integers, halves to the even one.
#define FCVTNS(d) WORD $(0x4e21a800 | d<<5 | d)

// FADD Vd.4S, Vd.4S, Vm.4S
#define FADD(m, d) WORD $(0x4e20d400 | m<<16 | d<<5 | d)

// FCVTL Vd.2D, Vn.2S: the lower two lanes to double precision.
#define FCVTL(n, d) WORD $(0x0e617800 | n<<5 | d)

// FCVTL2 Vd.2D, Vn.4S: the upper two lanes to double precision.
#define FCVTL2(n, d) WORD $(0x4e617800 | n<<5 | d)

// FADD Vd.2D, Vd.2D, Vm.2D
#define FADD64(m, d) WORD $(0x4e60d400 | m<<16 | d<<5 | d)

// FADDP Dd, Vd.2D: the sum of both lanes.
#define FADDP64(d) WORD $(0x7e70d800 | d<<5 | d)

// FMUL Vd.4S, Vd.4S, Vm.4S
#define FMUL(m, d) WORD $(0x6e20dc00 | m<<16 | d<<5 | d)

// FABS Vd.4S, Vd.4S
#define FABS(d) WORD $(0x4ea0f800 | d<<5 | d)

// FMAX Vd.4S, Vd.4S, Vm.4S: NaN if either operand is NaN.
#define FMAX(m, d) WORD $(0x4e20f400 | m<<16 | d<<5 | d)

// FMAXV Sd, Vd.4S: the largest of the lanes.
#define FMAXV(d) WORD $(0x6e30f800 | d<<5 | d)

// func sumNEON(src *float32, n int) float64
//
// Two vectors a turn, widened to float64 and added in four registers.
TEXT ·sumNEON(SB), NOSPLIT, $0-24
	MOVD src+0(FP), R0
	MOVD n+8(FP), R1
	VEOR V0.B16, V0.B16, V0.B16
	VEOR V1.B16, V1.B16, V1.B16
	VEOR V2.B16, V2.B16, V2.B16
	VEOR V3.B16, V3.B16, V3.B16

next:
	VLD1.P 32(R0), [V4.S4, V5.S4]
	FCVTL(4, 6)
	FCVTL2(4, 7)
	FCVTL(5, 16)
	FCVTL2(5, 17)
	FADD64(6, 0)
	FADD64(7, 1)
	FADD64(16, 2)
	FADD64(17, 3)
	SUB    $8, R1
	CBNZ   R1, next
	FADD64(1, 0)
	FADD64(3, 2)
	FADD64(2, 0)
	FADDP64(0)
	FMOVD  F0, ret+16(FP)
	RET

// func sumInt16NEON(src *int16, n int) int32
TEXT ·sumInt16NEON(SB), NOSPLIT, $0-20
	MOVD src+0(FP), R0
	MOVD n+8(FP), R1
	VEOR V0.B16, V0.B16, V0.B16

next:
	VLD1.P 16(R0), [V1.H8]
	SADALP(1, 0)
	SUB    $8, R1
	CBNZ   R1, next
	VADDV  V0.S4, V0
	VMOV   V0.S[0], R0
	MOVW   R0, ret+16(FP)
	RET

// func setInt16NEON(dst *float32, src *int16, n int, weight, offset float32)
TEXT ·setInt16NEON(SB), NOSPLIT, $0-32
	MOVD  dst+0(FP), R0
	MOVD  src+8(FP), R1
	MOVD  n+16(FP), R2
	MOVWU weight+24(FP), R3
	MOVWU offset+28(FP), R4
	VDUP  R3, V16.S4
	VDUP  R4, V17.S4

next:
	VLD1.P 8(R1), [V0.H4]
	SXTL(0)
	SCVTF(0)
	FMUL(16, 0)
	FADD(17, 0)
	VST1.P [V0.S4], 16(R0)
	SUB    $4, R2
	CBNZ   R2, next
	RET

// func shiftNEON(dst *float32, n int, by float32)
TEXT ·shiftNEON(SB), NOSPLIT, $0-20
	MOVD  dst+0(FP), R0
	MOVD  n+8(FP), R1
	MOVWU by+16(FP), R2
	VDUP  R2, V16.S4

next:
	VLD1   (R0), [V0.S4]
	FADD(16, 0)
	VST1.P [V0.S4], 16(R0)
	SUB    $4, R1
	CBNZ   R1, next
	RET

// func multiplyNEON(dst, weights *float32, n int)
TEXT ·multiplyNEON(SB), NOSPLIT, $0-24
	MOVD dst+0(FP), R0
	MOVD weights+8(FP), R1
	MOVD n+16(FP), R2

next:
	VLD1   (R0), [V0.S4]
	VLD1.P 16(R1), [V1.S4]
	FMUL(1, 0)
	VST1.P [V0.S4], 16(R0)
	SUB    $4, R2
	CBNZ   R2, next
	RET

// func addInt16NEON(dst *float32, src *int16, n int, weight float32)
TEXT ·addInt16NEON(SB), NOSPLIT, $0-28
	MOVD  dst+0(FP), R0
	MOVD  src+8(FP), R1
	MOVD  n+16(FP), R2
	MOVWU weight+24(FP), R3
	VDUP  R3, V16.S4

next:
	VLD1.P 8(R1), [V0.H4]
	VLD1   (R0), [V1.S4]
	SXTL(0)
	SCVTF(0)
	VFMLA  V0.S4, V16.S4, V1.S4
	VST1.P [V1.S4], 16(R0)
	SUB    $4, R2
	CBNZ   R2, next
	RET

// func addFloat32NEON(dst, src *float32, n int, weight float32)
TEXT ·addFloat32NEON(SB), NOSPLIT, $0-28
	MOVD  dst+0(FP), R0
	MOVD  src+8(FP), R1
	MOVD  n+16(FP), R2
	MOVWU weight+24(FP), R3
	VDUP  R3, V16.S4

next:
	VLD1.P 16(R1), [V0.S4]
	VLD1   (R0), [V1.S4]
	VFMLA  V0.S4, V16.S4, V1.S4
	VST1.P [V1.S4], 16(R0)
	SUB    $4, R2
	CBNZ   R2, next
	RET

// func peakNEON(src *float32, n int) float32
//
// The last vector, which overlaps the one before, is taken first.
TEXT ·peakNEON(SB), NOSPLIT, $0-20
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

// func packNEON(dst *int16, src *float32, n int, scale float32)
TEXT ·packNEON(SB), NOSPLIT, $0-28
	MOVD  dst+0(FP), R0
	MOVD  src+8(FP), R1
	MOVD  n+16(FP), R2
	MOVWU scale+24(FP), R3
	VDUP  R3, V16.S4

next:
	VLD1.P 16(R1), [V0.S4]
	FMUL(16, 0)
	FCVTNS(0)
	XTN(0)
	VST1.P [V0.H4], 8(R0)
	SUB    $4, R2
	CBNZ   R2, next
	RET

// func scaleNEON(dst *int16, n int, by float32)
TEXT ·scaleNEON(SB), NOSPLIT, $0-20
	MOVD  dst+0(FP), R0
	MOVD  n+8(FP), R1
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
	SUB    $4, R1
	CBNZ   R1, next
	RET

// func convolveNEON(dst, x, taps *float32, count, n int)
//
// Eight vectors of outputs a turn.
TEXT ·convolveNEON(SB), NOSPLIT, $0-40
	MOVD dst+0(FP), R0
	MOVD x+8(FP), R2
	MOVD n+32(FP), R5

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
	MOVD taps+16(FP), R3
	MOVD count+24(FP), R4

tap:
	VLD1R.P 4(R3), [V24.S4]
	ADD     $64, R6, R7
	VLD1    (R6), [V16.S4, V17.S4, V18.S4, V19.S4]
	VLD1    (R7), [V20.S4, V21.S4, V22.S4, V23.S4]
	ADD     $4, R6
	VFMLA   V16.S4, V24.S4, V0.S4
	VFMLA   V17.S4, V24.S4, V1.S4
	VFMLA   V18.S4, V24.S4, V2.S4
	VFMLA   V19.S4, V24.S4, V3.S4
	VFMLA   V20.S4, V24.S4, V4.S4
	VFMLA   V21.S4, V24.S4, V5.S4
	VFMLA   V22.S4, V24.S4, V6.S4
	VFMLA   V23.S4, V24.S4, V7.S4
	SUB     $1, R4
	CBNZ    R4, tap
	VST1.P  [V0.S4, V1.S4, V2.S4, V3.S4], 64(R0)
	VST1.P  [V4.S4, V5.S4, V6.S4, V7.S4], 64(R0)
	ADD     $128, R2
	SUB     $32, R5
	CBNZ    R5, block
	RET

// func convolveComplexNEON(re, im, x *float32, taps *complex64, count, n int)
//
// Four vectors of outputs a turn, real parts in V0 to V3 and imaginary parts in V4 to V7.
TEXT ·convolveComplexNEON(SB), NOSPLIT, $0-48
	MOVD re+0(FP), R0
	MOVD im+8(FP), R1
	MOVD x+16(FP), R2
	MOVD n+40(FP), R5

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
	MOVD count+32(FP), R4

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
	SUB     $16, R5
	CBNZ    R5, block
	RET
