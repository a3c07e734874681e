// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !unix

package npy

import "os"

// mapFile returns nil: files are read, not mapped, on this platform.
func mapFile(*os.File, int64) []byte { return nil }

// unmap is never called, as nothing is mapped.
func unmap([]byte) error { return nil }

// syncFolder does nothing: a rename reaches the disk when the platform sees
// fit.
func syncFolder(string) error { return nil }
