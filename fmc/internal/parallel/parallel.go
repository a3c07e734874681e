// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package parallel spreads tasks that do not depend on each other over all cores.
package parallel

import (
	"context"
	"runtime"
	"sync"
	"sync/atomic"
)

// Do calls the functions that worker makes, one for each core, for 0 to n-1. It begins
// no more tasks once one has failed or ctx has ended, and returns the error of the
// least number that failed, which does not depend on the cores, or that of ctx.
func Do(ctx context.Context, n int, worker func() func(i int) error) error {
	errs := make([]error, n)
	var next atomic.Int64
	var failed atomic.Bool
	var group sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), n) {
		group.Go(func() {
			work := worker()
			for !failed.Load() && ctx.Err() == nil {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				if errs[i] = work(i); errs[i] != nil {
					failed.Store(true)
				}
			}
		})
	}
	group.Wait()
	for _, err := range errs {
		if err != nil {
			return err
		}
	}
	return ctx.Err()
}
