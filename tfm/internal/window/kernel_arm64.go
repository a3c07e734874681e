// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package window

// Available returns the kernels in assembly that this processor can run: each arm64 processor has
// NEON.
func Available() []Assembly {
	return []Assembly{{
		Name:    "neon",
		Int16:   Kernel{Joint: sum16NEON, Split: sum16NEON},
		Float32: Kernel{Joint: sum32NEON, Split: sum32NEON},
	}}
}

func sum16NEON(r *Run)
func sum32NEON(r *Run)
