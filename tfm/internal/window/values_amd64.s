// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// VALUES copies the row of a block that begins at the given byte, four pixels of each half, to DX.
#define VALUES(from) \
	MOVUPS from(BX), X0      \
	MOVUPS (from+64)(BX), X1 \
	MOVUPS X0, (DX)          \
	MOVUPS X1, 16(DX)

// func writeValues(dst *float32, stride uintptr, values *float32, blocks int)
TEXT ·writeValues(SB), NOSPLIT, $0-32
	MOVQ dst+0(FP), DI
	MOVQ stride+8(FP), SI
	MOVQ values+16(FP), BX
	MOVQ blocks+24(FP), CX

next:
	MOVQ DI, DX
	VALUES(0)
	ADDQ SI, DX
	VALUES(16)
	ADDQ SI, DX
	VALUES(32)
	ADDQ SI, DX
	VALUES(48)
	ADDQ $32, DI
	ADDQ $128, BX
	DECQ CX
	JNZ  next
	RET
