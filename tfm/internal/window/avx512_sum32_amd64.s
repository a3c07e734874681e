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
	LOAD_WINDOW                   \
	SHLQ    $7, AX           \
	HALF((R9)(AX*1), Z20, Z0, Z2, Z4, Z6) \
	HALF(64(R9)(AX*1), Z21, Z1, Z3, Z5, Z7)

// LOOKUP_SPLIT does an entry with a window for each half.
#define LOOKUP_SPLIT \
	MOVLQSX (R11)(AX*8), SI  \
	LEAQ    (DX)(SI*4), SI   \
	ADDQ    R12, SI          \
	LOAD_WINDOW                   \
	MOVLQSX 4(R11)(AX*8), SI \
	LEAQ    (DX)(SI*4), SI   \
	ADDQ    R10, SI          \
	SHLQ    $7, AX           \
	HALF((R9)(AX*1), Z20, Z0, Z2, Z4, Z6) \
	LOAD_WINDOW                   \
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
