// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Validate compares the library with values from outside the library: printed values of standards,
// handbooks and papers, closed formulas, identities, calculations with general-purpose numerics,
// and full-wave simulations. It computes everything at run time and prints one table a package.
//
//	go run ./examples/validate
//	go run ./examples/validate -html validation.html -date 2026-11-29
//	go run ./examples/validate -rows my_rows.json
//	go run ./examples/validate -rows my_rows.json -only "rows of"
//
// Run it from the top folder: it reads the captures of testdata. It exits with 0 if all rows hold,
// with 1 if a row fails, and with 2 if it cannot run. The option -html writes a page for a quality
// folder. A program of go build names the revision of the sources on the page.
//
// A row holds if the deviation of the result from the expected value is at most the limit. The
// expected value stands as its source prints it; a closed form was evaluated without the library.
// Unless another limit is needed, the limit is half a unit of the last printed digit. A list of
// the sources follows the tables. Rows and sources say what is cited from memory: compare these
// values with the source before a decision depends on them.
//
// # Rows of your own
//
// With -rows, a JSON file adds rows, such as the position of a hole in a capture of your own
// reference block:
//
//	[
//	  {
//	    "quantity":    "hole 2 of block 17, depth of its face",
//	    "computation": "z of the peak",
//	    "inputs":      {"capture": "block17.json", "view": "L-L",
//	                    "x from": "-6 mm", "x to": "0 mm", "z from": "13 mm", "z to": "20 mm"},
//	    "expected":    "16.2 mm",
//	    "limit":       "0.2 mm",
//	    "source":      "drawing of block 17, revision B"
//	  }
//	]
//
// Each value is a number, a blank and a unit. The option -h lists the computations, their inputs
// and the units. [fmc/npy/FORMAT.md] describes the files of captures. The option -only chooses
// tables of the library; rows of your own are always checked.
//
// # What it does not show
//
// The table shows that the mathematics agrees with its sources. It does not show that a set-up, an
// array, an instrument or a procedure is fit for a part. See the cautions that it prints.
//
// [fmc/npy/FORMAT.md]: https://pkg.go.dev/github.com/isochron-imaging/isochron/fmc/npy
package main

import (
	"flag"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
)

func main() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }

// The exit codes.
const (
	allHold = iota
	rowsFail
	cannotRun
)

// run is the program with its arguments and outputs. It returns the exit code.
func run(args []string, out, complaints io.Writer) int {
	flags := flag.NewFlagSet("validate", flag.ContinueOnError)
	flags.SetOutput(complaints)
	rows := flags.String("rows", "", "add the rows of the JSON `file`")
	html := flags.String("html", "", "also write the tables as a page to the `file`")
	only := flags.String("only", "", "only the tables with this `text` in their titles, such as material, and all of -rows")
	date := flags.String("date", "", "the date on the page, any `text`")
	flags.Usage = func() {
		fmt.Fprintln(complaints, "Validate compares the library with values from outside the library.")
		flags.PrintDefaults()
		fmt.Fprintln(complaints, "A row of a file has the texts quantity, computation, expected, limit and source, and the object\n"+
			"inputs. A value is a number, a blank and a unit. The computations are")
		printComputations(complaints)
	}
	if err := flags.Parse(args); err != nil {
		if err == flag.ErrHelp {
			return allHold
		}
		return cannotRun
	}
	sections, err := validate(flags.Args(), *rows, *only)
	if err == nil {
		err = writeText(out, sections)
	}
	if err == nil && *html != "" {
		err = writePage(*html, *date, sections)
	}
	if err != nil {
		fmt.Fprintln(complaints, "validate:", err)
		return cannotRun
	}
	if count(sections).failed > 0 {
		return rowsFail
	}
	return allHold
}

// validate computes the groups of the library with a text in their titles, and all rows of the
// file, if there is one.
func validate(arguments []string, rows, only string) ([]section, error) {
	if len(arguments) > 0 {
		return nil, fmt.Errorf("argument %q: want none", arguments[0])
	}
	chosen := slices.DeleteFunc(groups(), func(g group) bool { return !strings.Contains(g.title, only) })
	found := len(chosen) > 0
	if rows != "" {
		own, err := readRows(rows)
		if err != nil {
			return nil, err
		}
		found = found || strings.Contains(own.title, only)
		chosen = append(chosen, own)
	}
	if !found {
		return nil, fmt.Errorf("-only %q: want a part of a title", only)
	}
	return evaluate(chosen), nil
}
