// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !amd64 || purego

package vector

// Available says whether the processor has the instructions: not in this build.
const Available = false

func sum(src *float32, blocks int, lanes *[8]float64) { panic("vector: not in this build") }

func shift(dst *float32, blocks int, by float32) { panic("vector: not in this build") }

func multiply(dst, weights *float32, blocks int) { panic("vector: not in this build") }

func convolve(dst, x, taps *float32, n, blocks int) { panic("vector: not in this build") }
