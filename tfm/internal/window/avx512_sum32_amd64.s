// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "go_asm.h"
#include "textflag.h"
#include "run_amd64.h"

// The upper 9 bits of the sum of two offsets are the index into a window of 32 samples, which fills
// two registers. The lower 23 bits are the fraction. With the exponent of the number 1 they are a
// float32 from 1 to 2. Z20 and Z21 hold the transmitter's offsets of the left and the right half.

// Z16 selects the fraction. Z17 is 1.0. Z18 is the integer 1.
#define CONSTANTS \
	BROADCAST(0x007fffff, Z16) \
	BROADCAST(0x3f800000, Z17) \
	BROADCAST(1, Z18)

// Z0 to Z3 sum the products of first samples, and start from the accumulators. Z4 to Z7 sum the
// products of second samples, and start from zero. With twice as many sums an addition waits less
// for the one before.
#define START \
	ACCUMULATORS            \
	VMOVUPS (SI), Z0        \
	VMOVUPS 64(SI), Z1      \
	VMOVUPS 128(SI), Z2     \
	VMOVUPS 192(SI), Z3     \
	VPXORD  Z4, Z4, Z4      \
	VPXORD  Z5, Z5, Z5      \
	VPXORD  Z6, Z6, Z6      \
	VPXORD  Z7, Z7, Z7

#define FLUSH \
	ACCUMULATORS            \
	VADDPS  Z4, Z0, Z0      \
	VADDPS  Z5, Z1, Z1      \
	VADDPS  Z6, Z2, Z2      \
	VADDPS  Z7, Z3, Z3      \
	VMOVUPS Z0, (SI)        \
	VMOVUPS Z1, 64(SI)      \
	VMOVUPS Z2, 128(SI)     \
	VMOVUPS Z3, 192(SI)

// LOAD_WINDOW loads the window at SI: real parts to Z8 and Z9, imaginary parts to Z10 and Z11.
#define LOAD_WINDOW \
	VMOVUPS (SI), Z8           \
	VMOVUPS 64(SI), Z9         \
	VMOVUPS (SI)(R13*1), Z10   \
	VMOVUPS 64(SI)(R13*1), Z11

// HALF looks up 16 pixels. Z13 and Z14 become the indices of the first and the second sample, Z15
// and Z12 the weights of these samples. VPERMI2PS replaces indices by samples. The truth table 0xea
// is (Z12 & Z16) | Z17.
#define HALF(rx, tx, re, im, re2, im2) \
	VPADDD      rx, tx, Z12          \
	VPSRLD      $23, Z12, Z13        \
	VPADDD      Z13, Z18, Z14        \
	VPTERNLOGD  $0xea, Z17, Z16, Z12 \
	VSUBPS      Z17, Z12, Z12        \
	VSUBPS      Z12, Z17, Z15        \
	VMOVDQA64   Z13, Z19             \
	VMOVDQA64   Z14, Z22             \
	VPERMI2PS   Z9, Z8, Z13          \
	VPERMI2PS   Z9, Z8, Z14          \
	VPERMI2PS   Z11, Z10, Z19        \
	VPERMI2PS   Z11, Z10, Z22        \
	VFMADD231PS Z13, Z15, re         \
	VFMADD231PS Z19, Z15, im         \
	VFMADD231PS Z14, Z12, re2        \
	VFMADD231PS Z22, Z12, im2

// LOOKUP does an entry with one window for both halves.
#define LOOKUP \
	MOVLQSX (R11)(AX*8), SI  \
	ADDQ    R12, DX          \
	LEAQ    (DX)(SI*4), SI   \
	LOAD_WINDOW              \
	SHLQ    $7, AX           \
	HALF((R9)(AX*1), Z20, Z0, Z2, Z4, Z6) \
	HALF(64(R9)(AX*1), Z21, Z1, Z3, Z5, Z7)

// LOOKUP_SPLIT does an entry with a window for each half.
#define LOOKUP_SPLIT \
	MOVLQSX (R11)(AX*8), SI  \
	LEAQ    (DX)(SI*4), SI   \
	ADDQ    R12, SI          \
	LOAD_WINDOW              \
	MOVLQSX 4(R11)(AX*8), SI \
	LEAQ    (DX)(SI*4), SI   \
	ADDQ    R10, SI          \
	SHLQ    $7, AX           \
	HALF((R9)(AX*1), Z20, Z0, Z2, Z4, Z6) \
	LOAD_WINDOW              \
	HALF(64(R9)(AX*1), Z21, Z1, Z3, Z5, Z7)

// KERNEL sums a run, whose segments have one transmitter each.
#define KERNEL(lookup) \
	LOAD_RUN                        \
	CONSTANTS                       \
block:                              \
	START                           \
	LOAD_SEGMENTS                   \
segment:                            \
	NEXT_SEGMENT(2)                 \
	SHLQ $7, AX                     \
	VMOVDQU64 (R8)(AX*1), Z20       \
	VMOVDQU64 64(R8)(AX*1), Z21     \
entry:                              \
	NEXT_ENTRY                      \
	lookup                          \
	DECQ R14                        \
	JNZ  entry                      \
	DECQ CX                         \
	JNZ  segment                    \
	FLUSH                           \
	NEXT_BLOCK                      \
	JNZ  block                      \
	VZEROUPPER                      \
	RET

// func joint32AVX512(r *Run)
TEXT ·joint32AVX512(SB), NOSPLIT, $0-8
	KERNEL(LOOKUP)

// func split32AVX512(r *Run)
TEXT ·split32AVX512(SB), NOSPLIT, $0-8
	KERNEL(LOOKUP_SPLIT)

// Further layers have 16 bits. VPERMW takes half of the time of VPERMI2PS, and fetches both neighbours.
// Z24 to Z27 are the sums of the first of these layers, Z28 to Z31 of the second, as in
// avx512_sum16_amd64.s. R8 and BP are where the windows of the left and of the right half begin in the
// trace of line 0, before the receiver's base is added.

DATA round<>+0(SB)/4, $0x00000800 // half of the last bit of 11 bits of fraction
GLOBL round<>(SB), RODATA|NOPTR, $4
DATA fractions<>+0(SB)/4, $0x07ff07ff
GLOBL fractions<>(SB), RODATA|NOPTR, $4
DATA ones<>+0(SB)/4, $0x00010001
GLOBL ones<>(SB), RODATA|NOPTR, $4

// NARROW_WINDOWS sets narrow from wide, where the windows of the first layer begin.
#define NARROW_WINDOWS(wide, narrow) \
	MOVQ Run_Traces(DI), narrow       \
	ADDQ wide, narrow                 \
	SHRQ $1, narrow                   \
	LEAQ (narrow)(R13*2), narrow

// NARROW rounds the sums of the offsets of receiver AX to 11 bits of fraction. A row of 8 pixels then
// fills 128 bits. It sets Z14 and Z15 to the indices of both samples, and Z12 and Z13 to their weights,
// of the left and the right half.
#define NARROW \
	MOVQ        AX, SI                    \
	SHLQ        $7, SI                    \
	VPADDD      (R9)(SI*1), Z20, Z8       \
	VPADDD      64(R9)(SI*1), Z21, Z9     \
	VPADDD.BCST round<>(SB), Z8, Z8       \
	VPADDD.BCST round<>(SB), Z9, Z9       \
	VPSRLD      $12, Z8, Z8               \
	VPSRLD      $12, Z9, Z9               \
	VPACKUSDW   Z9, Z8, Z8                \
	VPSRLW      $11, Z8, Z10              \
	VPADDD.BCST ones<>(SB), Z10, Z11      \
	VPANDD.BCST fractions<>(SB), Z8, Z9   \
	VPANDND.BCST fractions<>(SB), Z8, Z8  \
	VPADDD.BCST ones<>(SB), Z8, Z8        \
	VPUNPCKLWD  Z11, Z10, Z14             \
	VPUNPCKHWD  Z11, Z10, Z15             \
	VPUNPCKLWD  Z9, Z8, Z12               \
	VPUNPCKHWD  Z9, Z8, Z13

// DOTS adds the products of samples and weights to the sums a to d.
#define DOTS(a, b, c, d) \
	VPDPWSSD Z10, Z12, a \
	VPDPWSSD Z22, Z13, b \
	VPDPWSSD Z11, Z12, c \
	VPDPWSSD Z23, Z13, d

// DOTS_IN_TWO does what DOTS does, for processors without VPDPWSSD.
#define DOTS_IN_TWO(a, b, c, d) \
	VPMADDWD Z10, Z12, Z10 \
	VPMADDWD Z22, Z13, Z22 \
	VPMADDWD Z11, Z12, Z11 \
	VPMADDWD Z23, Z13, Z23 \
	VPADDD   Z10, a, a     \
	VPADDD   Z22, b, b     \
	VPADDD   Z11, c, c     \
	VPADDD   Z23, d, d

// PICK sets Z10 and Z11 to the samples of the left half, from its window in Z8 and Z9. It sets Z22 and
// Z23 to the samples of the right half, from its window in re and im.
#define PICK(re, im) \
	VPERMW re, Z15, Z22 \
	VPERMW im, Z15, Z23 \
	VPERMW Z8, Z14, Z10 \
	VPERMW Z9, Z14, Z11

// LAYER looks up the layer that begins skip(DI) bytes behind the first one of 16 bits.
#define LAYER(skip, dots, a, b, c, d) \
	MOVLQSX   (R11)(AX*8), SI  \
	LEAQ      (DX)(SI*2), SI   \
	ADDQ      R8, SI           \
	skip                       \
	VMOVDQU64 (SI), Z8         \
	VMOVDQU64 (SI)(R13*1), Z9  \
	PICK(Z8, Z9)               \
	dots(a, b, c, d)

#define LAYER_SPLIT(skip, dots, a, b, c, d) \
	MOVLQSX   (R11)(AX*8), SI   \
	LEAQ      (DX)(SI*2), SI    \
	ADDQ      R8, SI            \
	skip                        \
	VMOVDQU64 (SI), Z8          \
	VMOVDQU64 (SI)(R13*1), Z9   \
	MOVLQSX   4(R11)(AX*8), SI  \
	LEAQ      (DX)(SI*2), SI    \
	ADDQ      BP, SI            \
	skip                        \
	VMOVDQU64 (SI), Z10         \
	VMOVDQU64 (SI)(R13*1), Z11  \
	PICK(Z10, Z11)              \
	dots(a, b, c, d)

#define FIRST

#define SECOND \
	ADDQ Run_Narrow(DI), SI

#define ONE_MORE(layer, dots) \
	NARROW                                       \
	layer(FIRST, dots, Z24, Z25, Z26, Z27)

#define TWO_MORE(layer, dots) \
	ONE_MORE(layer, dots)                        \
	layer(SECOND, dots, Z28, Z29, Z30, Z31)

#define START_LAYER(a, b, c, d) \
	VPXORD a, a, a \
	VPXORD b, b, b \
	VPXORD c, c, c \
	VPXORD d, d, d

#define START_TWO \
	START                           \
	START_LAYER(Z24, Z25, Z26, Z27)

#define START_THREE \
	START_TWO                       \
	START_LAYER(Z28, Z29, Z30, Z31)

#define FLUSH_TWO \
	FLUSH                           \
	NEXT_ACCUMULATORS               \
	FLUSH_LAYER(Z24, Z25, Z26, Z27)

#define FLUSH_THREE \
	FLUSH_TWO                       \
	NEXT_ACCUMULATORS               \
	FLUSH_LAYER(Z28, Z29, Z30, Z31)

// KERNEL_OF_LAYERS sums a run of several layers. start, more and flush are for the same number of
// layers, lookup and layer for the same kind of block.
#define KERNEL_OF_LAYERS(lookup, layer, dots, start, more, flush) \
	LOAD_RUN                        \
	CONSTANTS                       \
block:                              \
	start                           \
	LOAD_SEGMENTS                   \
segment:                            \
	NEXT_SEGMENT(2)                 \
	SHLQ $7, AX                     \
	VMOVDQU64 (R8)(AX*1), Z20       \
	VMOVDQU64 64(R8)(AX*1), Z21     \
	NARROW_WINDOWS(R12, R8)         \
	NARROW_WINDOWS(R10, BP)         \
entry:                              \
	NEXT_ENTRY                      \
	more(layer, dots)               \
	lookup                          \
	DECQ R14                        \
	JNZ  entry                      \
	DECQ CX                         \
	JNZ  segment                    \
	flush                           \
	NEXT_BLOCK                      \
	JNZ  block                      \
	VZEROUPPER                      \
	RET

// func jointTwo32VNNI(r *Run)
TEXT ·jointTwo32VNNI(SB), NOSPLIT, $8-8
	KERNEL_OF_LAYERS(LOOKUP, LAYER, DOTS, START_TWO, ONE_MORE, FLUSH_TWO)

// func splitTwo32VNNI(r *Run)
TEXT ·splitTwo32VNNI(SB), NOSPLIT, $8-8
	KERNEL_OF_LAYERS(LOOKUP_SPLIT, LAYER_SPLIT, DOTS, START_TWO, ONE_MORE, FLUSH_TWO)

// func jointTwo32AVX512(r *Run)
TEXT ·jointTwo32AVX512(SB), NOSPLIT, $8-8
	KERNEL_OF_LAYERS(LOOKUP, LAYER, DOTS_IN_TWO, START_TWO, ONE_MORE, FLUSH_TWO)

// func splitTwo32AVX512(r *Run)
TEXT ·splitTwo32AVX512(SB), NOSPLIT, $8-8
	KERNEL_OF_LAYERS(LOOKUP_SPLIT, LAYER_SPLIT, DOTS_IN_TWO, START_TWO, ONE_MORE, FLUSH_TWO)

// func jointThree32VNNI(r *Run)
TEXT ·jointThree32VNNI(SB), NOSPLIT, $8-8
	KERNEL_OF_LAYERS(LOOKUP, LAYER, DOTS, START_THREE, TWO_MORE, FLUSH_THREE)

// func splitThree32VNNI(r *Run)
TEXT ·splitThree32VNNI(SB), NOSPLIT, $8-8
	KERNEL_OF_LAYERS(LOOKUP_SPLIT, LAYER_SPLIT, DOTS, START_THREE, TWO_MORE, FLUSH_THREE)

// func jointThree32AVX512(r *Run)
TEXT ·jointThree32AVX512(SB), NOSPLIT, $8-8
	KERNEL_OF_LAYERS(LOOKUP, LAYER, DOTS_IN_TWO, START_THREE, TWO_MORE, FLUSH_THREE)

// func splitThree32AVX512(r *Run)
TEXT ·splitThree32AVX512(SB), NOSPLIT, $8-8
	KERNEL_OF_LAYERS(LOOKUP_SPLIT, LAYER_SPLIT, DOTS_IN_TWO, START_THREE, TWO_MORE, FLUSH_THREE)
