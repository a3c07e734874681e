// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !unix

package npy

import "os"

// mapFrames returns nil: on this platform files are read and not mapped.
func mapFrames(*os.File, header, int) frameStore { return nil }

// syncFolder does nothing: the platform chooses when a rename reaches the disk.
func syncFolder(string) error { return nil }
