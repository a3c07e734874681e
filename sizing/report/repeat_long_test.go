// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package report_test

import "testing"

// TestRepeatLong repeats the measurement of two views behind a wedge.
func TestRepeatLong(t *testing.T) {
	s := settings(14, 23, 6, 17, 0.15, "T-T", "TT-T")
	s.Floor = -15
	repeat(t, "weld32", s)
}
