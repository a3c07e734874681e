// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package parallel

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"sync/atomic"
	"testing"
)

// TestDo checks that each task is done once, by workers of their own, and that the error
// is that of the least number that fails, for any number of cores.
func TestDo(t *testing.T) {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(0))
	for _, cores := range []int{1, 2, 7} {
		runtime.GOMAXPROCS(cores)
		for _, n := range []int{0, 1, 5, 100} {
			var workers atomic.Int64
			times := make([]atomic.Int64, n)
			err := Do(context.Background(), n, func() func(int) error {
				workers.Add(1)
				return func(i int) error {
					times[i].Add(1)
					return nil
				}
			})
			if err != nil || workers.Load() != int64(min(cores, n)) {
				t.Errorf("%d tasks on %d cores: error %v, %d workers", n, cores, err, workers.Load())
			}
			for i := range times {
				if done := times[i].Load(); done != 1 {
					t.Errorf("task %d of %d on %d cores done %d times", i, n, cores, done)
				}
			}
		}
		err := Do(context.Background(), 100, func() func(int) error {
			return func(i int) error {
				if i >= 30 && i%10 == 0 {
					return fmt.Errorf("task %d", i)
				}
				return nil
			}
		})
		if err == nil || err.Error() != "task 30" {
			t.Errorf("error %v on %d cores, want that of task 30", err, cores)
		}
	}
}

func TestDoEnds(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	err := Do(ctx, 1000, func() func(int) error {
		return func(int) error {
			cancel()
			return nil
		}
	})
	if !errors.Is(err, context.Canceled) {
		t.Errorf("error %v after the end, want that of the context", err)
	}
}
