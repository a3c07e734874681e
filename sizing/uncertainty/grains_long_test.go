// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package uncertainty

import "testing"

func TestGrainShiftsLong(t *testing.T) {
	checkGrainShifts(t, grainError{"turn", 2, 0.03}, grainError{"eta", 1, 0.04}, grainError{"probe position", -1, 0.1e-3})
}
