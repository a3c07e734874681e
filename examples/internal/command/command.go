// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package command runs an example as a command: it reads flags, rejects unknown flags and
// arguments, stops at an interrupt, and prints an error on one line.
package command

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

// Command is a program with flags and without arguments.
type Command struct {
	Name  string
	About string              // first lines of -h
	Flags func(*flag.FlagSet) // declares the flags; nil for none
	Notes string              // last lines of -h
	// Run does the work. progress is io.Discard unless the output is a terminal.
	Run func(ctx context.Context, out, progress io.Writer) error
}

// The exit codes.
const (
	OK   = 0
	Fail = 2 // bad flags, files or data
)

// Main runs c with the arguments of the program, and ends the program.
func (c Command) Main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	os.Exit(c.Do(ctx, os.Args[1:], os.Stdout, os.Stderr))
}

// Do runs c and returns its exit code.
func (c Command) Do(ctx context.Context, args []string, stdout, stderr io.Writer) int {
	fs := flag.NewFlagSet(c.Name, flag.ContinueOnError)
	fs.SetOutput(io.Discard)
	if c.Flags != nil {
		c.Flags(fs)
	}
	err := fs.Parse(args)
	if errors.Is(err, flag.ErrHelp) {
		c.help(fs, stdout)
		return OK
	}
	if err == nil && fs.NArg() > 0 {
		err = fmt.Errorf("argument %q: want flags only; -h lists them", fs.Arg(0))
	}
	if err == nil {
		err = c.Run(ctx, stdout, watched(stderr))
	}
	if err != nil {
		fmt.Fprintf(stderr, "%s: %s\n", c.Name, OneLine(located(err).Error()))
		return Fail
	}
	return OK
}

// help writes the text of -h.
func (c Command) help(fs *flag.FlagSet, w io.Writer) {
	fmt.Fprintf(w, "%s\n\nUsage, from the top folder of the project:\n\n  go run ./examples/%s [flags]\n",
		strings.TrimSpace(c.About), c.Name)
	flags := 0
	fs.VisitAll(func(*flag.Flag) { flags++ })
	if flags > 0 {
		fmt.Fprint(w, "\nFlags:\n\n")
		fs.SetOutput(w)
		fs.PrintDefaults()
	}
	if c.Notes != "" {
		fmt.Fprintf(w, "\n%s\n", strings.TrimSpace(c.Notes))
	}
	fmt.Fprintf(w, "\nExit codes: %d done, %d bad flags, files or data.\n", OK, Fail)
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

// OneLine returns a text as one line without the characters that control a terminal.
func OneLine(text string) string {
	text = strings.Map(func(r rune) rune {
		if unicode.IsPrint(r) {
			return r
		}
		return ' '
	}, strings.ToValidUTF8(text, "\uFFFD"))
	return strings.Join(strings.Fields(text), " ")
}
