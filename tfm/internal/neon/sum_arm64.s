// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// The fields of window.Run and window.Entry.
#define run_Acc 0
#define run_TxOffsets 8
#define run_RxOffsets 16
#define run_TxBases 24
#define run_RxBases 32
#define run_TxOffsetStride 40
#define run_TxBaseStride 48
#define run_RxOffsetStride 56
#define run_RxBaseStride 64
#define run_Traces 72
#define run_Plane 80
#define run_Segments 88
#define run_Count 96
#define run_Entries 104
#define run_Blocks 112

#define segment_Tx 0
#define segment_Count 8
#define segment__size 16

#define entry__size 8
#define logLine 6

// Both kernels use the registers alike:
//
//	R0  the run                     R9  the segment, R10 segments left
//	R1  transmitters' offsets       R11 the entry, R12 entries left of the segment
//	R2  receivers' offsets          R13 the transmitter's offsets
//	R3  transmitters' bases         R14 where its windows begin in a trace at 0: traces
//	R4  receivers' bases                + its base; R15 for the right half
//	R5  distance of planes          R20 the receiver's offsets
//	R6  traces                      R21, R22 the windows of real and imaginary parts
//	R7  blocks left                 R23 the window of real parts of the right half
//	R8  accumulators                R19, R24 to R26 for addresses and indices
//
// The sums of a block are in V16 to V23, real parts of 4 pixels each, and V24 to V31,
// imaginary ones.
#define LOAD_RUN \
	MOVD r+0(FP), R0           \
	MOVD run_TxOffsets(R0), R1 \
	MOVD run_RxOffsets(R0), R2 \
	MOVD run_TxBases(R0), R3   \
	MOVD run_RxBases(R0), R4   \
	MOVD run_Plane(R0), R5     \
	MOVD run_Traces(R0), R6    \
	MOVD run_Blocks(R0), R7    \
	MOVD run_Acc(R0), R8

// The segments and entries of a run, from the first.
#define LOAD_SEGMENTS \
	MOVD run_Segments(R0), R9 \
	MOVD run_Count(R0), R10   \
	MOVD run_Entries(R0), R11

// The transmitter of the next segment. Samples have 1<<log bytes, the offsets of an
// element 1<<logOffsets.
#define NEXT_SEGMENT(log, logOffsets) \
	MOVWU segment_Tx(R9), R19        \
	MOVD  segment_Count(R9), R12     \
	ADD   $segment__size, R9         \
	ADD   R19<<logOffsets, R1, R13   \
	ADD   R19<<3, R3, R24            \
	MOVW  (R24), R14                 \
	MOVW  4(R24), R15                \
	ADD   R14<<log, R6, R14          \
	ADD   R15<<log, R6, R15

// The next entry, with the windows of the left half.
#define NEXT_ENTRY(log, logOffsets) \
	MOVD.P entry__size(R11), R19    \
	MOVWU  R19, R20                 \
	LSR    $32, R19                 \
	ADD    R20<<3, R4, R24          \
	ADD    R20<<logOffsets, R2, R20 \
	MOVW   (R24), R21               \
	MOVW   4(R24), R23              \
	ADD    R21<<log, R14, R21       \
	ADD    R23<<log, R15, R23       \
	ADD    R19<<logLine, R21        \
	ADD    R19<<logLine, R23        \
	ADD    R5, R21, R22

// The windows of the right half.
#define RIGHT_HALF \
	MOVD R23, R21      \
	ADD  R5, R21, R22

// On to the next block, of which R7 says whether there is one.
#define NEXT_BLOCK \
	MOVD run_TxOffsetStride(R0), R19 \
	MOVD run_RxOffsetStride(R0), R24 \
	ADD  R19, R1                     \
	ADD  R24, R2                     \
	MOVD run_TxBaseStride(R0), R19   \
	MOVD run_RxBaseStride(R0), R24   \
	ADD  R19, R3                     \
	ADD  R24, R4                     \
	ADD  $256, R8                    \
	SUB  $1, R7

// KERNEL sums a run. start and flush begin and end a block, lookup does one entry.
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

// BROADCAST32 fills dst with 32 bits, BROADCAST16 with 16, through R19.
#define BROADCAST32(bits, dst) \
	MOVD $bits, R19    \
	VDUP R19, dst.S4
#define BROADCAST16(bits, dst) \
	MOVD $bits, R19    \
	VDUP R19, dst.H8

// Instructions that the assembler does not know, of registers by number.

// SMLAL Vd.4S, Vn.4H, Vm.4H: adds the products of the lower 4 lanes of 16 bits.
#define SMLAL(m, n, d) WORD $(0x0e608000 | m<<16 | n<<5 | d)

// SMLAL2 Vd.4S, Vn.8H, Vm.8H: those of the upper 4 lanes.
#define SMLAL2(m, n, d) WORD $(0x4e608000 | m<<16 | n<<5 | d)

// SCVTF Vd.4S, Vd.4S: integers to single precision.
#define SCVTF(d) WORD $(0x4e21d800 | d<<5 | d)

// FADD Vd.4S, Vd.4S, Vm.4S
#define FADD(m, d) WORD $(0x4e20d400 | m<<16 | d<<5 | d)

// ---- 16 bits
//
// A window of 32 samples of 16 bits is a table of 64 bytes in four registers, of which
// TBL takes bytes by their indices. The sum of two offsets is an index of 5 bits and a
// fraction f of 11.

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

// WINDOWS16 loads the windows, real parts to V8 to V11, imaginary ones to V12 to V15.
#define WINDOWS16 \
	VLD1 (R21), [V8.B16, V9.B16, V10.B16, V11.B16]   \
	VLD1 (R22), [V12.B16, V13.B16, V14.B16, V15.B16]

#define REAL16(index, dst) VTBL index.B16, [V8.B16, V9.B16, V10.B16, V11.B16], dst.B16
#define IMAGINARY16(index, dst) VTBL index.B16, [V12.B16, V13.B16, V14.B16, V15.B16], dst.B16

// ROWS16 loads the offsets of two rows, of transmitter and receiver. VLD2 parts the left
// halves of both rows, to V0 and V2, from the right ones, to V1 and V3.
#define ROWS16 \
	VLD2.P 32(R24), [V0.D2, V1.D2] \
	VLD2.P 32(R25), [V2.D2, V3.D2]

// EIGHT16 looks 8 pixels up, with offsets tx and rx, and adds them to the sums re, re+1,
// im and im+1. V0 becomes the weight f of the second sample, V1 that of the first,
// 2048 - f, V2 the bytes 2k and 2k + 1 of the first sample k, V3 those of the second.
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

// func sum16(r *window.Run)
TEXT ·sum16(SB), NOSPLIT, $0-8
	KERNEL(CONSTANTS16, START16, 1, 6, LOOKUP16, FLUSH16)

// ---- single precision
//
// The upper 9 bits of the sum of two offsets are the index into a window, the lower 23
// the fraction: under the exponent of 1 they are a float32 from 1 to 2. A load of 64
// bits takes a sample and the next one.

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

// PAIR32 loads the samples of the two pixels whose indices, in bytes, are the halves
// of R25.
#define PAIR32(re0, re1, im0, im1) \
	LSR   $32, R25, R26     \
	MOVWU R25, R25          \
	FMOVD (R21)(R25), re0   \
	FMOVD (R21)(R26), re1   \
	FMOVD (R22)(R25), im0   \
	FMOVD (R22)(R26), im1

// ADD32 adds four pixels to a sum: of pairs of the first and the second sample in V4 to
// V7, or in V8 to V11, those of all four pixels side by side, times their weights.
#define ADD32(a, b, c, d, sum) \
	VZIP1 b.D2, a.D2, a.D2     \
	VZIP1 d.D2, c.D2, c.D2     \
	VUZP1 c.S4, a.S4, b.S4     \
	VUZP2 c.S4, a.S4, d.S4     \
	VFMLA V2.S4, b.S4, sum.S4  \
	VFMLA V0.S4, d.S4, sum.S4

// FOUR32 looks 4 pixels up. V1 becomes the indices in bytes, V0 the number from 1 to 2,
// and minus 1 the weight of the second sample, V2 that of the first, 2 minus the number.
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

// func sum32(r *window.Run)
TEXT ·sum32(SB), NOSPLIT, $0-8
	KERNEL(CONSTANTS32, START32, 2, 7, LOOKUP32, FLUSH32)
