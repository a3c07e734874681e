// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package window

import "golang.org/x/sys/cpu"

func init() {
	if all := converters(); len(all) > 0 {
		converter = all[0]
	}
}

// converters returns the functions for converter that this processor can run, the fastest first.
func converters() (all []func(*conversion) bool) {
	if cpu.X86.HasAVX512F && cpu.X86.HasAVX512DQ {
		all = append(all, convertAVX512)
	}
	if cpu.X86.HasAVX2 {
		all = append(all, convertAVX2)
	}
	return all
}

//go:noescape
func convertAVX512(c *conversion) (missing bool)

//go:noescape
func convertAVX2(c *conversion) (missing bool)
