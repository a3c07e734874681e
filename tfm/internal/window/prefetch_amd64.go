// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !purego

package window

import "unsafe"

// prefetch loads the cache lines of bytes from p on into the second-level cache. It goes on before
// they have arrived, and it may name memory that does not exist.
//
//go:noescape
func prefetch(p unsafe.Pointer, bytes uintptr)
