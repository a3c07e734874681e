// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !amd64 || purego

package window

import "unsafe"

func prefetch(unsafe.Pointer, uintptr) {}
