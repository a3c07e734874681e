// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Faults plants small faults in a package, one at a time, and lists those that its short tests do not notice:
// go run -C .ci/faults . -package wedge/graded -n 25 -seed 1. The sources are not changed: faults go in as overlays.
// Repeat a survivor with -only NUMBER and the same seed; -with also runs the tests of other packages, such as importers.
package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/signal"
	"slices"
	"strconv"
	"strings"
	"time"
)

func main() {
	var (
		root    = flag.String("root", "../..", "directory of the module that holds the package")
		target  = flag.String("package", "", "package to plant faults in, as a path below the root")
		with    = flag.String("with", "", "other packages whose tests also run, separated by commas")
		n       = flag.Int("n", 25, "number of faults that compile")
		seed    = flag.Uint64("seed", 1, "seed of the choice of faults")
		only    = flag.String("only", "", "numbers of the faults to plant, separated by commas; empty for all")
		timeout = flag.Duration("timeout", 2*time.Minute, "longest run of the tests of one package; a longer run counts as caught")
		memory  = flag.Int("memory", 4, "largest address space of a run in GiB; a run that needs more counts as caught")
	)
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, *target, *n, *seed, *only, &bench{
		root: *root, packages: packages(*target, *with), timeout: *timeout, memory: *memory,
	}); err != nil {
		fmt.Fprintln(os.Stderr, "faults:", err)
		os.Exit(1)
	}
}

// packages returns the package to change and the others to test.
func packages(target, with string) []string {
	list := []string{target}
	if with != "" {
		list = append(list, strings.Split(with, ",")...)
	}
	return list
}

// run plants faults until n of them compile, or those in only, and prints the outcome of each.
func run(ctx context.Context, target string, n int, seed uint64, only string, b *bench) error {
	if target == "" || n < 1 {
		return fmt.Errorf("package %q and n %d: want a package and at least one fault", target, n)
	}
	chosen, err := numbers(only)
	if err != nil {
		return err
	}
	all, err := faultsOf(ctx, b.root, target, seed)
	if err != nil {
		return err
	}
	if err := b.open(); err != nil {
		return err
	}
	defer b.close()
	if was, err := b.try(ctx, nil); err != nil || was != survived {
		return fmt.Errorf("the tests without a fault: %v, %v; want them to pass", was, err)
	}
	var count [3]int
	for i := range all {
		if len(chosen) > 0 && !slices.Contains(chosen, i+1) {
			continue
		}
		was, err := b.try(ctx, &all[i])
		if err != nil {
			return err
		}
		count[was]++
		fmt.Printf("%-16s %3d  %v\n", was, i+1, &all[i])
		if count[caught]+count[survived] == n {
			break
		}
	}
	fmt.Printf("%s, seed %d: %d caught, %d survived, %d do not compile\n", target, seed, count[caught], count[survived], count[uncompiled])
	return nil
}

// numbers reads numbers separated by commas.
func numbers(list string) ([]int, error) {
	if list == "" {
		return nil, nil
	}
	var out []int
	for field := range strings.SplitSeq(list, ",") {
		i, err := strconv.Atoi(field)
		if err != nil {
			return nil, fmt.Errorf("numbers of faults %q: %w", list, err)
		}
		out = append(out, i)
	}
	return out, nil
}
