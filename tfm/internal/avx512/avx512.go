// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build amd64 && !purego

// Package avx512 is the delay-and-sum kernel in AVX-512 instructions, on the tables
// of package window. The instructions and what each is for stand in the assembly.
package avx512

import (
	"golang.org/x/sys/cpu"

	"github.com/isochron-imaging/isochron/tfm/internal/window"
)

// Available says whether the processor has the instructions.
var Available = cpu.X86.HasAVX512F && cpu.X86.HasAVX512BW && cpu.X86.HasAVX512DQ && cpu.X86.HasAVX512VL

// dotProduct says whether it has VPDPWSSD, which does in one instruction what
// VPMADDWD and VPADDD do in two.
var dotProduct = cpu.X86.HasAVX512VNNI

// Int16 returns the kernel for 16-bit samples.
func Int16() window.Kernel {
	if dotProduct {
		return window.Kernel{Joint: joint16dot, Split: split16dot, Write: writeBlock, Pairs: true}
	}
	return window.Kernel{Joint: joint16, Split: split16, Write: writeBlock, Pairs: true}
}

// Float32 returns the kernel for samples in single precision.
func Float32() window.Kernel {
	return window.Kernel{Joint: joint32, Split: split32, Write: writeBlock}
}

//go:noescape
func joint16dot(r *window.Run)

//go:noescape
func split16dot(r *window.Run)

//go:noescape
func joint16(r *window.Run)

//go:noescape
func split16(r *window.Run)

//go:noescape
func joint32(r *window.Run)

//go:noescape
func split32(r *window.Run)
