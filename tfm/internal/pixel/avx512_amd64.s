// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// BROADCAST fills dst with 32 bits. It changes AX.
#define BROADCAST(bits, dst) \
	MOVL         $bits, AX \
	VPBROADCASTD AX, dst

// func magnitude(dst *float32, src *complex64, vectors int)
//
// It works in double precision, as plain Go does. Nothing overflows.
TEXT ·magnitude(SB), NOSPLIT, $0-24
	MOVQ dst+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ vectors+16(FP), CX

	// Y16 becomes the indices 0 2 4 6 1 3 5 7.
	MOVQ      $0x0705030106040200, AX
	VMOVQ     AX, X16
	VPMOVZXBD X16, Y16
	ADDQ      CX, CX

eight:
	VCVTPS2PD (SI), Z0       // pixels 0 to 3
	VCVTPS2PD 32(SI), Z1     // pixels 4 to 7
	VMULPD    Z0, Z0, Z0
	VMULPD    Z1, Z1, Z1
	VUNPCKLPD Z1, Z0, Z2     // real parts of 0 4 1 5 2 6 3 7
	VUNPCKHPD Z1, Z0, Z3     // imaginary parts
	VADDPD    Z3, Z2, Z2
	VSQRTPD   Z2, Z2
	VCVTPD2PS Z2, Y2
	VPERMPS   Y2, Y16, Y2
	VMOVUPS   Y2, (DI)
	ADDQ      $64, SI
	ADDQ      $32, DI
	DECQ      CX
	JNZ       eight
	VZEROUPPER
	RET

// func decibels(dst, src *float32, vectors int, scale float64, threshold, floor float32) (ok bool)
//
// The steps are the steps of the function of, in decibels.go. K3 collects the ratios that are not
// normal.
TEXT ·decibels(SB), NOSPLIT, $0-41
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         vectors+16(FP), CX
	VBROADCASTSD scale+24(FP), Z16
	VBROADCASTSS threshold+32(FP), Z17
	VBROADCASTSS floor+36(FP), Z18
	BROADCAST(0x3f400000, Z19)         // 3/4
	BROADCAST(0x3f800000, Z20)         // 1
	BROADCAST(0x3de38e39, Z21)         // 1/9
	BROADCAST(0x3e124925, Z22)         // 1/7
	BROADCAST(0x3e4ccccd, Z23)         // 1/5
	BROADCAST(0x3eaaaaab, Z24)         // 1/3
	BROADCAST(0x40c0a8c1, Z25)         // dB of 2
	BROADCAST(0x410af967, Z26)         // dB of e
	KXORW        K3, K3, K3

next:
	VMOVUPS      (SI), Z0
	VCMPPS       $0x1e, Z17, Z0, K1    // above the threshold
	VEXTRACTF64X4 $1, Z0, Y1
	VCVTPS2PD    Y0, Z0
	VCVTPS2PD    Y1, Z1
	VMULPD       Z16, Z0, Z0
	VMULPD       Z16, Z1, Z1
	VCVTPD2PS    Z0, Y0
	VCVTPD2PS    Z1, Y1
	VINSERTF64X4 $1, Y1, Z0, Z0        // the ratios
	VFPCLASSPSZ  $0xff, Z0, K1, K2     // neither normal nor positive
	KORW         K2, K3, K3
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
	KORTESTW     K3, K3
	SETEQ        ok+40(FP)
	VZEROUPPER
	RET
