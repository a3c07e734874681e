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
	"io"

	"github.com/isochron-imaging/isochron/examples/internal/command"
)

func main() { program().Main() }

// program returns the program with a new set of flags.
func program() command.Command {
	var f flags
	return command.Command{
		Name:  "inspect",
		About: about,
		Flags: f.declare,
		Notes: notes,
		Run: func(ctx context.Context, out, progress io.Writer) error {
			o, err := f.parse()
			if err != nil {
				return err
			}
			return inspect(ctx, o, out, progress)
		},
	}
}
