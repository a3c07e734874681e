// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package parallel

import (
	"context"
	"errors"
	"fmt"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"
)

// TestDo checks that each task is done once, by no more workers than asked for, with progress from
// the first task to the last.
func TestDo(t *testing.T) {
	for _, workers := range []int{0, 1, 2, 7} {
		for _, n := range []int{0, 1, 5, 100} {
			var made atomic.Int64
			times := make([]atomic.Int64, n)
			var shares []float64
			o := Options{Workers: workers, Progress: func(share float64) { shares = append(shares, share) }}
			err := Do(t.Context(), n, o, func() func(int) error {
				made.Add(1)
				return func(i int) error {
					times[i].Add(1)
					return nil
				}
			})
			want := min(n, workers)
			if workers == 0 {
				want = min(n, runtime.GOMAXPROCS(0))
			}
			if err != nil || int(made.Load()) != want || Workers(workers, n) != want {
				t.Errorf("%d tasks, %d workers: error %v, %d made and %d promised, want %d", n, workers, err, made.Load(), Workers(workers, n), want)
			}
			for i := range times {
				if done := times[i].Load(); done != 1 {
					t.Errorf("task %d of %d by %d workers done %d times", i, n, workers, done)
				}
			}
			if len(shares) != n {
				t.Fatalf("progress was reported %d times, want %d", len(shares), n)
			}
			for i, share := range shares {
				if share != float64(i+1)/float64(n) {
					t.Errorf("progress %v after %d tasks of %d", share, i+1, n)
				}
			}
		}
	}
}

// TestEach checks that each task is done once, by no more workers than asked for.
func TestEach(t *testing.T) {
	for _, limit := range []int{0, 1, 2, 7} {
		for _, n := range []int{0, 1, 5, 100} {
			var made atomic.Int64
			times := make([]atomic.Int64, n)
			Each(limit, n, func() func(int) {
				made.Add(1)
				return func(i int) { times[i].Add(1) }
			})
			if want := Workers(limit, n); int(made.Load()) != want {
				t.Errorf("%d tasks, limit %d: %d workers, want %d", n, limit, made.Load(), want)
			}
			for i := range times {
				if done := times[i].Load(); done != 1 {
					t.Errorf("task %d of %d, limit %d, done %d times", i, n, limit, done)
				}
			}
		}
	}
}

// TestFirstError checks that the error is the error of the lowest index, for any number of
// workers.
func TestFirstError(t *testing.T) {
	for _, workers := range []int{1, 2, 7} {
		err := Do(t.Context(), 100, Options{Workers: workers}, func() func(int) error {
			return func(i int) error {
				if i >= 30 && i%10 == 0 {
					return fmt.Errorf("task %d", i)
				}
				return nil
			}
		})
		if err == nil || err.Error() != "task 30" {
			t.Errorf("error %v with %d workers, want task 30", err, workers)
		}
	}
}

func TestEnd(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	done := 0
	err := Do(ctx, 1000, Options{Workers: 1}, func() func(int) error {
		return func(int) error {
			done++
			cancel()
			return nil
		}
	})
	if !errors.Is(err, context.Canceled) || done != 1 {
		t.Errorf("error %v after %d tasks, want the error of the context after 1", err, done)
	}
}

func TestNegative(t *testing.T) {
	err := Do(t.Context(), 1, Options{Workers: -1}, nil)
	if err == nil || !strings.Contains(err.Error(), "workers -1: want 0 for all cores") {
		t.Errorf("error %v, want one that names the workers", err)
	}
}
