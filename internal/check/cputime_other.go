// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !linux

package check

import "time"

var begun = time.Now()

// CPUTime returns the time since the start of the process: this system has no other clock here.
func CPUTime() time.Duration { return time.Since(begun) }
