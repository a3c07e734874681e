// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"syscall"
	"time"
)

// On Linux the benchmarks of inTurns count the time of the processor, which does not contain the time
// of other programs. Run them with GOMAXPROCS=1.
func init() {
	start := time.Now()
	clock = func() time.Time {
		var used syscall.Rusage
		if err := syscall.Getrusage(syscall.RUSAGE_SELF, &used); err != nil {
			panic(err)
		}
		return start.Add(time.Duration(used.Utime.Nano() + used.Stime.Nano()))
	}
}
