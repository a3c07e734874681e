// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !long

package main

import "testing"

// tested says whether a capture is imaged: the first, and without -short the first in water.
func tested(capture int) bool {
	return capture == 0 || !testing.Short() && captures[capture].name == "pipe32"
}
