//go:build long

// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health_test

import "testing"

func init() { long = true }

// TestTrialsLong runs the thousand trials that the limits were chosen with, and a thousand more.
func TestTrialsLong(t *testing.T) {
	t.Run("chosen with", func(t *testing.T) { trials(t, 0, 1000) })
	t.Run("judged by", func(t *testing.T) { trials(t, 7_000_000, 1000) })
}
