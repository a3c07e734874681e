// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Inspect images a capture of an array in one or more views. It reports the position, the size and
// the tilt of each indication. It marks the echoes of the walls of the part as such.
//
//	go run ./examples/inspect
//
// images the weld of testdata. The flag -h lists the flags.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"unicode"
)

// The exit codes.
const (
	done = 0
	fail = 2 // bad flags, files or data
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	os.Exit(run(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// run runs the program and returns its exit code. An error is printed on one line.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	var f flags
	set := flag.NewFlagSet("inspect", flag.ContinueOnError)
	set.SetOutput(io.Discard)
	f.declare(set)
	err := set.Parse(args)
	switch {
	case errors.Is(err, flag.ErrHelp):
		help(set, stdout)
		return done
	case err == nil && set.NArg() > 0:
		err = fmt.Errorf("argument %q: want flags only; -h lists them", set.Arg(0))
	case err == nil:
		var o *options
		if o, err = f.parse(); err == nil {
			err = inspect(ctx, o, stdout, watched(stderr))
		}
	}
	if err != nil {
		fmt.Fprintf(stderr, "inspect: %s\n", oneLine(located(err).Error()))
		return fail
	}
	return done
}

// help writes the text of -h.
func help(set *flag.FlagSet, w io.Writer) {
	fmt.Fprintf(w, "%s\n\nUsage, from the top folder of the project:\n\n  go run ./examples/inspect [flags]\n\nFlags:\n\n",
		strings.TrimSpace(about))
	set.SetOutput(w)
	set.PrintDefaults()
	fmt.Fprintf(w, "\n%s\n\nExit codes: %d done, %d bad flags, files or data.\n", strings.TrimSpace(notes), done, fail)
}

// watched returns w if it is a terminal, and io.Discard otherwise.
func watched(w io.Writer) io.Writer {
	if f, ok := w.(*os.File); ok {
		if info, err := f.Stat(); err == nil && info.Mode()&os.ModeCharDevice != 0 {
			return w
		}
	}
	return io.Discard
}

// located adds the working folder to an error about a relative path.
func located(err error) error {
	var path *fs.PathError
	var link *os.LinkError
	name := ""
	switch {
	case errors.As(err, &path):
		name = path.Path
	case errors.As(err, &link):
		name = link.New
	}
	if name == "" || filepath.IsAbs(name) {
		return err
	}
	folder, wrong := os.Getwd()
	if wrong != nil {
		return err
	}
	return fmt.Errorf("%w (from the folder %s)", err, folder)
}

// oneLine returns a text as one line without the characters that control a terminal.
func oneLine(text string) string {
	text = strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return ' '
	}, strings.ToValidUTF8(text, "\uFFFD"))
	return strings.Join(strings.Fields(text), " ")
}
