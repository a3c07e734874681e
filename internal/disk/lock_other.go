// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !unix || solaris || aix

package disk

import "os"

// Lock does nothing on this platform.
func Lock(*os.File) error { return nil }
