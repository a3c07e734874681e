// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Rates measures how fast this machine images, and what bounds it. It takes about a minute.
//
//	go run ./examples/rates
//	go run ./examples/rates -markdown
//	go run ./examples/rates -large
//
// A rate is the number of samples that are summed in a second. Each sample belongs to one pair of
// elements and one pixel, and is interpolated between two samples of the trace. Case A has 16
// elements in a half matrix, and 256 × 256 pixels. Case B has 64 elements in a full matrix, and as
// many pixels. In a full matrix both directions of a pair count, although the library sums their
// traces first.
//
// "Sum" is delay-and-sum alone. "Frame" is the whole way from 16-bit samples to levels in dB. The
// rows are the kernels that this processor can run, in both precisions. Each number is the median
// of several turns, in which all kernels alternate. Rates of one core count the time of the
// processor on Linux and macOS, so other programs do not count. Rates of all cores count the time
// of the clock: close other programs.
//
// The ceilings are loops that only multiply and add, and loops that only read memory, on one core.
// The last line compares the fastest kernel with them, and with the same kernel on a piece of the
// image that stays in the second cache. The picture shows the rates as bars.
//
// With -large it measures jobs of up to 128 elements in a full matrix and 1,024 × 1,024 pixels,
// and slabs of a volume under 32 × 32 elements. This takes about five minutes and 12 GB. The
// picture shows the time of each job against its number of samples.
//
// The samples are noise, and the set-ups are invented. The values do not change the rates, except
// where echoes are clipped or traces are too short.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"os"
	"os/signal"
	"time"

	"github.com/isochron-imaging/isochron/tfm/picture"
)

func main() {
	log.SetFlags(0)
	if err := command(os.Args[1:], os.Stdout); err != nil {
		log.Fatal(err)
	}
}

// settings holds the flags.
type settings struct {
	out      string
	cases    string
	turns    int
	turn     time.Duration
	markdown bool
}

func command(args []string, w io.Writer) error {
	var s settings
	fs := flag.NewFlagSet("rates", flag.ExitOnError)
	fs.StringVar(&s.out, "out", "rates.png", "the picture `FILE`")
	fs.StringVar(&s.cases, "cases", "A,B", "the `CASES` to measure")
	fs.IntVar(&s.turns, "turns", 5, "the `NUMBER` of turns, at least 1; each rate is the median of the turns")
	fs.DurationVar(&s.turn, "turn", 20*time.Millisecond, "the least `TIME` of each function in a turn")
	fs.BoolVar(&s.markdown, "markdown", false, "print tables in Markdown")
	large := fs.Bool("large", false, "measure large jobs instead")
	serving := fs.Bool("serve", false, "used by the program itself: measure the kernel of this process")
	if err := fs.Parse(args); err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	switch {
	case *serving:
		return serve(ctx, w, os.Stdin, s.cases)
	case *large:
		return runLarge(ctx, w, s)
	}
	return run(ctx, w, s)
}

func run(ctx context.Context, w io.Writer, s settings) error {
	if s.turns < 1 {
		return fmt.Errorf("%d turns: want at least 1", s.turns)
	}
	kernels, stop, err := startKernels(ctx, s.cases)
	if err != nil {
		return err
	}
	defer stop()
	for range s.turns {
		for _, k := range kernels {
			if err := k.measure(s.turn); err != nil {
				return err
			}
		}
	}
	fmt.Fprintf(w, "%s\n\n", machine())
	if err := report(w, kernels, s); err != nil {
		return err
	}
	if err := picture.WriteFile(s.out, bars(kernels, s.cases)); err != nil {
		return err
	}
	fmt.Fprintf(w, "\npicture: %s\n", s.out)
	return nil
}
