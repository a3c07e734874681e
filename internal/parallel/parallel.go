// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package parallel spreads tasks that do not depend on each other over several workers.
package parallel

import (
	"context"
	"fmt"
	"runtime"
	"sync"
	"sync/atomic"
)

// Options says how [Do] spreads tasks. The zero value is one worker for each core.
type Options struct {
	Workers  int                 // largest number of tasks at a time; 0 stands for all cores
	Progress func(share float64) // called after each task, one call at a time; may be nil
}

// Do calls the functions that worker makes, one for each worker, for 0 to n-1. It starts no more
// tasks once one has failed or ctx has ended. The error is the error of the failed task with the
// lowest index, which does not depend on the number of workers, or else the error of ctx.
// Negative Workers are an error.
func Do(ctx context.Context, n int, o Options, worker func() func(i int) error) error {
	if err := Check(o.Workers); err != nil {
		return err
	}
	r := run{ctx: ctx, errs: make([]error, n), progress: o.Progress}
	var group sync.WaitGroup
	for range Workers(o.Workers, n) {
		group.Go(func() { r.tasks(worker()) })
	}
	group.Wait()
	for _, err := range r.errs {
		if err != nil {
			return err
		}
	}
	return ctx.Err()
}

// Each calls the functions that worker makes, one for each worker, for 0 to n-1. The limit is the
// largest number of tasks at a time, at least 0; 0 stands for all cores. It is [Do] for short
// tasks that cannot fail.
func Each(limit, n int, worker func() func(i int)) {
	var next atomic.Int64
	tasks := func() {
		work := worker()
		for i := int(next.Add(1)) - 1; i < n; i = int(next.Add(1)) - 1 {
			work(i)
		}
	}
	var group sync.WaitGroup
	for range Workers(limit, n) - 1 {
		group.Go(tasks)
	}
	if n > 0 {
		tasks() // the caller is a worker too
	}
	group.Wait()
}

// Check returns the error of a negative limit of workers.
func Check(limit int) error {
	if limit < 0 {
		return fmt.Errorf("workers %d: want 0 for all cores, or a number above 0", limit)
	}
	return nil
}

// Workers returns the number of workers that [Do] uses for n tasks.
func Workers(limit, n int) int {
	if limit == 0 {
		limit = runtime.GOMAXPROCS(0)
	}
	return min(limit, n)
}

// run is one call of [Do].
type run struct {
	ctx      context.Context
	errs     []error // of the tasks
	next     atomic.Int64
	failed   atomic.Bool
	progress func(share float64)
	lock     sync.Mutex // guards done, and calls of progress
	done     int
}

// tasks works on one task after the other until none is left.
func (r *run) tasks(work func(i int) error) {
	for !r.failed.Load() && r.ctx.Err() == nil {
		i := int(r.next.Add(1)) - 1
		if i >= len(r.errs) {
			return
		}
		if r.errs[i] = work(i); r.errs[i] != nil {
			r.failed.Store(true)
			return
		}
		r.report()
	}
}

// report reports the progress after one more task.
func (r *run) report() {
	if r.progress == nil {
		return
	}
	r.lock.Lock()
	defer r.lock.Unlock()
	r.done++
	r.progress(float64(r.done) / float64(len(r.errs)))
}
