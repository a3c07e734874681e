// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"time"

	"github.com/isochron-imaging/isochron/internal/number"
)

// hidden lists settings of GODEBUG that hide instructions of the processor, so that the next best
// kernel sums. The processor of arm64 has a kernel that nothing hides.
var hidden = []string{"", "cpu.avx512f=off", "cpu.avx512f=off,cpu.avx2=off"}

// kernel is a process that measures one kernel.
type kernel struct {
	hello
	command *exec.Cmd
	in      io.WriteCloser
	out     *json.Decoder
	turns   [][]measure // of each turn, of each task
}

// startKernels starts a process for each kernel that this processor can run, the fastest first.
// stop ends them.
func startKernels(ctx context.Context, cases string) (kernels []*kernel, stop func(), err error) {
	ctx, cancel := context.WithCancel(ctx)
	stop = func() {
		cancel()
		for _, k := range kernels {
			_ = k.command.Wait() // the process was killed
		}
	}
	known := make(map[string]bool)
	for _, setting := range hidden {
		k, err := startKernel(ctx, setting, cases)
		if err != nil {
			stop()
			return nil, nil, err
		}
		kernels = append(kernels, k)
		if known[k.Kernel] {
			kernels = kernels[:len(kernels)-1]
			if err := errors.Join(k.in.Close(), k.command.Wait()); err != nil {
				stop()
				return nil, nil, err
			}
		}
		known[k.Kernel] = true
	}
	return kernels, stop, nil
}

// startKernel starts this program as a process that serves, with a setting of GODEBUG.
func startKernel(ctx context.Context, setting, cases string) (*kernel, error) {
	program, err := os.Executable()
	if err != nil {
		return nil, err
	}
	k := &kernel{command: exec.CommandContext(ctx, program, "-serve", "-cases", cases)}
	k.command.Env = append(os.Environ(), "GODEBUG="+strings.Trim(os.Getenv("GODEBUG")+","+setting, ","))
	complaints := new(strings.Builder)
	k.command.Stderr = complaints
	if k.in, err = k.command.StdinPipe(); err != nil {
		return nil, err
	}
	out, err := k.command.StdoutPipe()
	if err != nil {
		return nil, err
	}
	if err := k.command.Start(); err != nil {
		return nil, err
	}
	k.out = json.NewDecoder(bufio.NewReader(out))
	if err := k.out.Decode(&k.hello); err != nil {
		return nil, fmt.Errorf("%w: %v: %s", err, k.command.Wait(), complaints)
	}
	return k, nil
}

// measure does one turn of all tasks.
func (k *kernel) measure(turn time.Duration) error {
	if err := json.NewEncoder(k.in).Encode(turn); err != nil {
		return err
	}
	measures := make([]measure, len(k.Subjects))
	if err := k.out.Decode(&measures); err != nil {
		return err
	}
	k.turns = append(k.turns, measures)
	return nil
}

// result is the medians of a task over the turns.
type result struct {
	subject
	seconds float64 // of one go
	sum     float64 // of delay-and-sum in one go, in s
}

// rate returns the units of r in a second.
func (r result) rate() float64 { return r.Units / r.seconds }

// of returns the result of a task, and whether k has the task.
func (k *kernel) of(want key) (r result, ok bool) {
	for i, s := range k.Subjects {
		if s.Key != want {
			continue
		}
		var seconds, sums []float64
		for _, turn := range k.turns {
			seconds, sums = append(seconds, turn[i].Seconds), append(sums, turn[i].Seconds*turn[i].Sum)
		}
		return result{s, number.Median(seconds), number.Median(sums)}, true
	}
	return result{}, false
}
