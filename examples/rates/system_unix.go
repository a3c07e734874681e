// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build linux || darwin

package main

import (
	"runtime"
	"syscall"
	"time"
)

// peakMemory returns the most memory that this process has had so far, in bytes.
func peakMemory() int {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		panic(err) // no argument can be wrong
	}
	if runtime.GOOS == "darwin" {
		return int(used.Maxrss)
	}
	return int(used.Maxrss) << 10
}

// processor returns the time that the processor has worked for this process. Work of other
// programs does not count.
func processor() time.Duration {
	var used syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
		panic(err) // no argument can be wrong
	}
	return time.Duration(used.Utime.Nano() + used.Stime.Nano())
}
