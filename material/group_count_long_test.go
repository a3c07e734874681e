//go:build long

// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import "testing"

// TestArrivalCountLong is TestArrivalCount with six solids of each kind.
func TestArrivalCountLong(t *testing.T) { countArrivals(t, 6) }
