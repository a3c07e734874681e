// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !amd64 || purego

package pixel

// available says whether the processor has the instructions: this build has no assembly.
const available = false

func magnitude(dst *float32, src *complex64, vectors int) (ok bool) {
	panic("pixel: not in this build")
}

func decibels(dst, src *float32, vectors int, scale, threshold, floor float32) (done int) {
	panic("pixel: not in this build")
}

func planar(dst, src *float32, groups int, unit float32) (ok bool) {
	panic("pixel: not in this build")
}
