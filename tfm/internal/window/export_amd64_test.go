// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package window

import "golang.org/x/sys/cpu"

func init() {
	if cpu.X86.HasAVX512BW && cpu.X86.HasAVX512VNNI {
		withoutVNNI = append(withoutVNNI, avx512(false))
	}
	if cpu.X86.HasAVX2 && cpu.X86.HasAVXVNNI {
		withoutVNNI = append(withoutVNNI, avx2(false))
	}
}
