// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build amd64 && !purego

package avx512

import "github.com/isochron-imaging/isochron/tfm/internal/trace"

// lanes is the number of float32 in a register.
const lanes = 16

var vectors = trace.Vectors{
	Lanes:      lanes,
	Convolve:   convolve,
	AddInt16:   addInt16,
	AddFloat32: addFloat32,
	Sum:        sum,
	Shift:      shift,
	Peak:       peak,
	Pack:       pack,
	Scale:      scale,
}

var ops = vectors.Ops()

// Ops returns the operations on traces.
func Ops() trace.Ops { return ops }

//go:noescape
func convolve(re, im, x *float32, taps *complex64, n, blocks int)

//go:noescape
func addInt16(dst *float32, src *int16, vectors int, weight float32)

//go:noescape
func addFloat32(dst, src *float32, vectors int, weight float32)

//go:noescape
func sum(src *float32, vectors int) float32

//go:noescape
func shift(dst *float32, vectors int, by float32)

//go:noescape
func peak(src *float32, n int) float32

//go:noescape
func pack(dst *int16, src *float32, vectors int, scale float32)

//go:noescape
func scale(dst *int16, vectors int, by float32)
