// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build arm64 && !purego

// Package neon is the delay-and-sum kernel in the vector instructions of arm64, on the
// tables of package window. The instructions and what each is for stand in the assembly.
package neon

import "github.com/isochron-imaging/isochron/tfm/internal/window"

// Available says whether the processor has the instructions: each of arm64 does.
const Available = true

// Both halves of a block are looked up at their own bases, which of a joint window are
// the same: each kernel has one way for both.

// Int16 returns the kernel for 16-bit samples.
func Int16() window.Kernel { return window.Kernel{Joint: sum16, Split: sum16} }

// Float32 returns the kernel for samples in single precision.
func Float32() window.Kernel { return window.Kernel{Joint: sum32, Split: sum32} }

//go:noescape
func sum16(r *window.Run)

//go:noescape
func sum32(r *window.Run)
