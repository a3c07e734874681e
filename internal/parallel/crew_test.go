// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package parallel

import (
	"fmt"
	"sync/atomic"
	"testing"
	"time"
)

// TestCrew checks that each task of each stage is done once and before its stage ends, by a worker
// that does nothing else at the time, for stages that follow at once and after a pause.
func TestCrew(t *testing.T) {
	const stages = 3000
	for _, workers := range []int{1, 2, 3, 8} {
		t.Run(fmt.Sprint(workers), func(t *testing.T) {
			c := NewCrew(workers)
			busy := make([]atomic.Bool, workers)
			for stage := range stages {
				count := stage % 20
				long := -1
				if stage%500 == 19 {
					long = count - 1 // the last task, which no worker but a helper begins with
				}
				times := make([]int, count+1) // not atomic: the race detector sees a stage that ends early
				c.Do(count, func(worker, task int) {
					if busy[worker].Swap(true) {
						t.Errorf("worker %d has two tasks at a time", worker)
					}
					if task == long {
						time.Sleep(time.Millisecond) // longer than the caller looks for the end
					}
					times[task]++
					busy[worker].Store(false)
				})
				for task, n := range times[:count] {
					if n != 1 {
						t.Fatalf("stage %d of %d tasks: task %d was done %d times", stage, count, task, n)
					}
				}
				if times[count] != 0 {
					t.Fatalf("stage %d of %d tasks: one more was done", stage, count)
				}
			}
		})
	}
}

// TestCrewHelps checks that two tasks that wait for each other end, in stages that follow after all
// pauses up to a few times as long as a helper looks out. So no helper is lost that just ends.
func TestCrewHelps(t *testing.T) {
	c := NewCrew(2)
	for stage := range 4000 {
		meet := make(chan struct{})
		c.Do(2, func(_, task int) {
			if task == 0 {
				meet <- struct{}{}
			} else {
				<-meet
			}
		})
		for pause := time.Now(); time.Since(pause) < time.Duration(stage%1000)*100*time.Nanosecond; {
		}
	}
}

// TestCrewAlone checks that no stage waits for helpers that have not begun.
func TestCrewAlone(t *testing.T) {
	c := NewCrew(4)
	for _, h := range c.helpers {
		h.running.Store(true) // so that Do does not start them
	}
	done := 0
	c.Do(100, func(int, int) { done++ })
	if done != 100 {
		t.Errorf("%d tasks done, want 100", done)
	}
}

// TestCrewAllocates checks that a stage allocates nothing.
func TestCrewAllocates(t *testing.T) {
	c := NewCrew(2)
	var sum atomic.Int64
	do := func(_, task int) { sum.Add(int64(task)) }
	if n := testing.AllocsPerRun(100, func() { c.Do(10, do) }); n > 0 {
		t.Errorf("a stage allocates %v times, want none", n)
	}
}
