// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !amd64 || purego

// Package avx2 is the delay-and-sum kernel in AVX2 and FMA instructions, which this
// build does not have.
package avx2

import (
	"github.com/isochron-imaging/isochron/tfm/internal/window"
)

// Available says whether the processor has the instructions.
const Available = false

// Int16 returns the kernel for 16-bit samples.
func Int16() window.Kernel { panic("avx2: not in this build") }

// Float32 returns the kernel for samples in single precision.
func Float32() window.Kernel { panic("avx2: not in this build") }
