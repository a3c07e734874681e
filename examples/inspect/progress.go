// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"io"
	"time"
)

// stages measures the time of each stage, and shows the progress of a long stage.
type stages struct {
	out   io.Writer // for progress
	names []string
	times []time.Duration
	start time.Time
	shown time.Time
	open  bool // a line of progress is on the terminal
}

// The time before the first line of progress, and the time between lines.
const (
	patience = time.Second
	pause    = 200 * time.Millisecond
)

// begin starts a stage.
func (s *stages) begin(name string) {
	s.names = append(s.names, name)
	s.start = time.Now()
	s.shown = s.start.Add(patience - pause)
}

// progress shows the completed share of a stage. It begins the stage if it is new.
func (s *stages) progress(name string, share float64) {
	if len(s.names) == len(s.times) {
		s.begin(name)
	} else if s.names[len(s.names)-1] != name {
		s.end()
		s.begin(name)
	}
	if now := time.Now(); now.Sub(s.shown) >= pause {
		s.shown, s.open = now, true
		fmt.Fprintf(s.out, "\r%-24s %3.0f %%", s.names[len(s.names)-1], 100*share)
	}
}

// end ends the stage.
func (s *stages) end() {
	s.times = append(s.times, time.Since(s.start))
	if s.open {
		fmt.Fprint(s.out, "\r                              \r")
		s.open = false
	}
}

// print lists the stages.
func (s *stages) print(w io.Writer) {
	var total time.Duration
	for i, name := range s.names {
		fmt.Fprintf(w, "%-24s %8.1f ms\n", name, float64(s.times[i].Microseconds())/1e3)
		total += s.times[i]
	}
	fmt.Fprintf(w, "%-24s %8.1f ms\n", "all", float64(total.Microseconds())/1e3)
}
