// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !amd64 || purego

package window

// rowsInAssembly says that this build has no assembly for the values of blocks.
const rowsInAssembly = false

func writeValues(dst *float32, stride uintptr, values *float32, blocks int) {
	panic("window: not in this build")
}
