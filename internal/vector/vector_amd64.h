// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// The functions of the type assembly, for vectors of WIDTH bytes. The files that include this one
// say which registers V0 to V15 stand for, and what each function is called.

// All bits of a float32 but the sign.
DATA magnitude<>+0(SB)/4, $0x7fffffff
GLOBL magnitude<>(SB), RODATA|NOPTR, $4

// Integers of 16 bits, all 1.
DATA ones16<>+0(SB)/4, $0x00010001
GLOBL ones16<>(SB), RODATA|NOPTR, $4

// FOLD_INTS applies an operation to all integers of 16 bits in Y0. The result is in the low bits of
// AX. The macro changes X0 and X1.
#define FOLD_INTS(operation) \
	VEXTRACTI128 $1, Y0, X1     \
	operation    X1, X0, X0     \
	VPSHUFD      $0x4e, X0, X1  \
	operation    X1, X0, X0     \
	VPSHUFD      $0xb1, X0, X1  \
	operation    X1, X0, X0     \
	VPSHUFLW     $0xb1, X0, X1  \
	operation    X1, X0, X0     \
	VMOVD        X0, AX

// ADD_LANES adds all numbers of 64 bits in V0 to V3. The result is in X0.
#define ADD_LANES \
	VADDPD       V1, V0, V0     \
	VADDPD       V3, V2, V2     \
	VADDPD       V2, V0, V0     \
	FOLD(VADDPD)                \
	VEXTRACTF128 $1, Y0, X1     \
	VADDPD       X1, X0, X0     \
	VHADDPD      X0, X0, X0

// LARGEST_LANE finds the largest integer of 32 bits in V0. The result is in X0.
#define LARGEST_LANE \
	FOLD(VPMAXUD)               \
	VEXTRACTI128 $1, Y0, X1     \
	VPMAXUD      X1, X0, X0     \
	VPSHUFD      $0x4e, X0, X1  \
	VPMAXUD      X1, X0, X0     \
	VPSHUFD      $0xb1, X0, X1  \
	VPMAXUD      X1, X0, X0

// func sum(src *float32, n int) float64
//
// Two vectors a turn, widened to float64 and added in four registers.
TEXT SUM(SB), NOSPLIT, $0-24
	MOVQ   src+0(FP), SI
	MOVQ   n+8(FP), CX
	VXORPS V0, V0, V0
	VXORPS V1, V1, V1
	VXORPS V2, V2, V2
	VXORPS V3, V3, V3

next:
	VCVTPS2PD    (SI), V4
	VCVTPS2PD    (WIDTH/2)(SI), V5
	VCVTPS2PD    WIDTH(SI), V6
	VCVTPS2PD    (3*WIDTH/2)(SI), V7
	VADDPD       V4, V0, V0
	VADDPD       V5, V1, V1
	VADDPD       V6, V2, V2
	VADDPD       V7, V3, V3
	ADDQ         $(2*WIDTH), SI
	SUBQ         $(2*WIDTH/4), CX
	JNZ          next
	ADD_LANES
	VMOVSD       X0, ret+16(FP)
	VZEROUPPER
	RET

// func load(dst, src *float32, n int, weight float32) (sum float64, peak float32)
//
// As sum and peak, from what has just been written.
TEXT LOAD(SB), NOSPLIT, $0-44
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         n+16(FP), CX
	VBROADCASTSS weight+24(FP), V15
	VBROADCASTSS magnitude<>(SB), V14
	VXORPS       V0, V0, V0
	VXORPS       V1, V1, V1
	VXORPS       V2, V2, V2
	VXORPS       V3, V3, V3
	VXORPS       V8, V8, V8

next:
	VMULPS       (SI), V15, V9
	VMULPS       WIDTH(SI), V15, V10
	VMOVUPS      V9, (DI)
	VMOVUPS      V10, WIDTH(DI)
	VANDPS       V9, V14, V9
	VANDPS       V10, V14, V10
	VPMAXUD      V9, V8, V8
	VPMAXUD      V10, V8, V8
	VCVTPS2PD    (DI), V4
	VCVTPS2PD    (WIDTH/2)(DI), V5
	VCVTPS2PD    WIDTH(DI), V6
	VCVTPS2PD    (3*WIDTH/2)(DI), V7
	VADDPD       V4, V0, V0
	VADDPD       V5, V1, V1
	VADDPD       V6, V2, V2
	VADDPD       V7, V3, V3
	ADDQ         $(2*WIDTH), SI
	ADDQ         $(2*WIDTH), DI
	SUBQ         $(2*WIDTH/4), CX
	JNZ          next
	ADD_LANES
	VMOVSD       X0, sum+32(FP)
	VMOVUPS      V8, V0
	LARGEST_LANE
	VMOVSS       X0, peak+40(FP)
	VZEROUPPER
	RET

// func sumInt16(src *int16, n int) int32
//
// Each product with 1 adds two neighbours.
TEXT SUM_INT16(SB), NOSPLIT, $0-20
	MOVQ         src+0(FP), SI
	MOVQ         n+8(FP), CX
	VBROADCASTSS ones16<>(SB), V14
	VXORPS       V0, V0, V0

next:
	VPMADDWD     (SI), V14, V1
	VPADDD       V1, V0, V0
	ADDQ         $WIDTH, SI
	SUBQ         $(WIDTH/2), CX
	JNZ          next
	FOLD(VPADDD)
	VEXTRACTI128 $1, Y0, X1
	VPADDD       X1, X0, X0
	VPSHUFD      $0x4e, X0, X1
	VPADDD       X1, X0, X0
	VPSHUFD      $0xb1, X0, X1
	VPADDD       X1, X0, X0
	VMOVSS       X0, ret+16(FP)
	VZEROUPPER
	RET

// func rangeInt16(src *int16, n int) (least, most int16)
//
// V0 holds the least integer of each lane, and V2 the largest. Both are folded one after the other.
TEXT RANGE_INT16(SB), NOSPLIT, $0-20
	MOVQ    src+0(FP), SI
	MOVQ    n+8(FP), CX
	VMOVUPS (SI), V0
	VMOVUPS (SI), V2

next:
	VPMINSW      (SI), V0, V0
	VPMAXSW      (SI), V2, V2
	ADDQ         $WIDTH, SI
	SUBQ         $(WIDTH/2), CX
	JNZ          next
	FOLD(VPMINSW)
	FOLD_INTS(VPMINSW)
	MOVW         AX, least+16(FP)
	VMOVUPS      V2, V0
	FOLD(VPMAXSW)
	FOLD_INTS(VPMAXSW)
	MOVW         AX, most+18(FP)
	VZEROUPPER
	RET

// func combine(dst, a, b *int16, n int, weightA, weightB, offset int16, shift uint16)
TEXT COMBINE(SB), NOSPLIT, $0-40
	MOVQ         dst+0(FP), DI
	MOVQ         a+8(FP), SI
	MOVQ         b+16(FP), DX
	MOVQ         n+24(FP), CX
	VPBROADCASTW weightA+32(FP), V8
	VPBROADCASTW weightB+34(FP), V9
	VPBROADCASTW offset+36(FP), V10
	MOVWQZX      shift+38(FP), AX
	VMOVQ        AX, X11

next:
	VPMULLW (SI), V8, V0
	VPMULLW (DX), V9, V1
	VPADDW  V0, V10, V0
	VPADDW  V0, V1, V0
	VPSRAW  X11, V0, V0
	VMOVUPS V0, (DI)
	ADDQ    $WIDTH, SI
	ADDQ    $WIDTH, DX
	ADDQ    $WIDTH, DI
	SUBQ    $(WIDTH/2), CX
	JNZ     next
	VZEROUPPER
	RET

// func setInt16(dst *float32, src *int16, n int, weight, offset float32)
TEXT SET_INT16(SB), NOSPLIT, $0-32
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         n+16(FP), CX
	VBROADCASTSS weight+24(FP), V14
	VBROADCASTSS offset+28(FP), V15

next:
	VPMOVSXWD   (SI), V0
	VCVTDQ2PS   V0, V0
	VMULPS      V14, V0, V0
	VADDPS      V15, V0, V0
	VMOVUPS     V0, (DI)
	ADDQ        $(WIDTH/2), SI
	ADDQ        $WIDTH, DI
	SUBQ        $(WIDTH/4), CX
	JNZ         next
	VZEROUPPER
	RET

// func shift(dst *float32, n int, by float32)
TEXT SHIFT(SB), NOSPLIT, $0-20
	MOVQ         dst+0(FP), DI
	MOVQ         n+8(FP), CX
	VBROADCASTSS by+16(FP), V14

next:
	VADDPS  (DI), V14, V0
	VMOVUPS V0, (DI)
	ADDQ    $WIDTH, DI
	SUBQ    $(WIDTH/4), CX
	JNZ     next
	VZEROUPPER
	RET

// func extend(least, most, src *float32, n int)
//
// Where one operand is NaN, VMINPS and VMAXPS give the first operand: least and most.
TEXT EXTEND(SB), NOSPLIT, $0-32
	MOVQ least+0(FP), DI
	MOVQ most+8(FP), DX
	MOVQ src+16(FP), SI
	MOVQ n+24(FP), CX

next:
	VMOVUPS (SI), V0
	VMINPS  (DI), V0, V1
	VMAXPS  (DX), V0, V2
	VMOVUPS V1, (DI)
	VMOVUPS V2, (DX)
	ADDQ    $WIDTH, SI
	ADDQ    $WIDTH, DI
	ADDQ    $WIDTH, DX
	SUBQ    $(WIDTH/4), CX
	JNZ     next
	VZEROUPPER
	RET

// func multiply(dst, weights *float32, n int)
TEXT MULTIPLY(SB), NOSPLIT, $0-24
	MOVQ dst+0(FP), DI
	MOVQ weights+8(FP), SI
	MOVQ n+16(FP), CX

next:
	VMOVUPS (DI), V0
	VMULPS  (SI), V0, V0
	VMOVUPS V0, (DI)
	ADDQ    $WIDTH, SI
	ADDQ    $WIDTH, DI
	SUBQ    $(WIDTH/4), CX
	JNZ     next
	VZEROUPPER
	RET

// func addInt16(dst *float32, src *int16, n int, weight float32)
TEXT ADD_INT16(SB), NOSPLIT, $0-28
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         n+16(FP), CX
	VBROADCASTSS weight+24(FP), V14

next:
	VPMOVSXWD   (SI), V0
	VMOVUPS     (DI), V1
	VCVTDQ2PS   V0, V0
	VFMADD231PS V0, V14, V1
	VMOVUPS     V1, (DI)
	ADDQ        $(WIDTH/2), SI
	ADDQ        $WIDTH, DI
	SUBQ        $(WIDTH/4), CX
	JNZ         next
	VZEROUPPER
	RET

// func addFloat32(dst, src *float32, n int, weight float32)
TEXT ADD_FLOAT32(SB), NOSPLIT, $0-28
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         n+16(FP), CX
	VBROADCASTSS weight+24(FP), V14

next:
	VMOVUPS     (SI), V0
	VMOVUPS     (DI), V1
	VFMADD231PS V0, V14, V1
	VMOVUPS     V1, (DI)
	ADDQ        $WIDTH, SI
	ADDQ        $WIDTH, DI
	SUBQ        $(WIDTH/4), CX
	JNZ         next
	VZEROUPPER
	RET

// func peak(src *float32, n int) float32
//
// Magnitudes are ordered as the integers that have the same bits. The last vector, which overlaps
// the one before, is taken first.
TEXT PEAK(SB), NOSPLIT, $0-20
	MOVQ         src+0(FP), SI
	MOVQ         n+8(FP), CX
	VBROADCASTSS magnitude<>(SB), V14
	VANDPS       (-WIDTH)(SI)(CX*4), V14, V0

next:
	VANDPS       (SI), V14, V1
	VPMAXUD      V1, V0, V0
	ADDQ         $WIDTH, SI
	SUBQ         $(WIDTH/4), CX
	CMPQ         CX, $(WIDTH/4)
	JGE          next
	LARGEST_LANE
	VMOVSS       X0, ret+16(FP)
	VZEROUPPER
	RET

// func pack(dst *int16, src *float32, n int, scale float32)
//
// Two vectors a turn, and at last one.
TEXT PACK(SB), NOSPLIT, $0-28
	MOVQ         dst+0(FP), DI
	MOVQ         src+8(FP), SI
	MOVQ         n+16(FP), CX
	VBROADCASTSS scale+24(FP), V14
	NARROW_INDEX

next:
	SUBQ      $(WIDTH/2), CX
	JLT       last
	VMULPS    (SI), V14, V0
	VMULPS    WIDTH(SI), V14, V1
	VCVTPS2DQ V0, V0
	VCVTPS2DQ V1, V1
	NARROW_TWO
	ADDQ      $(2*WIDTH), SI
	ADDQ      $WIDTH, DI
	JMP       next

last:
	ADDQ      $(WIDTH/2), CX
	JZ        done
	VMULPS    (SI), V14, V0
	VCVTPS2DQ V0, V0
	NARROW

done:
	VZEROUPPER
	RET

// func scale(dst *int16, n int, by float32)
//
// Two vectors a turn, and at last one.
TEXT SCALE(SB), NOSPLIT, $0-20
	MOVQ         dst+0(FP), DI
	MOVQ         n+8(FP), CX
	VBROADCASTSS by+16(FP), V14
	NARROW_INDEX

next:
	SUBQ      $(WIDTH/2), CX
	JLT       last
	VPMOVSXWD (DI), V0
	VPMOVSXWD (WIDTH/2)(DI), V1
	VCVTDQ2PS V0, V0
	VCVTDQ2PS V1, V1
	VMULPS    V0, V14, V0
	VMULPS    V1, V14, V1
	VCVTPS2DQ V0, V0
	VCVTPS2DQ V1, V1
	NARROW_TWO
	ADDQ      $WIDTH, DI
	JMP       next

last:
	ADDQ      $(WIDTH/2), CX
	JZ        done
	VPMOVSXWD (DI), V0
	VCVTDQ2PS V0, V0
	VMULPS    V0, V14, V0
	VCVTPS2DQ V0, V0
	NARROW

done:
	VZEROUPPER
	RET

// func packBytes(low, high *uint8, src *float32, n int, scale float32)
TEXT PACK_BYTES(SB), NOSPLIT, $0-36
	MOVQ         low+0(FP), DI
	MOVQ         high+8(FP), DX
	MOVQ         src+16(FP), SI
	MOVQ         n+24(FP), CX
	VBROADCASTSS scale+32(FP), V14

next:
	VMULPS    (SI), V14, V0
	VMULPS    WIDTH(SI), V14, V1
	VCVTPS2DQ V0, V0
	VCVTPS2DQ V1, V1
	NARROW_BYTES
	ADDQ      $(2*WIDTH), SI
	ADDQ      $(WIDTH/2), DI
	ADDQ      $(WIDTH/2), DX
	SUBQ      $(WIDTH/2), CX
	JNZ       next
	VZEROUPPER
	RET

// func scaleBytes(low, high *uint8, n int, by float32)
TEXT SCALE_BYTES(SB), NOSPLIT, $0-28
	MOVQ         low+0(FP), DI
	MOVQ         high+8(FP), DX
	MOVQ         n+16(FP), CX
	VBROADCASTSS by+24(FP), V14

next:
	WIDEN_BYTES
	VCVTDQ2PS V0, V0
	VCVTDQ2PS V1, V1
	VMULPS    V0, V14, V0
	VMULPS    V1, V14, V1
	VCVTPS2DQ V0, V0
	VCVTPS2DQ V1, V1
	NARROW_BYTES
	ADDQ      $(WIDTH/2), DI
	ADDQ      $(WIDTH/2), DX
	SUBQ      $(WIDTH/2), CX
	JNZ       next
	VZEROUPPER
	RET

// func convolve(dst, x, taps *float32, count, n int)
//
// Eight vectors of outputs a turn.
TEXT CONVOLVE(SB), NOSPLIT, $0-40
	MOVQ dst+0(FP), DI
	MOVQ x+8(FP), DX
	MOVQ n+32(FP), BX

block:
	VXORPS V0, V0, V0
	VXORPS V1, V1, V1
	VXORPS V2, V2, V2
	VXORPS V3, V3, V3
	VXORPS V4, V4, V4
	VXORPS V5, V5, V5
	VXORPS V6, V6, V6
	VXORPS V7, V7, V7
	MOVQ   DX, R8
	MOVQ   taps+16(FP), R9
	MOVQ   count+24(FP), CX

tap:
	VBROADCASTSS (R9), V14
	VFMADD231PS  (R8), V14, V0
	VFMADD231PS  WIDTH(R8), V14, V1
	VFMADD231PS  (2*WIDTH)(R8), V14, V2
	VFMADD231PS  (3*WIDTH)(R8), V14, V3
	VFMADD231PS  (4*WIDTH)(R8), V14, V4
	VFMADD231PS  (5*WIDTH)(R8), V14, V5
	VFMADD231PS  (6*WIDTH)(R8), V14, V6
	VFMADD231PS  (7*WIDTH)(R8), V14, V7
	ADDQ         $4, R8
	ADDQ         $4, R9
	DECQ         CX
	JNZ          tap
	VMOVUPS      V0, (DI)
	VMOVUPS      V1, WIDTH(DI)
	VMOVUPS      V2, (2*WIDTH)(DI)
	VMOVUPS      V3, (3*WIDTH)(DI)
	VMOVUPS      V4, (4*WIDTH)(DI)
	VMOVUPS      V5, (5*WIDTH)(DI)
	VMOVUPS      V6, (6*WIDTH)(DI)
	VMOVUPS      V7, (7*WIDTH)(DI)
	ADDQ         $(8*WIDTH), DX
	ADDQ         $(8*WIDTH), DI
	SUBQ         $(8*WIDTH/4), BX
	JNZ          block
	VZEROUPPER
	RET

// func convolveComplex(re, im, x *float32, taps *complex64, count, n int)
//
// Four vectors of outputs a turn, real parts in V0 to V3 and imaginary parts in V4 to V7.
TEXT CONVOLVE_COMPLEX(SB), NOSPLIT, $0-48
	MOVQ re+0(FP), DI
	MOVQ im+8(FP), SI
	MOVQ x+16(FP), DX
	MOVQ n+40(FP), BX

block:
	VXORPS V0, V0, V0
	VXORPS V1, V1, V1
	VXORPS V2, V2, V2
	VXORPS V3, V3, V3
	VXORPS V4, V4, V4
	VXORPS V5, V5, V5
	VXORPS V6, V6, V6
	VXORPS V7, V7, V7
	MOVQ   DX, R8
	MOVQ   taps+24(FP), R9
	MOVQ   count+32(FP), CX

tap:
	VBROADCASTSS (R9), V14
	VBROADCASTSS 4(R9), V15
	VMOVUPS      (R8), V8
	VMOVUPS      WIDTH(R8), V9
	VMOVUPS      (2*WIDTH)(R8), V10
	VMOVUPS      (3*WIDTH)(R8), V11
	VFMADD231PS  V8, V14, V0
	VFMADD231PS  V9, V14, V1
	VFMADD231PS  V10, V14, V2
	VFMADD231PS  V11, V14, V3
	VFMADD231PS  V8, V15, V4
	VFMADD231PS  V9, V15, V5
	VFMADD231PS  V10, V15, V6
	VFMADD231PS  V11, V15, V7
	ADDQ         $4, R8
	ADDQ         $8, R9
	DECQ         CX
	JNZ          tap
	VMOVUPS      V0, (DI)
	VMOVUPS      V1, WIDTH(DI)
	VMOVUPS      V2, (2*WIDTH)(DI)
	VMOVUPS      V3, (3*WIDTH)(DI)
	VMOVUPS      V4, (SI)
	VMOVUPS      V5, WIDTH(SI)
	VMOVUPS      V6, (2*WIDTH)(SI)
	VMOVUPS      V7, (3*WIDTH)(SI)
	ADDQ         $(4*WIDTH), DX
	ADDQ         $(4*WIDTH), DI
	ADDQ         $(4*WIDTH), SI
	SUBQ         $(4*WIDTH/4), BX
	JNZ          block
	VZEROUPPER
	RET
