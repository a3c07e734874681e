// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package window

import "golang.org/x/sys/cpu"

func init() {
	add := func(name string, a Assembly) {
		a.Name = name
		slower = append(slower, a)
	}
	if cpu.X86.HasAVX512BW && cpu.X86.HasAVX512VNNI {
		add("avx512 without VNNI", avx512(false, false))
	}
	if cpu.X86.HasAVX512VNNI && cpu.X86.HasAVX512VBMI2 {
		add("avx512 without VBMI2", avx512(true, false))
	}
	if cpu.X86.HasAVX2 && cpu.X86.HasAVXVNNI {
		add("avx2 without VNNI", avx2(false))
	}
}
