// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build !linux && !darwin

package main

import (
	"runtime"
	"time"
)

// peakMemory returns the memory that this process has from the system now, in bytes.
func peakMemory() int {
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int(m.Sys)
}

// processor returns the time of the clock. Other programs then slow the rates down.
func processor() time.Duration { return clock() }
