// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package window

// rowsInAssembly says that writeValues exists.
const rowsInAssembly = true

// writeValues writes the values of blocks that stand beside each other, all pixels in the image.
// The rows of the image are stride bytes apart.
//
//go:noescape
func writeValues(dst *float32, stride uintptr, values *float32, blocks int)
