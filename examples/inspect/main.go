// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Inspect images a capture of an array in one or more views, and reports the
// indications that it finds: where they lie, how large they are and which way
// they lean.
//
//	go run ./examples/inspect
//
// images the weld of testdata; -h lists the flags.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/signal"
)

// The exit codes.
const (
	exitOK    = 0
	exitUsage = 2 // bad flags or files
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// run is main with its surroundings as arguments.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	o, err := parseFlags(args)
	if errors.Is(err, flag.ErrHelp) {
		fmt.Fprint(stdout, usage())
		return exitOK
	}
	if err == nil {
		err = inspect(ctx, o, stdout, stderr)
	}
	if err != nil {
		fmt.Fprintln(stderr, "inspect:", err)
		return exitUsage
	}
	return exitOK
}
