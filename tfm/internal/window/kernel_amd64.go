// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package window

import "golang.org/x/sys/cpu"

// Available returns the kernels in assembly that this processor can run, the fastest first.
func Available() (all []Assembly) {
	if cpu.X86.HasAVX512F && cpu.X86.HasAVX512BW && cpu.X86.HasAVX512DQ && cpu.X86.HasAVX512VL {
		all = append(all, avx512(cpu.X86.HasAVX512VNNI))
	}
	if cpu.X86.HasAVX2 && cpu.X86.HasFMA {
		all = append(all, Assembly{
			Name:    "avx2",
			Int16:   Kernel{Joint: sum16AVX2, Split: sum16AVX2},
			Float32: Kernel{Joint: sum32AVX2, Split: sum32AVX2},
		})
	}
	return all
}

// avx512 returns the kernels in AVX-512. With vnni the kernel for 16 bits uses the instruction
// VPDPWSSD in place of the two instructions VPMADDWD and VPADDD.
func avx512(vnni bool) Assembly {
	a := Assembly{
		Name:    "avx512",
		Int16:   Kernel{Joint: joint16AVX512, Split: split16AVX512, Write: writeBlock, Pairs: true},
		Float32: Kernel{Joint: joint32AVX512, Split: split32AVX512, Write: writeBlock},
	}
	if vnni {
		a.Int16.Joint, a.Int16.Split = joint16VNNI, split16VNNI
	}
	return a
}

func joint16VNNI(r *Run)
func split16VNNI(r *Run)
func joint16AVX512(r *Run)
func split16AVX512(r *Run)
func joint32AVX512(r *Run)
func split32AVX512(r *Run)
func writeBlock(dst *complex64, stride uintptr, acc *float32, unit float32)

func sum16AVX2(r *Run)
func sum32AVX2(r *Run)
