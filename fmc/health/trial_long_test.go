//go:build long

// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import "testing"

// long tells whether the tests take their widest form: all captures, places and levels in place of a
// choice.
const long = true

// TestTrialsLong runs 300 of the thousand trials that the limits were chosen with, and 300 more.
func TestTrialsLong(t *testing.T) {
	t.Run("chosen with", func(t *testing.T) { trials(t, 0, 300) })
	t.Run("judged by", func(t *testing.T) { trials(t, 7_000_000, 300) })
}
