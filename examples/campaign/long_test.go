// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package main

// long tells whether the tests take their widest form.
const long = true

// again is the number of flaws that are measured again: a change that moves readings moves some of
// the first hundred, and all 500 take minutes.
func again() int { return 100 }

// imaged says that all captures are imaged again.
func imaged(string) bool { return true }
