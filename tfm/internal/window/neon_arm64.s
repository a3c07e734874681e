// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "go_asm.h"
#include "textflag.h"

// In 16 bits both halves of a block are looked up at their own bases, so the kernel does joint and
// split blocks alike. The offsets of fields and the sizes of types come from go_asm.h, which the
// compiler writes. Both kernels use the registers alike:
//
//	R0   the run
//	R1   the transmitters' offsets in this block; R2 the receivers' offsets
//	R3   the transmitters' bases in this block; R4 the receivers' bases
//	R5   the distance from real to imaginary parts in bytes
//	R6   the traces
//	R7   counts the blocks down
//	R8   the accumulators of this block
//	R9   the next segment; R10 counts the segments down
//	R11  the next entry; R12 counts the entries of the segment down
//	R13  the offsets of the transmitter
//	R14  R6 plus the transmitter's base: where its window of the left half begins in the trace of
//	     line 0, before the receiver's base is added; R15 the same for the right half
//	R20  the offsets of the receiver
//	R21  the window of real parts; R22 the window of imaginary parts
//	R23  the window of real parts of the right half
//
// R19 and R24 to R26 hold addresses and indices for a short time. V16 to V23 hold the sums of real
// parts, of 4 pixels each. V24 to V31 hold the sums of imaginary parts.
#define LOAD_RUN \
	MOVD r+0(FP), R0           \
	MOVD Run_TxOffsets(R0), R1 \
	MOVD Run_RxOffsets(R0), R2 \
	MOVD Run_TxBases(R0), R3   \
	MOVD Run_RxBases(R0), R4   \
	MOVD Run_Plane(R0), R5     \
	MOVD Run_Traces(R0), R6    \
	MOVD Run_Blocks(R0), R7    \
	MOVD Run_Acc(R0), R8

// LOAD_SEGMENTS begins with the first segment and entry.
#define LOAD_SEGMENTS \
	MOVD Run_Segments(R0), R9 \
	MOVD Run_Count(R0), R10   \
	MOVD Run_Entries(R0), R11

// NEXT_BLOCK goes on to the next block. R7 is 0 if there is none.
#define NEXT_BLOCK \
	MOVD Run_TxOffsetStride(R0), R19 \
	MOVD Run_RxOffsetStride(R0), R24 \
	ADD  R19, R1                     \
	ADD  R24, R2                     \
	MOVD Run_TxBaseStride(R0), R19   \
	MOVD Run_RxBaseStride(R0), R24   \
	ADD  R19, R3                     \
	ADD  R24, R4                     \
	ADD  $(8*const_Pixels), R8       \
	SUB  $1, R7

// BROADCAST32 and BROADCAST16 repeat 32 or 16 bits in all lanes of dst. They change R19.
#define BROADCAST32(bits, dst) \
	MOVD $bits, R19 \
	VDUP R19, dst.S4
#define BROADCAST16(bits, dst) \
	MOVD $bits, R19 \
	VDUP R19, dst.H8

// Instructions that the assembler does not know. Their registers are given by number.

// SMLAL Vd.4S, Vn.4H, Vm.4H adds the products of the lower 4 lanes of 16 bits.
#define SMLAL(m, n, d) WORD $(0x0e608000 | m<<16 | n<<5 | d)

// SMLAL2 Vd.4S, Vn.8H, Vm.8H adds the products of the upper 4 lanes.
#define SMLAL2(m, n, d) WORD $(0x4e608000 | m<<16 | n<<5 | d)

// SCVTF Vd.4S, Vd.4S turns integers into single precision.
#define SCVTF(d) WORD $(0x4e21d800 | d<<5 | d)

// UCVTF Vd.4S, Vd.4S turns unsigned integers into single precision.
#define UCVTF(d) WORD $(0x6e21d800 | d<<5 | d)

// FSUB Vd.4S, Vn.4S, Vm.4S subtracts m from n.
#define FSUB(m, n, d) WORD $(0x4ea0d400 | m<<16 | n<<5 | d)

// LDR Qt, [Xn, Wm, UXTW] loads 128 bits.
#define LDRQ(n, m, t) WORD $(0x3ce04800 | m<<16 | n<<5 | t)

// FADD Vd.4S, Vd.4S, Vm.4S
#define FADD(m, d) WORD $(0x4e20d400 | m<<16 | d<<5 | d)

// ---- 16 bits
//
// A window of 32 samples of 16 bits fills four registers. TBL takes bytes from these 64 bytes by
// their indices. The sum of two offsets is an index of 5 bits and a fraction f of 11 bits.

// SEGMENT16 loads a segment and its transmitter. A sample has 1<<log bytes. The offsets of an
// element have 1<<6 bytes.
#define SEGMENT16 \
	MOVWU Segment_Tx(R9), R19    \
	MOVD  Segment_Count(R9), R12 \
	ADD   $Segment__size, R9     \
	ADD   R19<<6, R1, R13        \
	ADD   R19<<3, R3, R24        \
	MOVW  (R24), R14             \
	MOVW  4(R24), R15            \
	ADD   R14<<1, R6, R14        \
	ADD   R15<<1, R6, R15

// ENTRY16 loads an entry as one word, and sets R21 and R22 to the windows of the left half.
#define ENTRY16 \
	MOVD.P Entry__size(R11), R19    \
	MOVWU  R19, R20                 \
	LSR    $(8*Entry_Line), R19     \
	ADD    R20<<3, R4, R24          \
	ADD    R20<<6, R2, R20          \
	MOVW   (R24), R21               \
	MOVW   4(R24), R23              \
	ADD    R21<<1, R14, R21         \
	ADD    R23<<1, R15, R23         \
	ADD    R19<<const_lineBits, R21 \
	ADD    R19<<const_lineBits, R23 \
	ADD    R5, R21, R22

// RIGHT_HALF sets R21 and R22 to the windows of the right half.
#define RIGHT_HALF \
	MOVD R23, R21 \
	ADD  R5, R21, R22

#define CONSTANTS16 \
	BROADCAST16(0x0100, V5) \
	BROADCAST16(0x0202, V6) \
	BROADCAST16(0x0800, V7)

// START sets the sums to zero.
#define START \
	VEOR V16.B16, V16.B16, V16.B16 \
	VEOR V17.B16, V17.B16, V17.B16 \
	VEOR V18.B16, V18.B16, V18.B16 \
	VEOR V19.B16, V19.B16, V19.B16 \
	VEOR V20.B16, V20.B16, V20.B16 \
	VEOR V21.B16, V21.B16, V21.B16 \
	VEOR V22.B16, V22.B16, V22.B16 \
	VEOR V23.B16, V23.B16, V23.B16 \
	VEOR V24.B16, V24.B16, V24.B16 \
	VEOR V25.B16, V25.B16, V25.B16 \
	VEOR V26.B16, V26.B16, V26.B16 \
	VEOR V27.B16, V27.B16, V27.B16 \
	VEOR V28.B16, V28.B16, V28.B16 \
	VEOR V29.B16, V29.B16, V29.B16 \
	VEOR V30.B16, V30.B16, V30.B16 \
	VEOR V31.B16, V31.B16, V31.B16

// WINDOWS16 loads the windows: real parts to V8 to V11, imaginary parts to V12 to V15.
#define WINDOWS16 \
	VLD1 (R21), [V8.B16, V9.B16, V10.B16, V11.B16] \
	VLD1 (R22), [V12.B16, V13.B16, V14.B16, V15.B16]

#define REAL16(index, dst) VTBL index.B16, [V8.B16, V9.B16, V10.B16, V11.B16], dst.B16
#define IMAGINARY16(index, dst) VTBL index.B16, [V12.B16, V13.B16, V14.B16, V15.B16], dst.B16

// ROWS16 loads the offsets of two rows: transmitter to V0 and V1, receiver to V2 and V3. VLD2 puts
// the left halves of both rows into the first of the two registers, and the right halves into the
// second.
#define ROWS16 \
	VLD2.P 32(R24), [V0.D2, V1.D2] \
	VLD2.P 32(R25), [V2.D2, V3.D2]

// EIGHT16 looks up 8 pixels with the offsets tx and rx, and adds them to the sums re, re+1, im and
// im+1. V1 becomes the weight 2048 - f of the first sample, V0 the weight f of the second sample.
// V2 becomes the indices 2k and 2k + 1 of the bytes of the first sample k. V3 becomes the indices
// of the bytes of the second sample.
#define EIGHT16(tx, rx, re, im) \
	VADD   rx.H8, tx.H8, V0.H8 \
	VUSHR  $11, V0.H8, V2.H8   \
	VSHL   $5, V0.H8, V0.H8    \
	VUSHR  $5, V0.H8, V0.H8    \
	VSUB   V0.H8, V7.H8, V1.H8 \
	VSHL   $1, V2.H8, V2.H8    \
	VSLI   $8, V2.H8, V2.H8    \
	VADD   V5.H8, V2.H8, V2.H8 \
	VADD   V6.H8, V2.H8, V3.H8 \
	REAL16(V2, V4)             \
	SMLAL(1, 4, re)            \
	SMLAL2(1, 4, (re+1))       \
	REAL16(V3, V4)             \
	SMLAL(0, 4, re)            \
	SMLAL2(0, 4, (re+1))       \
	IMAGINARY16(V2, V4)        \
	SMLAL(1, 4, im)            \
	SMLAL2(1, 4, (im+1))       \
	IMAGINARY16(V3, V4)        \
	SMLAL(0, 4, im)            \
	SMLAL2(0, 4, (im+1))

#define HALF16(tx, rx, re, im) \
	MOVD R13, R24           \
	MOVD R20, R25           \
	WINDOWS16               \
	ROWS16                  \
	EIGHT16(tx, rx, re, im) \
	ROWS16                  \
	EIGHT16(tx, rx, (re+2), (im+2))

#define LOOKUP16 \
	HALF16(V0, V2, 16, 24) \
	RIGHT_HALF             \
	HALF16(V1, V3, 20, 28)

// ADD16 adds four sums to 64 bytes of accumulators.
#define ADD16(a, b, c, d) \
	VLD1   (R19), [V0.S4, V1.S4, V2.S4, V3.S4] \
	SCVTF(a)                                   \
	SCVTF(b)                                   \
	SCVTF(c)                                   \
	SCVTF(d)                                   \
	FADD(a, 0)                                 \
	FADD(b, 1)                                 \
	FADD(c, 2)                                 \
	FADD(d, 3)                                 \
	VST1.P [V0.S4, V1.S4, V2.S4, V3.S4], 64(R19)

#define FLUSH16 \
	MOVD R8, R19          \
	ADD16(16, 17, 18, 19) \
	ADD16(20, 21, 22, 23) \
	ADD16(24, 25, 26, 27) \
	ADD16(28, 29, 30, 31)

// func sum16NEON(r *Run)
TEXT ·sum16NEON(SB), NOSPLIT, $0-8
	LOAD_RUN
	CONSTANTS16

block:
	START
	LOAD_SEGMENTS

segment:
	SEGMENT16

entry:
	ENTRY16
	LOOKUP16
	SUB  $1, R12
	CBNZ R12, entry
	SUB  $1, R10
	CBNZ R10, segment
	FLUSH16
	NEXT_BLOCK
	CBNZ R7, block
	RET

// ---- single precision
//
// Samples are interleaved. The upper byte of the sum of two offsets is the index of the first
// sample of the lookup, counted from the sum of the bases. A load of 128 bits fetches this sample
// and the next one. The lower 24 bits of the sum are the fraction f, the weight of the second
// sample. The weight of the first sample is 2^24 - f. So the sums are 2^24 times too large until
// FLUSH32.
//
// Each of V16 to V31 has four sums of a pixel: the products of the first sample, real and
// imaginary, and the products of the second sample. So a run takes the halves of a block in turn.
// In place of the registers above,
//
//	R13      the offsets of the transmitter to the pixels of the half, which V0 to V3 hold
//	R14      R6 plus the transmitter's base
//	R15      the place of the offsets of the half: 0 and then 64
//	R21      the window
//
// V14 is 2^24 - 1 in integers, V15 is 2^24.

#define CONSTANTS32 \
	BROADCAST32(0x00ffffff, V14) \
	BROADCAST32(0x4b800000, V15)

#define SEGMENT32 \
	MOVWU Segment_Tx(R9), R19    \
	MOVD  Segment_Count(R9), R12 \
	ADD   $Segment__size, R9     \
	ADD   R19<<7, R1, R13        \
	ADD   R15, R13               \
	ADD   R19<<2, R3, R24        \
	MOVW  (R24), R14             \
	ADD   R14<<3, R6, R14        \
	VLD1  (R13), [V0.S4, V1.S4, V2.S4, V3.S4]

#define ENTRY32 \
	MOVD.P Entry__size(R11), R19    \
	MOVWU  R19, R20                 \
	LSR    $(8*Entry_Line), R19     \
	ADD    R20<<2, R4, R24          \
	ADD    R20<<7, R2, R20          \
	MOVW   (R24), R21               \
	ADD    R15, R20                 \
	ADD    R21<<3, R14, R21         \
	ADD    R19<<const_lineBits, R21 \
	VLD1   (R20), [V4.S4, V5.S4, V6.S4, V7.S4]

// PIXEL32 adds a lookup to a sum. The lower half of Rn is the place of its samples in bytes. zip,
// VZIP1 or VZIP2, makes the four weights of the pixel from the weights of both samples of two
// pixels.
#define PIXEL32(n, zip, weights, sum) \
	LDRQ(21, n, 13)                     \
	zip   weights.S4, weights.S4, V9.S4 \
	VFMLA V9.S4, V13.S4, sum.S4

// FOUR32 looks up 4 pixels with the offsets tx and rx.
#define FOUR32(tx, rx, a, b, c, d) \
	VADD  rx.S4, tx.S4, V8.S4     \
	VUSHR $24, V8.S4, V9.S4       \
	VSHL  $3, V9.S4, V9.S4        \
	VAND  V14.B16, V8.B16, V8.B16 \
	UCVTF(8)                      \
	FSUB(8, 15, 10)               \
	VMOV  V9.D[0], R25            \
	VMOV  V9.D[1], R26            \
	VZIP1 V8.S4, V10.S4, V11.S4   \
	VZIP2 V8.S4, V10.S4, V12.S4   \
	PIXEL32(25, VZIP1, V11, a)    \
	LSR   $32, R25                \
	PIXEL32(25, VZIP2, V11, b)    \
	PIXEL32(26, VZIP1, V12, c)    \
	LSR   $32, R26                \
	PIXEL32(26, VZIP2, V12, d)

// FLUSH32 adds the sums of 4 pixels to the accumulators at R19, and moves R19 to the next ones.
#define FLUSH32(a, b, c, d) \
	VZIP1 b.D2, a.D2, V4.D2     \
	VZIP2 b.D2, a.D2, V5.D2     \
	VZIP1 d.D2, c.D2, V6.D2     \
	VZIP2 d.D2, c.D2, V7.D2     \
	FADD(5, 4)                  \
	FADD(7, 6)                  \
	VUZP1 V6.S4, V4.S4, V8.S4   \
	VUZP2 V6.S4, V4.S4, V9.S4   \
	FMOVQ (R19), F10            \
	FMOVQ 128(R19), F11         \
	VFMLA V13.S4, V8.S4, V10.S4 \
	VFMLA V13.S4, V9.S4, V11.S4 \
	FMOVQ F10, (R19)            \
	FMOVQ F11, 128(R19)         \
	ADD   $16, R19

// func sum32NEON(r *Run)
TEXT ·sum32NEON(SB), NOSPLIT, $0-8
	LOAD_RUN
	CONSTANTS32
	MOVD $0, R15

half:
	START
	LOAD_SEGMENTS

segment:
	SEGMENT32

entry:
	ENTRY32
	FOUR32(V0, V4, V16, V17, V18, V19)
	FOUR32(V1, V5, V20, V21, V22, V23)
	FOUR32(V2, V6, V24, V25, V26, V27)
	FOUR32(V3, V7, V28, V29, V30, V31)
	SUB  $1, R12
	CBNZ R12, entry
	SUB  $1, R10
	CBNZ R10, segment
	BROADCAST32(0x33800000, V13) // 2^-24
	ADD  R15, R8, R19
	FLUSH32(V16, V17, V18, V19)
	FLUSH32(V20, V21, V22, V23)
	FLUSH32(V24, V25, V26, V27)
	FLUSH32(V28, V29, V30, V31)
	EOR  $64, R15
	CBNZ R15, half
	NEXT_BLOCK
	CBNZ R7, half
	RET
