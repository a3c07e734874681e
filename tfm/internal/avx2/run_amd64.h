// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// What the kernels have in common. They use the registers alike:
//
//	DI  the run                     BX  the segment, CX segments left
//	R8  the transmitter's offsets   R15 the entry, R14 entries left of the segment
//	R9  receivers' offsets          R12 where the transmitter's windows begin in a trace
//	R11 receivers' bases                at 0: traces + its base; R10 for the right half
//	R13 distance of planes          DX, SI the windows of the left and the right half
//	AX  the place of the receiver's offsets     BP for an address
//
// A register holds 8 pixels, 4 × 2 of a half of a block. The sums are in Y0 to Y3, real
// parts, and Y4 to Y7, imaginary ones.

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
#define segment_Count 8
#define segment__size 16

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

// The transmitter of the next segment. Samples have 1<<log bytes, the offsets of an
// element 1<<logOffsets.
#define NEXT_SEGMENT(log, logOffsets) \
	MOVL    segment_Tx(BX), AX        \
	MOVQ    segment_Count(BX), R14    \
	ADDQ    $segment__size, BX        \
	MOVQ    run_TxBases(DI), SI       \
	ADDQ    run_TxBasesDone(DI), SI   \
	MOVLQSX (SI)(AX*8), R12           \
	MOVLQSX 4(SI)(AX*8), R10          \
	SHLQ    $log, R12                 \
	SHLQ    $log, R10                 \
	ADDQ    run_Traces(DI), R12       \
	ADDQ    run_Traces(DI), R10       \
	SHLQ    $logOffsets, AX           \
	MOVQ    run_TxOffsets(DI), R8     \
	ADDQ    run_TxOffsetsDone(DI), R8 \
	ADDQ    AX, R8

// The next entry. Samples have size bytes.
#define NEXT_ENTRY(size, logOffsets) \
	MOVQ    (R15), DX         \
	ADDQ    $entry__size, R15 \
	MOVL    DX, AX            \
	SHRQ    $32, DX           \
	SHLQ    $logLine, DX      \
	MOVLQSX (R11)(AX*8), BP   \
	MOVLQSX 4(R11)(AX*8), SI  \
	LEAQ    (R12)(BP*size), BP \
	LEAQ    (R10)(SI*size), SI \
	ADDQ    DX, SI             \
	ADDQ    BP, DX             \
	SHLQ    $logOffsets, AX

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

// KERNEL sums a run. START and FLUSH begin and end a block, LOOKUP does one entry.
#define KERNEL(log, size, logOffsets) \
	LOAD_RUN                      \
block:                            \
	START                         \
	LOAD_SEGMENTS                 \
segment:                          \
	NEXT_SEGMENT(log, logOffsets) \
entry:                            \
	NEXT_ENTRY(size, logOffsets)  \
	LOOKUP                        \
	DECQ R14                      \
	JNZ  entry                    \
	DECQ CX                       \
	JNZ  segment                  \
	FLUSH                         \
	NEXT_BLOCK                    \
	JNZ  block                    \
	VZEROUPPER                    \
	RET
