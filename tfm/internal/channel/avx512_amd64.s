// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// BROADCAST fills dst with 32 bits. It changes AX.
#define BROADCAST(bits, dst) \
	MOVL         $bits, AX \
	VPBROADCASTD AX, dst

// SQUARED_STEP sets d to the squared distance of the samples at an offset from re and im. It changes
// Z6.
#define SQUARED_STEP(offset, d) \
	VSUBPS      offset(SI), Z0, d   \
	VMULPS      d, d, d             \
	VSUBPS      offset(DX), Z1, Z6  \
	VFMADD231PS Z6, Z6, d

// func addPower(dst, re, im *float32, vectors int, copies float32)
TEXT ·addPower(SB), NOSPLIT, $0-36
	MOVQ         dst+0(FP), DI
	MOVQ         re+8(FP), SI
	MOVQ         im+16(FP), DX
	MOVQ         vectors+24(FP), CX
	VBROADCASTSS copies+32(FP), Z31
	BROADCAST(0x3daaaaab, Z30) // 1/12

next:
	VMOVUPS      (SI), Z0
	VMOVUPS      (DX), Z1
	SQUARED_STEP(-4, Z2)
	SQUARED_STEP(4, Z3)
	VADDPS       Z3, Z2, Z2
	VMULPS       Z0, Z0, Z4
	VFMADD231PS  Z1, Z1, Z4
	VFNMADD231PS Z30, Z2, Z4
	VMOVUPS      (DI), Z5
	VFMADD231PS  Z31, Z4, Z5
	VMOVUPS      Z5, (DI)
	ADDQ         $64, SI
	ADDQ         $64, DX
	ADDQ         $64, DI
	DECQ         CX
	JNZ          next
	VZEROUPPER
	RET

// func addSign(dst, re *float32, vectors int, copies float32)
TEXT ·addSign(SB), NOSPLIT, $0-28
	MOVQ         dst+0(FP), DI
	MOVQ         re+8(FP), SI
	MOVQ         vectors+16(FP), CX
	VBROADCASTSS copies+24(FP), Z31
	VPXORD       Z30, Z30, Z30

next:
	VMOVUPS (DI), Z1
	VMOVUPS (SI), Z0
	VCMPPS  $0x1e, Z30, Z0, K1 // above 0
	VCMPPS  $0x11, Z30, Z0, K2 // below 0
	VADDPS  Z31, Z1, K1, Z1
	VSUBPS  Z31, Z1, K2, Z1
	VMOVUPS Z1, (DI)
	ADDQ    $64, SI
	ADDQ    $64, DI
	DECQ    CX
	JNZ     next
	VZEROUPPER
	RET

// UNIT loads a sample at an offset and divides it by its modulus. It sets the sample to 0 if its
// square is below Z28. One step of Newton's method doubles the 14 bits of the inverse root. It
// changes Z6 to Z8 and K1.
#define UNIT(offset, x, y) \
	VMOVUPS       offset(SI), x         \
	VMOVUPS       offset(DX), y         \
	VMULPS        x, x, Z6              \
	VFMADD231PS   y, y, Z6              \
	VCMPPS        $0x1d, Z28, Z6, K1    \
	VRSQRT14PS.Z  Z6, K1, Z7            \
	VMULPS        Z7, Z7, Z8            \
	VMULPS        Z6, Z8, Z8            \
	VFNMADD213PS  Z27, Z26, Z8          \
	VMULPS        Z8, Z7, Z7            \
	VMULPS        Z7, x, x              \
	VMULPS        Z7, y, y

// SHORTFALL adds d/12 + d²/90 to Z9, where d is the squared distance from Z0, Z1 to x, y. It changes
// Z6 to Z8.
#define SHORTFALL(x, y) \
	VSUBPS       Z0, x, Z6     \
	VMULPS       Z6, Z6, Z6    \
	VSUBPS       Z1, y, Z7     \
	VFMADD231PS  Z7, Z7, Z6    \
	VMOVAPS      Z24, Z7       \
	VFMADD213PS  Z25, Z6, Z7   \
	VFMADD231PS  Z7, Z6, Z9

// func addUnit(dstRe, dstIm, re, im *float32, vectors int, copies float32)
TEXT ·addUnit(SB), NOSPLIT, $0-44
	MOVQ         dstRe+0(FP), DI
	MOVQ         dstIm+8(FP), BX
	MOVQ         re+16(FP), SI
	MOVQ         im+24(FP), DX
	MOVQ         vectors+32(FP), CX
	VBROADCASTSS copies+40(FP), Z31
	BROADCAST(0x00800000, Z28) // 2^-126
	BROADCAST(0x3fc00000, Z27) // 3/2
	BROADCAST(0x3f000000, Z26) // 1/2
	BROADCAST(0x3daaaaab, Z25) // 1/12
	BROADCAST(0x3c360b61, Z24) // 1/90
	BROADCAST(0x3f800000, Z23) // 1

next:
	UNIT(0, Z0, Z1)
	UNIT(-4, Z2, Z3)
	UNIT(4, Z4, Z5)
	VPXORD      Z9, Z9, Z9
	SHORTFALL(Z2, Z3)
	SHORTFALL(Z4, Z5)
	VFMADD213PS Z23, Z26, Z9
	VMULPS      Z31, Z9, Z9
	VMOVUPS     (DI), Z2
	VMOVUPS     (BX), Z3
	VFMADD231PS Z9, Z0, Z2
	VFMADD231PS Z9, Z1, Z3
	VMOVUPS     Z2, (DI)
	VMOVUPS     Z3, (BX)
	ADDQ        $64, SI
	ADDQ        $64, DX
	ADDQ        $64, DI
	ADDQ        $64, BX
	DECQ        CX
	JNZ         next
	VZEROUPPER
	RET

// TERM does a step of Horner's scheme for the phase in Z4, with the square in Z3.
#define TERM(coefficient) \
	VFMADD213PS coefficient, Z3, Z4

// func phases(dst, re, im *float32, vectors int)
TEXT ·phases(SB), NOSPLIT, $0-32
	MOVQ dst+0(FP), DI
	MOVQ re+8(FP), SI
	MOVQ im+16(FP), DX
	MOVQ vectors+24(FP), CX
	LEAQ ·arcTangent(SB), BX
	VBROADCASTSS (BX), Z16
	VBROADCASTSS 4(BX), Z17
	VBROADCASTSS 8(BX), Z18
	VBROADCASTSS 12(BX), Z19
	VBROADCASTSS 16(BX), Z20
	VBROADCASTSS 20(BX), Z21
	VBROADCASTSS 24(BX), Z22
	VBROADCASTSS 28(BX), Z23
	VBROADCASTSS 32(BX), Z24
	BROADCAST(0x7fffffff, Z25)
	BROADCAST(0x80000000, Z26)
	BROADCAST(0x20000000, Z27) // 2^-63
	BROADCAST(0x3fc90fdb, Z28) // π/2
	BROADCAST(0x40490fdb, Z29) // π

next:
	VMOVUPS     (SI), Z0
	VMOVUPS     (DX), Z1
	VPANDD      Z25, Z0, Z5
	VPANDD      Z25, Z1, Z6
	VMINPS      Z6, Z5, Z2
	VMAXPS      Z6, Z5, Z7
	VCMPPS      $0x1d, Z27, Z7, K1 // the sample has a phase
	VDIVPS.Z    Z7, Z2, K1, Z2
	VMULPS      Z2, Z2, Z3
	VMOVAPS     Z16, Z4
	TERM(Z17)
	TERM(Z18)
	TERM(Z19)
	TERM(Z20)
	TERM(Z21)
	TERM(Z22)
	TERM(Z23)
	TERM(Z24)
	VMULPS      Z2, Z4, Z4
	VCMPPS      $0x1e, Z5, Z6, K2  // |im| > |re|
	VSUBPS      Z4, Z28, K2, Z4
	VPMOVD2M    Z0, K3             // re < 0
	VSUBPS      Z4, Z29, K3, Z4
	VPANDD      Z26, Z1, Z1
	VPORD.Z     Z1, Z4, K1, Z4
	VMOVUPS     Z4, (DI)
	ADDQ        $64, SI
	ADDQ        $64, DX
	ADDQ        $64, DI
	DECQ        CX
	JNZ         next
	VZEROUPPER
	RET

// ARC adds the squared angle from Z0 to the phase in Z1 to Z10, the kinks at ±π to Z11, and the errors
// of the distance to Z12. It changes Z2 to Z6, K1 and K2.
#define ARC \
	VSUBPS       Z0, Z1, Z2            \
	VPANDD       Z25, Z2, Z2           \
	VPANDD       Z25, Z0, Z3           \
	VPANDD       Z25, Z1, Z4           \
	VCMPPS       $0x1e, Z29, Z2, K1    \
	VSUBPS       Z2, Z30, K1, Z2       \
	VSUBPS       Z3, Z29, K1, Z3       \
	VSUBPS       Z4, Z29, K1, Z4       \
	VFMADD231PS  Z2, Z2, Z10           \
	VPXORD       Z0, Z1, Z5            \
	VPMOVD2M     Z5, K2                \
	VMAXPS       Z27, Z2, Z2           \
	VMULPS       Z3, Z4, Z6            \
	VDIVPS.Z     Z2, Z6, K2, Z6        \
	VADDPS       Z6, Z11, K1, Z11      \
	VSUBPS       Z6, Z12, Z12          \
	VADDPS       Z6, Z12, K1, Z12      \
	VADDPS       Z6, Z12, K1, Z12

// func addMoments(phase, square, signs, distances, src, re, im *float32, vectors int, copies float32)
TEXT ·addMoments(SB), NOSPLIT, $0-68
	MOVQ         phase+0(FP), DI
	MOVQ         square+8(FP), BX
	MOVQ         signs+16(FP), R8
	MOVQ         distances+24(FP), R9
	MOVQ         src+32(FP), R10
	MOVQ         re+40(FP), SI
	MOVQ         im+48(FP), DX
	MOVQ         vectors+56(FP), CX
	VBROADCASTSS copies+64(FP), Z31
	BROADCAST(0x40c90fdb, Z30) // 2π
	BROADCAST(0x40490fdb, Z29) // π
	BROADCAST(0x3fc90fdb, Z28) // π/2
	BROADCAST(0x20000000, Z27) // 2^-63
	BROADCAST(0x80000000, Z26)
	BROADCAST(0x7fffffff, Z25)
	BROADCAST(0x3daaaaab, Z24) // 1/12
	BROADCAST(0x3f000000, Z23) // 1/2
	BROADCAST(0x40528d33, Z22) // π²/3
	BROADCAST(0x3f800000, Z21) // 1
	VPXORD       Z20, Z20, Z20

next:
	VMOVUPS      (R10), Z0
	VPXORD       Z10, Z10, Z10
	VPXORD       Z11, Z11, Z11
	VPXORD       Z12, Z12, Z12
	VMOVUPS      -4(R10), Z1
	ARC
	VMOVUPS      4(R10), Z1
	ARC
	VMOVUPS      (SI), Z3
	VMOVUPS      (DX), Z4
	VPANDD       Z25, Z3, Z3
	VPANDD       Z25, Z4, Z4
	VMAXPS       Z4, Z3, Z3
	VCMPPS       $0x11, Z27, Z3, K3  // no phase
	VMULPS       Z0, Z0, Z5
	VMOVAPS      Z22, K3, Z5
	VFNMADD231PS Z24, Z10, Z5
	VFMADD231PS  Z29, Z11, Z5
	VMOVUPS      (DI), Z6
	VFMADD231PS  Z31, Z0, Z6
	VMOVUPS      Z6, (DI)
	VMOVUPS      (BX), Z6
	VFMADD231PS  Z31, Z5, Z6
	VMOVUPS      Z6, (BX)
	TESTQ        R8, R8
	JZ           single
	VPANDD       Z25, Z0, Z5
	VMOVAPS      Z28, K3, Z5
	VFMADD231PS  Z23, Z12, Z5
	VMOVUPS      (R9), Z6
	VFMADD231PS  Z31, Z5, Z6
	VMOVUPS      Z6, (R9)
	VCMPPS       $0x04, Z20, Z0, K2  // not 0
	VPANDD       Z26, Z0, Z5
	VPORD.Z      Z21, Z5, K2, Z5
	VMOVUPS      (R8), Z6
	VFMADD231PS  Z31, Z5, Z6
	VMOVUPS      Z6, (R8)
	ADDQ         $64, R8
	ADDQ         $64, R9

single:
	ADDQ         $64, R10
	ADDQ         $64, SI
	ADDQ         $64, DX
	ADDQ         $64, DI
	ADDQ         $64, BX
	DECQ         CX
	JNZ          next
	VZEROUPPER
	RET

// BROADCAST64 fills dst with 64 bits. It changes AX.
#define BROADCAST64(bits, dst) \
	MOVQ         $bits, AX \
	VPBROADCASTQ AX, dst

// MEANS sets re and im to the real and the imaginary parts of the 8 sums at place, times Z31.
#define MEANS(place, re, im, narrow, narrowIm) \
	VMOVDQU64 (place), re      \
	VPSRLQ    $32, re, im      \
	VPMOVQD   re, narrow       \
	VPMOVQD   im, narrowIm     \
	VCVTPS2PD narrow, re       \
	VCVTPS2PD narrowIm, im     \
	VMULPD    Z31, re, re      \
	VMULPD    Z31, im, im

// func phaseCoherences(dst *float32, moments, auxiliary *complex64, vectors int, share, slope float64)
TEXT ·phaseCoherences(SB), NOSPLIT, $0-48
	MOVQ         dst+0(FP), DI
	MOVQ         moments+8(FP), SI
	MOVQ         auxiliary+16(FP), DX
	MOVQ         vectors+24(FP), CX
	VBROADCASTSD share+32(FP), Z31
	VBROADCASTSD slope+40(FP), Z30
	BROADCAST64(0x400921fb54442d18, Z29) // π
	BROADCAST64(0x401921fb54442d18, Z28) // 2π
	BROADCAST64(0x4023bd3cc9be45de, Z27) // π²
	BROADCAST64(0x3ff0000000000000, Z26) // 1
	VPXORQ       Z25, Z25, Z25

next:
	MEANS(SI, Z0, Z1, Y2, Y3)   // of φ and φ²
	VMULPD    Z0, Z0, Z2
	VSUBPD    Z2, Z1, Z2
	TESTQ     DX, DX
	JZ        single
	MEANS(DX, Z3, Z4, Y5, Y6)   // of sign φ and |φ|
	VMULPD    Z29, Z3, Z3
	VSUBPD    Z3, Z0, Z3
	VMULPD    Z3, Z3, Z3
	VMULPD    Z28, Z4, Z4
	VSUBPD    Z4, Z1, Z4
	VADDPD    Z27, Z4, Z4
	VSUBPD    Z3, Z4, Z4
	VMINPD    Z4, Z2, Z2
	ADDQ      $64, DX

single:
	VMAXPD    Z25, Z2, Z2
	VSQRTPD   Z2, Z2
	VMULPD    Z30, Z2, Z2
	VSUBPD    Z2, Z26, Z2
	VMAXPD    Z25, Z2, Z2
	VCVTPD2PS Z2, Y2
	VMOVUPS   Y2, (DI)
	ADDQ      $64, SI
	ADDQ      $32, DI
	DECQ      CX
	JNZ       next
	VZEROUPPER
	RET
