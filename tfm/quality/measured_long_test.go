//go:build long

// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package quality_test

import "testing"

// TestPredictedPointsLong compares many more points, of another seed.
func TestPredictedPointsLong(t *testing.T) { trial(t, 12, 2) }
