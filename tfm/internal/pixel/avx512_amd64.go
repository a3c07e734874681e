// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package pixel

import "golang.org/x/sys/cpu"

// available says whether the processor has the instructions.
var available = cpu.X86.HasAVX512F && cpu.X86.HasAVX512DQ && cpu.X86.HasAVX512VL

// Counts are of vectors of [lanes] pixels, and at least 1.

// magnitude reports whether single precision holds the squares of all pixels. If not, dst is of no
// use.
//
//go:noescape
func magnitude(dst *float32, src *complex64, vectors int) (ok bool)

// planar is magnitude for groups of [Group] real parts and as many imaginary parts, times unit.
//
//go:noescape
func planar(dst, src *float32, groups int, unit float32) (ok bool)

// decibels returns the number of vectors it has done. It stops before the first vector with a
// ratio above the threshold that is no normal number in single precision.
//
//go:noescape
func decibels(dst, src *float32, vectors int, scale, threshold, floor float32) (done int)
