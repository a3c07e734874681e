// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build unix || windows

package check

import (
	"bufio"
	"errors"
	"os"
	"os/exec"
	"syscall"
	"testing"
	"time"
)

// Killed runs the present test of this binary in another process, with a variable of the
// environment set to value. Once the process has printed a line, Killed waits and kills it.
func Killed(t *testing.T, variable, value string, after time.Duration) {
	t.Helper()
	c := exec.Command(Must(os.Executable()), "-test.run=^"+t.Name()+"$", "-test.timeout=1m")
	c.Env = append(os.Environ(), variable+"="+value)
	out := Must(c.StdoutPipe())
	if err := c.Start(); errors.Is(err, syscall.ENOEXEC) {
		t.Skip("the test binary is of another machine than this: it runs in an emulator")
	} else if err != nil {
		t.Fatal(err)
	}
	_, err := bufio.NewReader(out).ReadString('\n')
	time.Sleep(after)
	if err := errors.Join(err, c.Process.Kill()); err != nil {
		t.Fatal(err)
	}
	if err := c.Wait(); c.ProcessState.Success() {
		t.Fatalf("the process ended by itself: %v", err)
	}
}
