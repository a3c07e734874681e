// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package window

import "golang.org/x/sys/cpu"

// Available returns the kernels in assembly that this processor can run, the fastest first.
func Available() (all []Assembly) {
	if cpu.X86.HasAVX512F && cpu.X86.HasAVX512BW && cpu.X86.HasAVX512DQ && cpu.X86.HasAVX512VL {
		all = append(all, avx512(cpu.X86.HasAVX512VNNI, cpu.X86.HasAVX512VBMI2))
	}
	if cpu.X86.HasAVX2 && cpu.X86.HasFMA {
		all = append(all, avx2(cpu.X86.HasAVXVNNI))
	}
	return all
}

// avx2 returns the kernels in AVX2. With vnni the kernel for 16 bits uses the instruction VPDPWSSD
// in its VEX encoding, in place of the two instructions VPMADDWD and VPADDD.
func avx2(vnni bool) Assembly {
	a := Assembly{
		Name:    "avx2",
		Int16:   Kernel{Format: FormatBytes, Sums: []func(*Run){halves16AVX2, lanes16AVX2, wide16AVX2}, Write: writeBlockAVX2},
		Float32: Kernel{Format: FormatInterleaved, Sums: []func(*Run){sum32AVX2, sum32AVX2, sum32AVX2}, Write: writeBlockAVX2},
	}
	if vnni {
		a.Int16.Sums = []func(*Run){halves16AVXVNNI, lanes16AVXVNNI, wide16AVXVNNI}
	}
	return a
}

// avx512 returns the kernels in AVX-512. With vnni the kernels for 16 bits use the instruction
// VPDPWSSD in place of the two instructions VPMADDWD and VPADDD. With vbmi2 too, a single layer is
// summed in lanes of two transmitters.
func avx512(vnni, vbmi2 bool) Assembly {
	a := Assembly{
		Name:    "avx512",
		Int16:   Kernel{Format: Format16, Write: writeBlockAVX512, Prefetched: true, Pairs: true},
		Float32: Kernel{Format: Format32, Sums: []func(*Run){joint32AVX512, split32AVX512}, Write: writeBlockAVX512, Prefetched: true},
	}
	a.Int16.Sums = []func(*Run){joint16AVX512, split16AVX512}
	a.Int16.More = [maxMore][]func(*Run){{jointTwo16AVX512, splitTwo16AVX512}, {jointThree16AVX512, splitThree16AVX512}}
	a.Float32.More = [maxMore][]func(*Run){{jointTwo32AVX512, splitTwo32AVX512}, {jointThree32AVX512, splitThree32AVX512}}
	if vnni {
		a.Int16.Sums = []func(*Run){joint16VNNI, split16VNNI}
		a.Int16.More = [maxMore][]func(*Run){{jointTwo16VNNI, splitTwo16VNNI}, {jointThree16VNNI, splitThree16VNNI}}
		a.Float32.More = [maxMore][]func(*Run){{jointTwo32VNNI, splitTwo32VNNI}, {jointThree32VNNI, splitThree32VNNI}}
	}
	if vnni && vbmi2 {
		a.Int16.Sums = []func(*Run){joint16VBMI2, split16VBMI2}
	}
	return a
}

func joint16VBMI2(r *Run)
func split16VBMI2(r *Run)
func joint16VNNI(r *Run)
func split16VNNI(r *Run)
func joint16AVX512(r *Run)
func split16AVX512(r *Run)
func joint32AVX512(r *Run)
func split32AVX512(r *Run)

func jointTwo16VNNI(r *Run)
func splitTwo16VNNI(r *Run)
func jointTwo16AVX512(r *Run)
func splitTwo16AVX512(r *Run)
func jointTwo32VNNI(r *Run)
func splitTwo32VNNI(r *Run)
func jointTwo32AVX512(r *Run)
func splitTwo32AVX512(r *Run)

func jointThree16VNNI(r *Run)
func splitThree16VNNI(r *Run)
func jointThree16AVX512(r *Run)
func splitThree16AVX512(r *Run)
func jointThree32VNNI(r *Run)
func splitThree32VNNI(r *Run)
func jointThree32AVX512(r *Run)
func splitThree32AVX512(r *Run)

func writeBlockAVX512(dst *complex64, stride uintptr, acc *float32, unit float32)

func writeBlockAVX2(dst *complex64, stride uintptr, acc *float32, unit float32)

func halves16AVX2(r *Run)
func lanes16AVX2(r *Run)
func wide16AVX2(r *Run)

func halves16AVXVNNI(r *Run)
func lanes16AVXVNNI(r *Run)
func wide16AVXVNNI(r *Run)

func sum32AVX2(r *Run)
