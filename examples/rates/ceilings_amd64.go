// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package main

func read64(src *byte, lines int)
func read32(src *byte, lines int)
func multiplyAdd16(turns int)
func multiplyAdd8(turns int)

// fastest returns the loops with the widest vectors of a kernel.
func fastest(kernel string) loops {
	switch kernel {
	case "avx512":
		return loops{"vectors of 64 bytes", read64, multiplyAdd16, 16}
	case "avx2":
		return loops{"vectors of 32 bytes", read32, multiplyAdd8, 8}
	}
	return plain
}
