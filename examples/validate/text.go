// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"
)

// headings are the headings of the columns of all tables.
var headings = []string{"quantity", "expected", "got", "deviation", "limit", "unit", "verdict", "basis", "source"}

// writeText writes the tables, one for each section, and a summary line.
func writeText(w io.Writer, sections []section) error {
	var b strings.Builder
	for _, s := range sections {
		fmt.Fprintf(&b, "%s\n\n", s.title)
		t := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
		fmt.Fprintln(t, "  "+strings.Join(headings, "\t"))
		for _, r := range s.rows {
			fmt.Fprintf(t, "  %s\t%s\n", r.quantity, strings.Join(r.cells(), "\t"))
		}
		if err := t.Flush(); err != nil {
			return err
		}
		for _, r := range s.rows {
			if r.err != nil {
				fmt.Fprintf(&b, "  %s: %v\n", r.quantity, r.err)
			}
		}
		b.WriteString("\n")
	}
	if all := used(sections); len(all) > 0 {
		b.WriteString("Sources\n\n")
		for _, k := range all {
			fmt.Fprintf(&b, "  %s: %s\n", k.Name, k.Citation)
		}
		b.WriteString("\n")
	}
	b.WriteString("What the tables do not show\n\n")
	for _, c := range cautions {
		fmt.Fprintf(&b, "  %s\n", c)
	}
	fmt.Fprintf(&b, "\n%s\n", summary(sections))
	_, err := io.WriteString(w, b.String())
	return err
}

// cells returns the cells of a row after the quantity.
func (r *row) cells() []string {
	got, deviation := "none", "none"
	if r.err == nil {
		got, deviation = r.number(r.value), "0"
		if !(math.Abs(r.deviation) < r.allowed/1000) {
			deviation = short(r.deviation)
		}
	}
	unit := r.unit
	if unit == "" {
		unit = "1"
	}
	return []string{r.expected, got, deviation, short(r.allowed), unit, r.verdict(), string(r.basis), r.source}
}

// short returns v with two significant digits, or as a whole number from 10 on.
func short(v float64) string {
	if math.Abs(v) >= 10 {
		return strconv.FormatFloat(v, 'f', 0, 64)
	}
	return strconv.FormatFloat(v, 'g', 2, 64)
}

// number returns v with digits down to a hundredth of the limit.
func (r *row) number(v float64) string {
	if math.Abs(v) < r.allowed/1000 {
		return "0"
	}
	digits := 3
	if r.allowed > 0 {
		digits = int(math.Ceil(math.Log10(math.Abs(v)/r.allowed))) + 2
	}
	return strconv.FormatFloat(v, 'g', min(max(digits, 3), 15), 64)
}

// A tally counts rows.
type tally struct {
	all, failed int
	of          map[basis]int
}

// count counts the rows of all sections.
func count(sections []section) tally {
	t := tally{of: map[basis]int{}}
	for _, s := range sections {
		for i := range s.rows {
			t.all++
			t.of[s.rows[i].basis]++
			if !s.rows[i].holds() {
				t.failed++
			}
		}
	}
	return t
}

// summary returns one line with the counts of all sections.
func summary(sections []section) string {
	t := count(sections)
	parts := []string{}
	for _, b := range []basis{published, closedForm, identity, calculated, fullWave, stated} {
		if t.of[b] > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", t.of[b], b))
		}
	}
	rows := "rows"
	if t.all == 1 {
		rows = "row"
	}
	return fmt.Sprintf("%d %s: %d hold, %d fail (%s)", t.all, rows, t.all-t.failed, t.failed, strings.Join(parts, ", "))
}
