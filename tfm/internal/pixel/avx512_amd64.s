// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// BROADCAST fills dst with 32 bits. It changes AX.
#define BROADCAST(bits, dst) \
	MOVL         $bits, AX \
	VPBROADCASTD AX, dst

// LIMITS writes what MODULI needs to Z19 to Z21, and clears K3.
#define LIMITS \
	BROADCAST(0x17800000, Z19) \
	BROADCAST(0x71800000, Z20) \
	BROADCAST(0x7fffffff, Z21) \
	KXORW K3, K3, K3

// MODULI turns the real parts in Z2 and the imaginary parts in Z3 into magnitudes in Z4, in the
// steps of the function modulus. K3 collects the pixels whose squares do not fit into single
// precision.
#define MODULI \
	VMULPS   Z2, Z2, Z4         \
	VMULPS   Z3, Z3, Z5         \
	VADDPS   Z5, Z4, Z4         \
	VCMPPS   $0x1d, Z19, Z4, K1 \
	VCMPPS   $0x12, Z20, Z4, K2 \
	KANDW    K2, K1, K1         \
	VORPS    Z3, Z2, Z2         \
	VPTESTMD Z21, Z2, K2        \
	KANDNW   K2, K1, K1         \
	KORW     K1, K3, K3         \
	VSQRTPS  Z4, Z4

// func magnitude(dst *float32, src *complex64, vectors int) (ok bool)
TEXT ·magnitude(SB), NOSPLIT, $0-25
	MOVQ dst+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ vectors+16(FP), CX
	LIMITS

	// Z16 becomes the indices 0 2 4 … 30 of the real parts, and Z17 the indices of the imaginary
	// parts.
	MOVQ      $0x0e0c0a0806040200, AX
	VMOVQ     AX, X0
	MOVQ      $0x1e1c1a1816141210, AX
	VPINSRQ   $1, AX, X0, X0
	VPMOVZXBD X0, Z16
	BROADCAST(1, Z17)
	VPADDD    Z17, Z16, Z17

next:
	VMOVUPS  (SI), Z0
	VMOVUPS  64(SI), Z1
	VMOVAPS  Z16, Z2
	VPERMI2D Z1, Z0, Z2
	VMOVAPS  Z17, Z3
	VPERMI2D Z1, Z0, Z3
	MODULI
	VMOVUPS  Z4, (DI)
	ADDQ     $128, SI
	ADDQ     $64, DI
	DECQ     CX
	JNZ      next
	KORTESTW K3, K3
	SETEQ    ok+24(FP)
	VZEROUPPER
	RET

// func planar(dst, src *float32, groups int, unit float32) (ok bool)
TEXT ·planar(SB), NOSPLIT, $0-33
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         groups+16(FP), CX
	VBROADCASTSS unit+24(FP), Z16
	LIMITS

next:
	VMULPS   (SI), Z16, Z2
	VMULPS   128(SI), Z16, Z3
	MODULI
	VMOVUPS  Z4, (DI)
	VMULPS   64(SI), Z16, Z2
	VMULPS   192(SI), Z16, Z3
	MODULI
	VMOVUPS  Z4, 64(DI)
	ADDQ     $256, SI
	ADDQ     $128, DI
	DECQ     CX
	JNZ      next
	KORTESTW K3, K3
	SETEQ    ok+32(FP)
	VZEROUPPER
	RET

// func decibels(dst, src *float32, vectors int, scale, threshold, floor float32) (done int)
//
// The steps are the steps of the function of, in decibels.go. K2 marks the ratios that are not
// normal.
TEXT ·decibels(SB), NOSPLIT, $0-48
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         vectors+16(FP), CX
	VBROADCASTSS scale+24(FP), Z16
	VBROADCASTSS threshold+28(FP), Z17
	VBROADCASTSS floor+32(FP), Z18
	BROADCAST(0x3f400000, Z19)         // 3/4
	BROADCAST(0x3f800000, Z20)         // 1
	BROADCAST(0x3de38e39, Z21)         // 1/9
	BROADCAST(0x3e124925, Z22)         // 1/7
	BROADCAST(0x3e4ccccd, Z23)         // 1/5
	BROADCAST(0x3eaaaaab, Z24)         // 1/3
	BROADCAST(0x40c0a8c1, Z25)         // dB of 2
	BROADCAST(0x410af967, Z26)         // dB of e

next:
	VMOVUPS      (SI), Z0
	VCMPPS       $0x1e, Z17, Z0, K1    // above the threshold
	VMULPS       Z16, Z0, Z0           // the ratios
	VFPCLASSPSZ  $0xff, Z0, K1, K2     // neither normal nor positive
	KORTESTW     K2, K2
	JNZ          stop
	VPSUBD       Z19, Z0, Z1
	VPSRAD       $23, Z1, Z1           // the exponent
	VPSLLD       $23, Z1, Z2
	VPSUBD       Z2, Z0, Z0            // m
	VCVTDQ2PS    Z1, Z1
	VSUBPS       Z20, Z0, Z2
	VADDPS       Z20, Z0, Z3
	VDIVPS       Z3, Z2, Z2            // s
	VMULPS       Z2, Z2, Z3            // q
	VMULPS       Z21, Z3, Z4
	VADDPS       Z22, Z4, Z4
	VMULPS       Z3, Z4, Z4
	VADDPS       Z23, Z4, Z4
	VMULPS       Z3, Z4, Z4
	VADDPS       Z24, Z4, Z4
	VMULPS       Z3, Z4, Z4
	VADDPS       Z20, Z4, Z4
	VADDPS       Z2, Z2, Z2
	VMULPS       Z4, Z2, Z2            // ln(m)
	VMULPS       Z25, Z1, Z1
	VMULPS       Z26, Z2, Z2
	VADDPS       Z2, Z1, Z1
	VMOVAPS      Z18, Z5
	VMAXPS       Z18, Z1, K1, Z5       // the floor at or below the threshold
	VMOVUPS      Z5, (DI)
	ADDQ         $64, SI
	ADDQ         $64, DI
	DECQ         CX
	JNZ          next

stop:
	MOVQ         vectors+16(FP), AX
	SUBQ         CX, AX
	MOVQ         AX, done+40(FP)
	VZEROUPPER
	RET
