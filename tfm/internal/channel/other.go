// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !amd64 || purego

package channel

// available says whether the processor has the instructions: this build has no assembly.
const available = false

const absent = "channel: not in this build"

func addPower(dst, re, im *float32, vectors int, copies float32) { panic(absent) }

func addSign(dst, re *float32, vectors int, copies float32) { panic(absent) }

func addUnit(dstRe, dstIm, re, im *float32, vectors int, copies float32) { panic(absent) }

func phases(dst, re, im *float32, vectors int) { panic(absent) }

func addMoments(phase, square, signs, distances, src, re, im *float32, vectors int, copies float32) {
	panic(absent)
}

func phaseCoherences(dst *float32, moments, auxiliary *complex64, vectors int, share, slope float64) {
	panic(absent)
}
