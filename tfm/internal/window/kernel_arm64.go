// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package window

// Available returns the kernels in assembly that this processor can run: each arm64 processor has
// NEON.
func Available() []Assembly {
	return []Assembly{{
		Name:    "neon",
		Int16:   Kernel{Format: Format16, Sums: []func(*Run){sum16NEON, sum16NEON}},
		Float32: Kernel{Format: FormatInterleaved, Sums: []func(*Run){sum32NEON, sum32NEON, sum32NEON}},
	}}
}

func sum16NEON(r *Run)
func sum32NEON(r *Run)
