//go:build long

// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import "testing"

// TestFieldLong is TestField with many more reflectors.
func TestFieldLong(t *testing.T) { testField(t, 7, 5, 10) }
