// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package graded

import "testing"

// TestInterpolateLong compares tables with exact tables at 12,000 random pairs.
func TestInterpolateLong(t *testing.T) {
	for _, c := range tableCases(t) {
		c.compare(t, 2000, 3, 11, 18)
	}
}
