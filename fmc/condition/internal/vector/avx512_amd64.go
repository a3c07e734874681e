// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package vector

import "golang.org/x/sys/cpu"

// Available says whether the processor has the instructions.
var Available = cpu.X86.HasAVX512F

// All counts are at least 1.

//go:noescape
func sum(src *float32, blocks int, lanes *[8]float64)

//go:noescape
func shift(dst *float32, blocks int, by float32)

//go:noescape
func multiply(dst, weights *float32, blocks int)

//go:noescape
func convolve(dst, x, taps *float32, n, blocks int)
