// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// The functions of the filters that take pairs of taps (hermitian.go, hermitian16.go), for the same
// vectors as vector_amd64.h.

// TRANSPOSE transposes the 4 × 4 numbers that a, b, c and d hold in each 128 bits. It changes V8 to
// V11.
#define TRANSPOSE(a, b, c, d) \
	VUNPCKLPS b, a, V8   \
	VUNPCKHPS b, a, V9   \
	VUNPCKLPS d, c, V10  \
	VUNPCKHPS d, c, V11  \
	VUNPCKLPD V10, V8, a \
	VUNPCKHPD V10, V8, b \
	VUNPCKLPD V11, V9, c \
	VUNPCKHPD V11, V9, d

// STRIDES turns the stride in R8 into bytes, where a number has 1<<log bytes, and writes 3, 4 and 12
// strides to R9, R10 and R11.
#define STRIDES(log) \
	SHLQ $log, R8       \
	LEAQ (R8)(R8*2), R9 \
	LEAQ (R8*4), R10    \
	LEAQ (R9*4), R11

// func interleave(dst, src *float32, stride, n int)
//
// Four times a turn.
TEXT INTERLEAVE(SB), NOSPLIT, $0-32
	MOVQ dst+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ stride+16(FP), R8
	MOVQ n+24(FP), CX
	STRIDES(2)

next:
	LEAQ    (SI)(R8*1), AX
	LEAQ    (SI)(R8*2), BX
	LEAQ    (SI)(R9*1), DX
	LOAD_QUADS(SI, X0, V0)
	LOAD_QUADS(AX, X1, V1)
	LOAD_QUADS(BX, X2, V2)
	LOAD_QUADS(DX, X3, V3)
	TRANSPOSE(V0, V1, V2, V3)
	VMOVUPS V0, (DI)
	VMOVUPS V1, WIDTH(DI)
	VMOVUPS V2, (2*WIDTH)(DI)
	VMOVUPS V3, (3*WIDTH)(DI)
	ADDQ    $16, SI
	ADDQ    $(4*WIDTH), DI
	SUBQ    $4, CX
	JNZ     next
	VZEROUPPER
	RET

// PAIR adds the pair of samples before and after a time, times the tap in V14 and V15, to the sums of
// that time. It changes V10 and V11.
#define PAIR(before, after, re, im) \
	VADDPS      after, before, V10 \
	VSUBPS      after, before, V11 \
	VFMADD231PS V10, V14, re       \
	VFMADD231PS V11, V15, im

// LOAD_PAIR is PAIR for the samples of time t before R12 and after R13.
#define LOAD_PAIR(t, re, im) \
	VMOVUPS (t*WIDTH)(R12), V8 \
	VMOVUPS (t*WIDTH)(R13), V9 \
	PAIR(V8, V9, re, im)

// WRITE_TIMES writes the sums of four times to DI and SI. It changes AX, BX and CX.
#define WRITE_TIMES \
	TRANSPOSE(V0, V1, V2, V3)     \
	TRANSPOSE(V4, V5, V6, V7)     \
	LEAQ (DI)(R8*1), AX           \
	LEAQ (DI)(R8*2), BX           \
	LEAQ (DI)(R9*1), CX           \
	STORE_QUADS(X0, Y0, V0, DI)   \
	STORE_QUADS(X1, Y1, V1, AX)   \
	STORE_QUADS(X2, Y2, V2, BX)   \
	STORE_QUADS(X3, Y3, V3, CX)   \
	LEAQ (SI)(R8*1), AX           \
	LEAQ (SI)(R8*2), BX           \
	LEAQ (SI)(R9*1), CX           \
	STORE_QUADS(X4, Y4, V4, SI)   \
	STORE_QUADS(X5, Y5, V5, AX)   \
	STORE_QUADS(X6, Y6, V6, BX)   \
	STORE_QUADS(X7, Y7, V7, CX)

// STORE_BOTH stores the numbers of a time in both orders. It changes V8.
#define STORE_BOTH(v, time) \
	VMOVUPS v, (time*2*WIDTH)(DI)            \
	SWAP_PAIRS(v, V8)                        \
	VMOVUPS V8, (time*2*WIDTH+WIDTH)(DI)

// INTERLEAVE_PAIRS interleaves eight samples of each segment as four times: first, first+2, first+4 and
// first+6.
#define INTERLEAVE_PAIRS(first) \
	LEAQ (SI)(R8*1), AX       \
	LEAQ (SI)(R8*2), BX       \
	LEAQ (SI)(R9*1), DX       \
	LOAD_QUADS(SI, X0, V0)    \
	LOAD_QUADS(AX, X1, V1)    \
	LOAD_QUADS(BX, X2, V2)    \
	LOAD_QUADS(DX, X3, V3)    \
	TRANSPOSE(V0, V1, V2, V3) \
	STORE_BOTH(V0, first)     \
	STORE_BOTH(V1, (first+2)) \
	STORE_BOTH(V2, (first+4)) \
	STORE_BOTH(V3, (first+6))

// DOT_IN_TWO adds the products of the integers in a and b to the sums. It changes a.
#define DOT_IN_TWO(a, b, sums) \
	VPMADDWD a, b, a       \
	VPADDD   a, sums, sums

// INT_PAIRS adds two pairs of samples around time t, times the taps in V14 and V15, to the sums of that
// time. It changes V8 to V11.
#define INT_PAIRS(dot, t, re, im) \
	VMOVUPS (t*2*WIDTH)(R13), V8       \
	VMOVUPS (t*2*WIDTH+WIDTH)(R12), V9 \
	VPADDW  V8, V9, V10                \
	VPSUBW  V8, V9, V11                \
	dot(V10, V14, re)                  \
	dot(V11, V15, im)

// SCALE_TIME turns the sums of a time into numbers in the unit of V14.
#define SCALE_TIME(re, im) \
	VCVTDQ2PS re, re      \
	VCVTDQ2PS im, im      \
	VMULPS    V14, re, re \
	VMULPS    V14, im, im

// ONE_BY_ONE stands for many in CONVOLVE_INTS where the loop over two pairs takes all taps.
#define ONE_BY_ONE

// CONVOLVE_INTS is the body of convolveInt16. Four times a turn, real parts in V0 to V3 and imaginary
// parts in V4 to V7. The right sides of two pairs are at R13, the left sides at R12. The macro many may
// take many taps at once, and leaves the rest.
#define CONVOLVE_INTS(dot, many) \
	MOVQ re+0(FP), DI        \
	MOVQ im+8(FP), SI        \
	MOVQ x+16(FP), DX        \
	MOVQ stride+40(FP), R8   \
	STRIDES(2)               \
block:                       \
	MOVQ         taps+24(FP), AX          \
	MOVQ         pairs+32(FP), CX         \
	VBROADCASTSS (AX), V14                \
	VPMADDWD     (DX), V14, V0            \
	VPMADDWD     (2*WIDTH)(DX), V14, V1   \
	VPMADDWD     (4*WIDTH)(DX), V14, V2   \
	VPMADDWD     (6*WIDTH)(DX), V14, V3   \
	VXORPS       V4, V4, V4               \
	VXORPS       V5, V5, V5               \
	VXORPS       V6, V6, V6               \
	VXORPS       V7, V7, V7               \
	LEAQ         (-4*WIDTH)(DX), R12      \
	LEAQ         (2*WIDTH)(DX), R13       \
	ADDQ         $4, AX                   \
	many                                  \
	TESTQ        CX, CX                   \
	JZ           scale                    \
pairs:                                    \
	VBROADCASTSS (AX), V14                \
	VBROADCASTSS 4(AX), V15               \
	INT_PAIRS(dot, 0, V0, V4)             \
	INT_PAIRS(dot, 1, V1, V5)             \
	INT_PAIRS(dot, 2, V2, V6)             \
	INT_PAIRS(dot, 3, V3, V7)             \
	SUBQ         $(4*WIDTH), R12          \
	ADDQ         $(4*WIDTH), R13          \
	ADDQ         $8, AX                   \
	DECQ         CX                       \
	JNZ          pairs                    \
scale:                                    \
	VBROADCASTSS unit+56(FP), V14         \
	SCALE_TIME(V0, V4)                    \
	SCALE_TIME(V1, V5)                    \
	SCALE_TIME(V2, V6)                    \
	SCALE_TIME(V3, V7)                    \
	WRITE_TIMES                           \
	ADDQ $(8*WIDTH), DX                   \
	ADDQ $16, DI                          \
	ADDQ $16, SI                          \
	SUBQ $4, n+48(FP)                     \
	JNZ  block                            \
	VZEROUPPER                            \
	RET

// func convolveHermitian(re, im, x *float32, taps *complex64, half, stride, n int)
//
// Four times a turn, real parts in V0 to V3 and imaginary parts in V4 to V7.
TEXT CONVOLVE_HERMITIAN(SB), NOSPLIT, $0-56
	MOVQ re+0(FP), DI
	MOVQ im+8(FP), SI
	MOVQ x+16(FP), DX
	MOVQ stride+40(FP), R8
	STRIDES(2)

block:
	MOVQ         taps+24(FP), AX
	MOVQ         half+32(FP), CX
	VBROADCASTSS (AX), V14
	VMULPS       (DX), V14, V0
	VMULPS       WIDTH(DX), V14, V1
	VMULPS       (2*WIDTH)(DX), V14, V2
	VMULPS       (3*WIDTH)(DX), V14, V3
	VXORPS       V4, V4, V4
	VXORPS       V5, V5, V5
	VXORPS       V6, V6, V6
	VXORPS       V7, V7, V7
	MOVQ         DX, R12
	MOVQ         DX, R13
	FOUR_TAPS
	TESTQ        CX, CX
	JZ           write

tap:
	ADDQ         $8, AX
	SUBQ         $WIDTH, R12
	ADDQ         $WIDTH, R13
	VBROADCASTSS (AX), V14
	VBROADCASTSS 4(AX), V15
	LOAD_PAIR(0, V0, V4)
	LOAD_PAIR(1, V1, V5)
	LOAD_PAIR(2, V2, V6)
	LOAD_PAIR(3, V3, V7)
	DECQ         CX
	JNZ          tap

write:
	WRITE_TIMES
	ADDQ $(4*WIDTH), DX
	ADDQ $16, DI
	ADDQ $16, SI
	SUBQ $4, n+48(FP)
	JNZ  block
	VZEROUPPER
	RET

// func interleaveInt16(dst, src *int16, stride, n int)
//
// Eight times a turn: the even times, then the odd times, whose numbers of 32 bits begin one sample
// later.
TEXT INTERLEAVE_INT16(SB), NOSPLIT, $0-32
	MOVQ dst+0(FP), DI
	MOVQ src+8(FP), SI
	MOVQ stride+16(FP), R8
	MOVQ n+24(FP), CX
	STRIDES(1)

next:
	INTERLEAVE_PAIRS(0)
	ADDQ $2, SI
	INTERLEAVE_PAIRS(1)
	ADDQ $14, SI
	ADDQ $(16*WIDTH), DI
	SUBQ $8, CX
	JNZ  next
	VZEROUPPER
	RET

// func convolveInt16(re, im *float32, x, taps *int16, pairs, stride, n int, unit float32)
TEXT CONVOLVE_INT16(SB), NOSPLIT, $0-60
	CONVOLVE_INTS(DOT_IN_TWO, ONE_BY_ONE)
