// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"runtime"
	"slices"
	"strings"
	"time"
)

// The processor decides which kernel sums, so a process measures one kernel. This program runs
// itself once for each kernel, and hides instructions of the processor from the others. The first
// process answers each line of its input with one turn of all its tasks. So the kernels take
// turns, and only one process works at a time.

// hello is the first line that a serving process writes.
type hello struct {
	Kernel   string
	Width    string // of the loops of the ceilings
	Subjects []subject
}

// serve reads the least time of a task in a turn, and answers with the measures of all tasks,
// until its input ends.
func serve(ctx context.Context, w io.Writer, r io.Reader, cases string) error {
	tasks, kernel, err := allTasks(ctx, cases)
	if err != nil {
		return err
	}
	out, in := json.NewEncoder(w), json.NewDecoder(r)
	greeting := hello{Kernel: kernel, Width: fastest(kernel).width}
	for _, t := range tasks {
		greeting.Subjects = append(greeting.Subjects, t.subject)
	}
	if err := out.Encode(greeting); err != nil {
		return err
	}
	for {
		var turn time.Duration
		if err := in.Decode(&turn); errors.Is(err, io.EOF) {
			return nil
		} else if err != nil {
			return err
		}
		measures := make([]measure, len(tasks))
		for i, t := range tasks {
			if measures[i], err = t.measure(turn); err != nil {
				return err
			}
		}
		if err := out.Encode(measures); err != nil {
			return err
		}
	}
}

// allTasks returns the tasks of this process, and the name of its kernel.
func allTasks(ctx context.Context, cases string) (tasks []task, kernel string, err error) {
	cores := runtime.GOMAXPROCS(0)
	tasks, kernel, err = near.tasks(ctx, []string{toImage}, 1)
	if err != nil {
		return nil, "", err
	}
	for name := range strings.SplitSeq(cases, ",") {
		i := slices.IndexFunc(jobs, func(j job) bool { return j.name == name })
		if i < 0 {
			return nil, "", fmt.Errorf("case %q: want A or B", name)
		}
		more, _, err := jobs[i].tasks(ctx, []string{toImage, toLevel}, cores)
		if err != nil {
			return nil, "", err
		}
		tasks = append(tasks, more...)
	}
	more, err := geometryTasks(ctx, cores)
	if err != nil {
		return nil, "", err
	}
	tasks = append(tasks, more...)
	return append(tasks, ceilings(fastest(kernel))...), kernel, nil
}
