// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package channel

import "golang.org/x/sys/cpu"

// available says whether the processor has the instructions.
var available = cpu.X86.HasAVX512F && cpu.X86.HasAVX512DQ

// Counts are of vectors of [lanes] samples, and at least 1. Except in addSign and phases, the
// functions also read the sample before the first and the sample behind the last.

//go:noescape
func addPower(dst, re, im *float32, vectors int, copies float32)

//go:noescape
func addSign(dst, re *float32, vectors int, copies float32)

//go:noescape
func addUnit(dstRe, dstIm, re, im *float32, vectors int, copies float32)

//go:noescape
func phases(dst, re, im *float32, vectors int)

// Counts are of vectors of [wideLanes] pixels. auxiliary may be nil.
//
//go:noescape
func phaseCoherences(dst *float32, moments, auxiliary *complex64, vectors int, share, slope float64)

// signs and distances may be nil.
//
//go:noescape
func addMoments(phase, square, signs, distances, src, re, im *float32, vectors int, copies float32)
