// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"time"
)

// outcome is the result of the tests with a fault.
type outcome int

const (
	survived   outcome = iota // all tests passed
	caught                    // a test failed, or took too long
	uncompiled                // the fault does not compile, and is not counted
)

func (o outcome) String() string { return [...]string{"SURVIVED", "caught", "does not compile"}[o] }

// bench builds and runs the short tests of packages, the first of which has the faults.
type bench struct {
	root     string
	packages []string // below the root
	timeout  time.Duration
	memory   int // GiB

	work string // directory for the built files
}

// open makes the directory for the built files.
func (b *bench) open() (err error) {
	if b.root, err = filepath.Abs(b.root); err != nil {
		return err
	}
	b.work, err = os.MkdirTemp("", "faults")
	return err
}

func (b *bench) close() { os.RemoveAll(b.work) }

// try runs the tests with a fault, or without one if f is nil. The error is the error of ctx or of
// the file system.
func (b *bench) try(ctx context.Context, f *fault) (outcome, error) {
	overlay := map[string]string{}
	if f != nil {
		overlay[f.file] = filepath.Join(b.work, "changed.go")
		if err := os.WriteFile(overlay[f.file], f.changed(), 0o600); err != nil {
			return 0, err
		}
	}
	text, err := json.Marshal(map[string]any{"Replace": overlay})
	if err != nil {
		return 0, err
	}
	if err := os.WriteFile(filepath.Join(b.work, "overlay.json"), text, 0o600); err != nil {
		return 0, err
	}
	for _, name := range b.packages {
		was, err := b.test(ctx, name)
		if err != nil || was != survived {
			return was, err
		}
	}
	return survived, nil
}

// test builds and runs the tests of one package. Compiling is a separate step, to distinguish a
// fault that does not compile from a fault that a test catches.
func (b *bench) test(ctx context.Context, name string) (outcome, error) {
	binary := filepath.Join(b.work, "test")
	build := exec.CommandContext(ctx, "go", "test", "-c", "-vet=off", "-overlay", filepath.Join(b.work, "overlay.json"), "-o", binary, "./"+name)
	build.Dir = b.root
	if failed, err := fails(ctx, build); err != nil || failed {
		return uncompiled, err
	}
	// A fault in a loop can ask for all memory. So the shell sets a limit.
	limit := fmt.Sprintf("ulimit -v %d && exec \"$0\" \"$@\"", b.memory<<20)
	late, cancel := context.WithTimeout(ctx, b.timeout+10*time.Second)
	defer cancel()
	test := exec.CommandContext(late, "sh", "-c", limit, binary, "-test.short", "-test.failfast", "-test.timeout="+b.timeout.String())
	test.Dir = filepath.Join(b.root, name)
	if failed, err := fails(ctx, test); err != nil || failed {
		return caught, err
	}
	return survived, nil
}

// fails runs a command and reports whether it ended with a failure. The error is the error of ctx,
// or says that the command could not be started.
func fails(ctx context.Context, c *exec.Cmd) (bool, error) {
	err := c.Run()
	if ctx.Err() != nil {
		return false, ctx.Err()
	}
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		return false, err
	}
	return err != nil, nil
}
