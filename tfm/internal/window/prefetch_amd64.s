// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

#include "textflag.h"

// func prefetch(p unsafe.Pointer, bytes uintptr)
TEXT ·prefetch(SB), NOSPLIT, $0-16
	MOVQ p+0(FP), SI
	MOVQ bytes+8(FP), CX
	ADDQ SI, CX
	ANDQ $~63, SI

line:
	PREFETCHT1 (SI)
	ADDQ       $64, SI
	CMPQ       SI, CX
	JCS        line
	RET
