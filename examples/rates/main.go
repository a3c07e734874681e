// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Rates measures how many images a second this machine computes. It also prints an upper limit: the
// speed at which a core reads from each level of memory.
//
//	go run ./examples/rates
//	go run ./examples/rates -cases A,B,C,D,E -turns 10
//
// The cases are the cases of the benchmarks of package tfm, in contact with steel. A rate is the
// median of several turns. In each turn, all functions that are compared run once. So the ratios
// hold even if other work sometimes slows the machine down.
package main

import (
	"context"
	"flag"
	"fmt"
	"io"
	"log"
	"os"
	"os/signal"
	"runtime"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/isochron-imaging/isochron/internal/number"
)

func main() {
	log.SetFlags(0)
	names := flag.String("cases", "A,B", "the `cases` to measure: letters from A to E, separated by commas")
	turns := flag.Int("turns", 5, "the `number` of turns, at least 1; each rate is the median of the turns")
	turn := flag.Duration("turn", 50*time.Millisecond, "the smallest `time` for which a turn measures each function")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Stdout, *names, *turns, *turn); err != nil {
		stop()
		log.Fatal(err)
	}
}

func run(ctx context.Context, w io.Writer, names string, turns int, turn time.Duration) error {
	if turns < 1 {
		return fmt.Errorf("%d turns: want at least 1", turns)
	}
	m := meter{turns: turns, turn: turn}
	fmt.Fprintf(w, "%s, %s/%s, %d cores\n\n",
		runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.GOMAXPROCS(0))
	m.ceilings(w)
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(table, "case\telements\ttraces\tpixels\tprecision\tkernel\t"+
		"images/s\tG lookups/s\tchain/s\tall cores\t")
	for _, name := range strings.Split(names, ",") {
		i := slices.IndexFunc(cases, func(c scenario) bool { return c.name == name })
		if i < 0 {
			return fmt.Errorf("case %q: want one of A to E", name)
		}
		if err := m.report(ctx, table, cases[i]); err != nil {
			return err
		}
	}
	return table.Flush()
}

// meter measures how often a second functions run.
type meter struct {
	turns int
	turn  time.Duration
}

// rates returns how often a second each function runs, as the median of the turns.
func (m meter) rates(functions ...func() error) ([]float64, error) {
	all := make([][]float64, len(functions))
	for range m.turns {
		for i, function := range functions {
			n, start := 0, time.Now()
			for n == 0 || time.Since(start) < m.turn {
				if err := function(); err != nil {
					return nil, err
				}
				n++
			}
			all[i] = append(all[i], float64(n)/time.Since(start).Seconds())
		}
	}
	rates := make([]float64, len(functions))
	for i, r := range all {
		rates[i] = number.Median(r)
	}
	return rates, nil
}
