// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package examples

import "testing"

// TestCourseLong runs the programs that TestCourse leaves out.
func TestCourseLong(t *testing.T) { runCourse(t, dear) }
