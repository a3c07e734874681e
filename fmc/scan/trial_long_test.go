//go:build long

// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import "testing"

// TestTrialsLong: the limits were chosen on seeds below 1000. The seeds here served for nothing
// else.
func TestTrialsLong(t *testing.T) { judgeTrials(t, 100000, 3000) }
