// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stream

import (
	"slices"
	"sync"
	"time"
)

// Latency sums up the latencies of frames, from the return of the source to the delivery.
type Latency struct {
	Frames int           // number of frames that were delivered without an error
	Median time.Duration // of the last 1024 of these frames; the lower one of two middle values
	Worst  time.Duration // of all frames
}

// latencies collects latencies in bounded memory.
type latencies struct {
	lock   sync.Mutex
	frames int
	worst  time.Duration
	last   [1024]time.Duration
}

func (l *latencies) reset() {
	l.lock.Lock()
	defer l.lock.Unlock()
	l.frames, l.worst = 0, 0
}

func (l *latencies) add(d time.Duration) {
	l.lock.Lock()
	defer l.lock.Unlock()
	l.last[l.frames%len(l.last)] = d
	l.frames++
	l.worst = max(l.worst, d)
}

func (l *latencies) summary() Latency {
	l.lock.Lock()
	defer l.lock.Unlock()
	s := Latency{Frames: l.frames, Worst: l.worst}
	if n := min(l.frames, len(l.last)); n > 0 {
		sorted := slices.Sorted(slices.Values(l.last[:n]))
		s.Median = sorted[(n-1)/2]
	}
	return s
}
