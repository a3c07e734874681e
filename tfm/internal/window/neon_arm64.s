// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "go_asm.h"
#include "textflag.h"

// Both halves of a block are looked up at their own bases, so a kernel does joint and split blocks
// alike. The offsets of fields and the sizes of types come from go_asm.h, which the compiler
// writes. Both kernels use the registers alike:
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

// NEXT_SEGMENT loads a segment and its transmitter. A sample has 1<<log bytes. The offsets of an
// element have 1<<logOffsets bytes.
#define NEXT_SEGMENT(log, logOffsets) \
	MOVWU Segment_Tx(R9), R19        \
	MOVD  Segment_Count(R9), R12     \
	ADD   $Segment__size, R9         \
	ADD   R19<<logOffsets, R1, R13   \
	ADD   R19<<3, R3, R24            \
	MOVW  (R24), R14                 \
	MOVW  4(R24), R15                \
	ADD   R14<<log, R6, R14          \
	ADD   R15<<log, R6, R15

// NEXT_ENTRY loads an entry as one word, and sets R21 and R22 to the windows of the left half.
#define NEXT_ENTRY(log, logOffsets) \
	MOVD.P Entry__size(R11), R19    \
	MOVWU  R19, R20                 \
	LSR    $(8*Entry_Line), R19                 \
	ADD    R20<<3, R4, R24          \
	ADD    R20<<logOffsets, R2, R20 \
	MOVW   (R24), R21               \
	MOVW   4(R24), R23              \
	ADD    R21<<log, R14, R21       \
	ADD    R23<<log, R15, R23       \
	ADD    R19<<const_lineBits, R21        \
	ADD    R19<<const_lineBits, R23        \
	ADD    R5, R21, R22

// RIGHT_HALF sets R21 and R22 to the windows of the right half.
#define RIGHT_HALF \
	MOVD R23, R21      \
	ADD  R5, R21, R22

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
	ADD  $(8*const_Pixels), R8                    \
	SUB  $1, R7

// KERNEL sums a run. start and flush begin and end a block. lookup does one entry.
#define KERNEL(constants, start, log, logOffsets, lookup, flush) \
	LOAD_RUN                      \
	constants                     \
block:                            \
	start                         \
	LOAD_SEGMENTS                 \
segment:                          \
	NEXT_SEGMENT(log, logOffsets) \
entry:                            \
	NEXT_ENTRY(log, logOffsets)   \
	lookup                        \
	SUB  $1, R12                  \
	CBNZ R12, entry               \
	SUB  $1, R10                  \
	CBNZ R10, segment             \
	flush                         \
	NEXT_BLOCK                    \
	CBNZ R7, block                \
	RET

// BROADCAST32 and BROADCAST16 repeat 32 or 16 bits in all lanes of dst. They change R19.
#define BROADCAST32(bits, dst) \
	MOVD $bits, R19    \
	VDUP R19, dst.S4
#define BROADCAST16(bits, dst) \
	MOVD $bits, R19    \
	VDUP R19, dst.H8

// Instructions that the assembler does not know. Their registers are given by number.

// SMLAL Vd.4S, Vn.4H, Vm.4H adds the products of the lower 4 lanes of 16 bits.
#define SMLAL(m, n, d) WORD $(0x0e608000 | m<<16 | n<<5 | d)

// SMLAL2 Vd.4S, Vn.8H, Vm.8H adds the products of the upper 4 lanes.
#define SMLAL2(m, n, d) WORD $(0x4e608000 | m<<16 | n<<5 | d)

// SCVTF Vd.4S, Vd.4S turns integers into single precision.
#define SCVTF(d) WORD $(0x4e21d800 | d<<5 | d)

// FADD Vd.4S, Vd.4S, Vm.4S
#define FADD(m, d) WORD $(0x4e20d400 | m<<16 | d<<5 | d)

// ---- 16 bits
//
// A window of 32 samples of 16 bits fills four registers. TBL takes bytes from these 64 bytes by
// their indices. The sum of two offsets is an index of 5 bits and a fraction f of 11 bits.

#define CONSTANTS16 \
	BROADCAST16(0x0100, V5) \
	BROADCAST16(0x0202, V6) \
	BROADCAST16(0x0800, V7)

#define START16 \
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
	VLD1 (R21), [V8.B16, V9.B16, V10.B16, V11.B16]   \
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
	VADD   rx.H8, tx.H8, V0.H8     \
	VUSHR  $11, V0.H8, V2.H8       \
	VSHL   $5, V0.H8, V0.H8        \
	VUSHR  $5, V0.H8, V0.H8        \
	VSUB   V0.H8, V7.H8, V1.H8     \
	VSHL   $1, V2.H8, V2.H8        \
	VSLI   $8, V2.H8, V2.H8        \
	VADD   V5.H8, V2.H8, V2.H8     \
	VADD   V6.H8, V2.H8, V3.H8     \
	REAL16(V2, V4)                 \
	SMLAL(1, 4, re)                \
	SMLAL2(1, 4, (re+1))           \
	REAL16(V3, V4)                 \
	SMLAL(0, 4, re)                \
	SMLAL2(0, 4, (re+1))           \
	IMAGINARY16(V2, V4)            \
	SMLAL(1, 4, im)                \
	SMLAL2(1, 4, (im+1))           \
	IMAGINARY16(V3, V4)            \
	SMLAL(0, 4, im)                \
	SMLAL2(0, 4, (im+1))

#define HALF16(tx, rx, re, im) \
	MOVD R13, R24                    \
	MOVD R20, R25                    \
	WINDOWS16                        \
	ROWS16                           \
	EIGHT16(tx, rx, re, im)          \
	ROWS16                           \
	EIGHT16(tx, rx, (re+2), (im+2))

#define LOOKUP16 \
	HALF16(V0, V2, 16, 24) \
	RIGHT_HALF             \
	HALF16(V1, V3, 20, 28)

// ADD16 adds four sums to 64 bytes of accumulators.
#define ADD16(a, b, c, d) \
	VLD1   (R19), [V0.S4, V1.S4, V2.S4, V3.S4]   \
	SCVTF(a)                                       \
	SCVTF(b)                                       \
	SCVTF(c)                                       \
	SCVTF(d)                                       \
	FADD(a, 0)                                     \
	FADD(b, 1)                                     \
	FADD(c, 2)                                     \
	FADD(d, 3)                                     \
	VST1.P [V0.S4, V1.S4, V2.S4, V3.S4], 64(R19)

#define FLUSH16 \
	MOVD R8, R19          \
	ADD16(16, 17, 18, 19) \
	ADD16(20, 21, 22, 23) \
	ADD16(24, 25, 26, 27) \
	ADD16(28, 29, 30, 31)

// func sum16NEON(r *Run)
TEXT ·sum16NEON(SB), NOSPLIT, $0-8
	KERNEL(CONSTANTS16, START16, 1, 6, LOOKUP16, FLUSH16)

// ---- single precision
//
// The upper 9 bits of the sum of two offsets are the index into a window. The lower 23 bits are the
// fraction. With the exponent of the number 1 they are a float32 from 1 to 2. A load of 64 bits
// fetches a sample and the next one.

#define CONSTANTS32 \
	BROADCAST32(0x3f800000, V14) \
	BROADCAST32(0x40000000, V15)

#define START32 \
	MOVD   R8, R19                                   \
	VLD1.P 64(R19), [V16.S4, V17.S4, V18.S4, V19.S4] \
	VLD1.P 64(R19), [V20.S4, V21.S4, V22.S4, V23.S4] \
	VLD1.P 64(R19), [V24.S4, V25.S4, V26.S4, V27.S4] \
	VLD1.P 64(R19), [V28.S4, V29.S4, V30.S4, V31.S4]

#define FLUSH32 \
	MOVD   R8, R19                                   \
	VST1.P [V16.S4, V17.S4, V18.S4, V19.S4], 64(R19) \
	VST1.P [V20.S4, V21.S4, V22.S4, V23.S4], 64(R19) \
	VST1.P [V24.S4, V25.S4, V26.S4, V27.S4], 64(R19) \
	VST1.P [V28.S4, V29.S4, V30.S4, V31.S4], 64(R19)

// PAIR32 loads the samples of two pixels. The halves of R25 are their indices in bytes.
#define PAIR32(re0, re1, im0, im1) \
	LSR   $32, R25, R26     \
	MOVWU R25, R25          \
	FMOVD (R21)(R25), re0   \
	FMOVD (R21)(R26), re1   \
	FMOVD (R22)(R25), im0   \
	FMOVD (R22)(R26), im1

// ADD32 adds four pixels to a sum. Each of a, b, c and d holds the first and the second sample of a
// pixel. b becomes the first samples of the four pixels, d their second samples.
#define ADD32(a, b, c, d, sum) \
	VZIP1 b.D2, a.D2, a.D2     \
	VZIP1 d.D2, c.D2, c.D2     \
	VUZP1 c.S4, a.S4, b.S4     \
	VUZP2 c.S4, a.S4, d.S4     \
	VFMLA V2.S4, b.S4, sum.S4  \
	VFMLA V0.S4, d.S4, sum.S4

// FOUR32 looks up 4 pixels. V1 becomes the indices in bytes. V0 becomes the number v from 1 to 2,
// and then v - 1, the weight of the second sample. V2 becomes 2 - v, the weight of the first
// sample.
#define FOUR32(at, re, im) \
	FMOVQ at(R13), F0              \
	FMOVQ at(R20), F1              \
	VADD  V1.S4, V0.S4, V0.S4      \
	VUSHR $23, V0.S4, V1.S4        \
	VSHL  $2, V1.S4, V1.S4         \
	VSHL  $9, V0.S4, V0.S4         \
	VUSHR $9, V0.S4, V0.S4         \
	VORR  V14.B16, V0.B16, V0.B16  \
	VMOV  V15.B16, V2.B16          \
	VFMLS V14.S4, V0.S4, V2.S4     \
	VFMLS V14.S4, V14.S4, V0.S4    \
	VMOV  V1.D[0], R25             \
	PAIR32(F4, F5, F8, F9)         \
	VMOV  V1.D[1], R25             \
	PAIR32(F6, F7, F10, F11)       \
	ADD32(V4, V5, V6, V7, re)      \
	ADD32(V8, V9, V10, V11, im)

#define LOOKUP32 \
	FOUR32(0, V16, V24)   \
	FOUR32(16, V17, V25)  \
	FOUR32(32, V18, V26)  \
	FOUR32(48, V19, V27)  \
	RIGHT_HALF            \
	FOUR32(64, V20, V28)  \
	FOUR32(80, V21, V29)  \
	FOUR32(96, V22, V30)  \
	FOUR32(112, V23, V31)

// func sum32NEON(r *Run)
TEXT ·sum32NEON(SB), NOSPLIT, $0-8
	KERNEL(CONSTANTS32, START32, 2, 7, LOOKUP32, FLUSH32)
