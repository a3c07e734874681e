// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"runtime"
	"time"
)

// key names a task.
type key struct {
	Job       string
	Way       string // of a frame or a geometry
	Precision string
	All       bool // on all cores; otherwise on one
}

// subject describes a task.
type subject struct {
	Key   key
	Units float64 // of work in one go: samples that are summed, multiply-adds, or bytes
	Bytes int     // of tables and traces
}

// task is work that is measured.
type task struct {
	subject
	do    func() error
	spent func() (filter, sum time.Duration) // nil unless the task is a frame
}

// measure is one turn of a task.
type measure struct {
	Seconds float64 // of one go: of the processor on one core, by the clock on all cores
	Sum     float64 // share of delay-and-sum
}

// measure runs a task for at least the time of a turn.
func (t task) measure(turn time.Duration) (m measure, err error) {
	now := clock
	if !t.Key.All {
		now = processor
		// With more threads, idle ones would look for work at the cost of the processor.
		defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	}
	var filter, sum time.Duration // the fastest: other programs interrupt some frames
	n, start := 0, now()
	for n == 0 || now()-start < turn {
		if err := t.do(); err != nil {
			return m, err
		}
		if t.spent != nil {
			f, s := t.spent()
			if n == 0 {
				filter, sum = f, s
			}
			filter, sum = min(filter, f), min(sum, s)
		}
		n++
	}
	m.Seconds = (now() - start).Seconds() / float64(n)
	if filter+sum > 0 {
		m.Sum = float64(sum) / float64(filter+sum)
	}
	return m, nil
}

var begin = time.Now()

// clock returns the time since the program began.
func clock() time.Duration { return time.Since(begin) }
