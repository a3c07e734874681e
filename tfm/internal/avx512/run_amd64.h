// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// What the kernels have in common. They use the registers alike:
//
//	DI  the run                BX  the segment, CX segments left
//	R9  receivers' offsets     R15 the entry, R14 entries left of the segment
//	R11 receivers' bases       R12 where the transmitter's windows begin in a trace
//	R13 distance of planes         at 0: traces + its base; R10 for the right half
//	Z20, Z21 the transmitter's offsets, left and right
//	AX, DX, SI, R8 for addresses
//
// Loads are scarcer than arithmetic: an entry is one word, and the transmitter's
// delays stay in registers.

// The fields of window.Run, window.Segment and window.Entry.
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
#define run_Done 120
#define run_TxOffsetsDone 128
#define run_TxBasesDone 136

#define segment_Tx 0
#define segment_Second 4
#define segment_Count 8
#define segment__size 16

#define entry_Trace 4 // in lines of 1<<logLine bytes
#define entry__size 8
#define logLine 6

#define LOAD_RUN \
	MOVQ r+0(FP), DI           \
	MOVQ run_RxOffsets(DI), R9 \
	MOVQ run_RxBases(DI), R11  \
	MOVQ run_Plane(DI), R13

// The segments and entries of a run, from the first.
#define LOAD_SEGMENTS \
	MOVQ run_Segments(DI), BX \
	MOVQ run_Entries(DI), R15 \
	MOVQ run_Count(DI), CX

// Where the windows of transmitter tx begin in a trace at 0; samples have 1<<log
// bytes. SI is where the bases are.
#define WINDOWS(tx, log, left, right) \
	MOVLQSX (SI)(tx*8), left     \
	MOVLQSX 4(SI)(tx*8), right   \
	SHLQ    $log, left           \
	SHLQ    $log, right          \
	ADDQ    run_Traces(DI), left \
	ADDQ    run_Traces(DI), right

// The next entry: AX becomes the receiver, DX the place of its trace.
#define NEXT_ENTRY \
	MOVQ (R15), DX          \
	ADDQ $entry__size, R15  \
	MOVL DX, AX             \
	SHRQ $32, DX            \
	SHLQ $logLine, DX

// R8 becomes where the offsets of transmitters begin in the block, SI the bases.
#define LOAD_TRANSMITTERS \
	MOVQ run_TxOffsets(DI), R8     \
	MOVQ run_TxBases(DI), SI       \
	ADDQ run_TxOffsetsDone(DI), R8 \
	ADDQ run_TxBasesDone(DI), SI

// On to the next block; the flags say whether there is one.
#define NEXT_BLOCK \
	ADDQ $256, run_Done(DI)         \
	MOVQ run_TxOffsetStride(DI), AX \
	MOVQ run_TxBaseStride(DI), DX   \
	ADDQ AX, run_TxOffsetsDone(DI)  \
	ADDQ DX, run_TxBasesDone(DI)    \
	ADDQ run_RxOffsetStride(DI), R9 \
	ADDQ run_RxBaseStride(DI), R11  \
	DECQ run_Blocks(DI)

// BROADCAST fills dst with 32 bits, through AX.
#define BROADCAST(bits, dst) \
	MOVL         $bits, AX \
	VPBROADCASTD AX, dst
