// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// What the kernels of amd64 have in common. The offsets of fields and the sizes of types come from
// go_asm.h, which the compiler writes. All kernels use these registers alike:
//
//	DI   the run
//	BX   the next segment; CX counts the segments down
//	R15  the next entry; R14 counts the entries of the segment down
//	R9   the receivers' offsets in this block
//	R11  the receivers' bases in this block
//	R12  Traces plus the transmitter's base: where its window of the left half begins in the trace
//	     of line 0, before the receiver's base is added
//	R10  the same for the right half
//	R13  the distance from real to imaginary parts in bytes
//
// The other registers hold addresses for a short time.

#define LOAD_RUN \
	MOVQ r+0(FP), DI           \
	MOVQ Run_RxOffsets(DI), R9 \
	MOVQ Run_RxBases(DI), R11  \
	MOVQ Run_Plane(DI), R13

// LOAD_SEGMENTS begins with the first segment and entry.
#define LOAD_SEGMENTS \
	MOVQ Run_Segments(DI), BX \
	MOVQ Run_Entries(DI), R15 \
	MOVQ Run_Count(DI), CX

// WINDOWS sets left and right to where the windows of transmitter tx begin. SI is the address of
// the bases. A sample has 1<<log bytes.
#define WINDOWS(tx, log, left, right) \
	MOVLQSX (SI)(tx*8), left     \
	MOVLQSX 4(SI)(tx*8), right   \
	SHLQ    $log, left           \
	SHLQ    $log, right          \
	ADDQ    Run_Traces(DI), left \
	ADDQ    Run_Traces(DI), right

// NEXT_SEGMENT loads a segment. AX becomes its transmitter, R8 the address of the transmitters'
// offsets in this block, and SI the address of their bases.
#define NEXT_SEGMENT(log) \
	MOVL Segment_Tx(BX), AX        \
	MOVQ Segment_Count(BX), R14    \
	ADDQ $Segment__size, BX        \
	MOVQ Run_TxOffsets(DI), R8     \
	MOVQ Run_TxBases(DI), SI       \
	ADDQ Run_TxOffsetsDone(DI), R8 \
	ADDQ Run_TxBasesDone(DI), SI   \
	WINDOWS(AX, log, R12, R10)

// NEXT_ENTRY loads an entry as one word, because loads limit the speed. AX becomes the receiver, DX
// the place of its trace in bytes.
#define NEXT_ENTRY \
	MOVQ (R15), DX           \
	ADDQ $Entry__size, R15   \
	MOVL DX, AX              \
	SHRQ $(8*Entry_Line), DX \
	SHLQ $const_lineBits, DX

// NEXT_BLOCK goes on to the next block. The zero flag is set if there is none.
#define NEXT_BLOCK \
	ADDQ $(8*const_Pixels), Run_Done(DI) \
	MOVQ Run_TxOffsetStride(DI), AX      \
	MOVQ Run_TxBaseStride(DI), DX        \
	ADDQ AX, Run_TxOffsetsDone(DI)       \
	ADDQ DX, Run_TxBasesDone(DI)         \
	ADDQ Run_RxOffsetStride(DI), R9      \
	ADDQ Run_RxBaseStride(DI), R11       \
	DECQ Run_Blocks(DI)

// ACCUMULATORS sets SI to the address of the accumulators of this block.
#define ACCUMULATORS \
	MOVQ Run_Acc(DI), SI  \
	ADDQ Run_Done(DI), SI

// NEXT_ACCUMULATORS sets SI to the accumulators of the next layer.
#define NEXT_ACCUMULATORS \
	ADDQ Run_AccLayer(DI), SI

// BROADCAST fills dst, a register of AVX-512, with 32 bits. It changes AX.
#define BROADCAST(bits, dst) \
	MOVL         $bits, AX \
	VPBROADCASTD AX, dst

// FLUSH_LAYER adds the sums a to d, which are integers in registers of AVX-512, to the accumulators at
// SI.
#define FLUSH_LAYER(a, b, c, d) \
	VCVTDQ2PS a, a         \
	VCVTDQ2PS b, b         \
	VCVTDQ2PS c, c         \
	VCVTDQ2PS d, d         \
	VADDPS    (SI), a, a   \
	VADDPS    64(SI), b, b \
	VADDPS    128(SI), c, c \
	VADDPS    192(SI), d, d \
	VMOVUPS   a, (SI)      \
	VMOVUPS   b, 64(SI)    \
	VMOVUPS   c, 128(SI)   \
	VMOVUPS   d, 192(SI)
