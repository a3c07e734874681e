// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// What the kernels in AVX2 have in common, besides run_amd64.h. Both halves of a block are looked
// up at their own bases, so a kernel does joint and split blocks alike. For an entry,
//
//	R8      is the address of the transmitter's offsets
//	AX      the place of the receiver's offsets, from R9 on
//	DX, SI  the windows of the left and the right half
//
// A register holds 8 pixels: 4 × 2 of a half of a block. The sums of the real parts are in Y0 to
// Y3, the sums of the imaginary parts in Y4 to Y7.

// KERNEL sums a run. START and FLUSH begin and end a block. LOOKUP does one entry. A sample has
// size bytes, 1<<log. The offsets of an element have 1<<logOffsets bytes.
#define KERNEL(log, size, logOffsets) \
	LOAD_RUN                   \
block:                         \
	START                      \
	LOAD_SEGMENTS              \
segment:                       \
	NEXT_SEGMENT(log)          \
	SHLQ    $logOffsets, AX    \
	ADDQ    AX, R8             \
entry:                         \
	NEXT_ENTRY                 \
	MOVLQSX (R11)(AX*8), BP    \
	MOVLQSX 4(R11)(AX*8), SI   \
	LEAQ    (R12)(BP*size), BP \
	LEAQ    (R10)(SI*size), SI \
	ADDQ    DX, SI             \
	ADDQ    BP, DX             \
	SHLQ    $logOffsets, AX    \
	LOOKUP                     \
	DECQ    R14                \
	JNZ     entry              \
	DECQ    CX                 \
	JNZ     segment            \
	FLUSH                      \
	NEXT_BLOCK                 \
	JNZ     block              \
	VZEROUPPER                 \
	RET
