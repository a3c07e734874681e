// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"time"

	"github.com/isochron-imaging/isochron/internal/check"
)

// On Linux the benchmarks of inTurns count the time of the processor, which does not contain the time
// of other programs. Run them with GOMAXPROCS=1.
func init() {
	start := time.Now()
	clock = func() time.Time { return start.Add(check.CPUTime()) }
}
