// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package parallel

import "sync/atomic"

// Crew is a number of workers that do short stages, one after the other, many times. To wake a
// core that sleeps takes about as long as a short stage. So the caller is the first worker and
// begins at once. The others, the helpers, join as soon as their cores run, and look out for the
// next stage a while before they end. No stage waits for a helper that has not begun.
//
// Each worker begins with its own share of the tasks. The share is the same from stage to stage, so
// the cache of a core holds what its worker needs. Then the worker takes the tasks that others have
// not begun.
//
// A Crew allocates nothing once it is made. One goroutine uses it at a time.
type Crew struct {
	helpers []*helper
	// do and count are of the stage in hand. Only a worker that has a task reads them, because then
	// the stage cannot end.
	do    func(worker, task int)
	count int

	shares []share       // of each worker
	open   atomic.Int64  // tasks that have not ended
	ended  chan struct{} // one message for each stage

	// Helpers look at stage all the time, so it fills a line of the cache.
	_     [64]byte
	stage atomic.Int64 // number of the last stage that has begun
	_     [56]byte
}

// share counts the tasks of a share that nobody has begun. It fills a line of the cache.
type share struct {
	left atomic.Int64 // below 0 after workers asked in vain
	_    [56]byte
}

// helper is a worker other than the caller.
type helper struct {
	crew    *Crew
	worker  int
	running atomic.Bool
	run     func() // a method value, because starting a goroutine on a method would allocate
}

// patience is how often a worker looks for the next stage, or for the end of a stage, before its
// core may sleep: 10 to 40 µs for any number of workers. That is longer than the time between two
// stages of a frame, and short beside the time that a core takes to wake.
const patience = 20_000

// NewCrew returns a crew of the given number of workers, at least 1.
func NewCrew(workers int) *Crew {
	c := &Crew{shares: make([]share, workers), ended: make(chan struct{}, 1)}
	for worker := 1; worker < workers; worker++ {
		h := &helper{crew: c, worker: worker}
		h.run = h.help
		c.helpers = append(c.helpers, h)
	}
	return c
}

// Do calls do for the tasks 0 to count-1 and returns after the last has ended. A worker has one
// task at a time. The number of the worker is 0 for the caller.
func (c *Crew) Do(count int, do func(worker, task int)) {
	if count <= 0 {
		return
	}
	c.do, c.count = do, count
	c.open.Store(int64(count))
	for i := range c.shares {
		c.shares[i].left.Store(int64(c.first(i+1) - c.first(i)))
	}
	c.stage.Add(1)
	for _, h := range c.helpers[:min(len(c.helpers), count-1)] {
		h.start()
	}
	c.work(0)
	for range patience {
		select {
		case <-c.ended:
			return
		default:
		}
	}
	<-c.ended
}

// first returns the first task of share i.
func (c *Crew) first(i int) int { return i * c.count / len(c.shares) }

// work does the tasks of a worker's share, and then the tasks that others have not begun.
func (c *Crew) work(worker int) {
	for i := range c.shares {
		of := (worker + i) % len(c.shares)
		for left := &c.shares[of].left; ; {
			n := int(left.Add(-1))
			if n < 0 {
				break
			}
			c.do(worker, c.first(of+1)-1-n)
			if c.open.Add(-1) == 0 {
				c.ended <- struct{}{}
			}
		}
	}
}

// start starts h unless it runs.
func (h *helper) start() {
	if h.running.CompareAndSwap(false, true) {
		go h.run()
	}
}

// help works for one stage after the other, until none has begun for a while.
func (h *helper) help() {
	stage := int64(0) // the last that h looked for tasks in
	for i := 0; i < patience; i++ {
		if now := h.crew.stage.Load(); now != stage {
			stage = now
			h.crew.work(h.worker)
			i = 0
		}
	}
	h.running.Store(false)
	if h.crew.stage.Load() != stage { // a stage began before the line above, and took h for running
		h.start()
	}
}
