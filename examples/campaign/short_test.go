// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !long

package main

import "testing"

// long tells whether the tests take their widest form.
const long = false

// again is the number of flaws that are measured again: two or one in each set-up.
func again() int {
	if testing.Short() {
		return 3
	}
	return 4
}

// imaged says which captures are imaged again.
func imaged(name string) bool { return !testing.Short() && name == "tips_plate2" }
