// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"github.com/isochron-imaging/isochron/tfm"
)

// precisions in the order of the tables.
var precisions = []string{tfm.Fixed16.String(), tfm.Single.String()}

// table is a table of text.
type table struct{ rows [][]string } // the first row is the head

// add adds a row.
func (t *table) add(cells ...string) { t.rows = append(t.rows, cells) }

// write writes t in columns, or in Markdown.
func (t *table) write(w io.Writer, markdown bool) error {
	if !markdown {
		columns := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
		for _, row := range t.rows {
			fmt.Fprintln(columns, strings.Join(row, "\t")+"\t")
		}
		fmt.Fprintln(columns)
		return columns.Flush()
	}
	for i, row := range t.rows {
		fmt.Fprintf(w, "| %s |\n", strings.Join(row, " | "))
		if i == 0 {
			fmt.Fprintln(w, "|"+strings.Repeat(" --- |", len(row)))
		}
	}
	_, err := fmt.Fprintln(w)
	return err
}

// report writes all tables, and the line that says what bounds the sum.
func report(w io.Writer, kernels []*kernel, s settings) error {
	for _, t := range []*table{frames(kernels, s.cases), geometryTable(kernels), ceilingTable(kernels)} {
		if err := t.write(w, s.markdown); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintln(w, bound(kernels[0], s.cases))
	return err
}

// frames returns the table of images and whole frames.
func frames(kernels []*kernel, cases string) *table {
	t := new(table)
	t.add("case", "kernel", "precision", "sum: G samples/s", "images/s", "frame: images/s", "share of the sum", "all cores: images/s", "frames/s")
	for name := range strings.SplitSeq(cases, ",") {
		for _, k := range kernels {
			for _, precision := range precisions {
				image, _ := k.of(key{name, toImage, precision, false})
				frame, _ := k.of(key{name, toLevel, precision, false})
				row := []string{name, k.Kernel, precision, digits(image.Units / image.sum / 1e9), digits(1 / image.sum),
					digits(1 / frame.seconds), fmt.Sprintf("%.2f", image.sum/frame.seconds)}
				allImage, ok := k.of(key{name, toImage, precision, true})
				allFrame, _ := k.of(key{name, toLevel, precision, true})
				if ok {
					row = append(row, digits(1/allImage.sum), digits(1/allFrame.seconds))
				} else {
					row = append(row, "", "")
				}
				t.add(row...)
			}
		}
	}
	return t
}

// digits returns v with three digits, and whole numbers above.
func digits(v float64) string {
	if v >= 100 {
		return fmt.Sprintf("%.0f", v)
	}
	return fmt.Sprintf("%.3g", v)
}

// geometryTable returns the table of new geometries, in ms.
func geometryTable(kernels []*kernel) *table {
	t := new(table)
	t.add("new geometry of A", "kernel", "tables, ms", "plan, ms", "all cores: tables, ms", "plan, ms")
	for _, geometry := range geometries {
		for _, k := range kernels {
			row := []string{geometry.name, k.Kernel}
			for _, all := range []bool{false, true} {
				for _, way := range []string{toTable, toPlan} {
					cell := ""
					if r, ok := k.of(key{geometry.name, way, "", all}); ok {
						cell = digits(1e3 * r.seconds)
					}
					row = append(row, cell)
				}
			}
			t.add(row...)
		}
	}
	return t
}

// ceilingTable returns the table of the ceilings of one core.
func ceilingTable(kernels []*kernel) *table {
	t := new(table)
	t.add("one core with", multiplyAdds+", G/s")
	for i, name := range readNames {
		t.rows[0] = append(t.rows[0], fmt.Sprintf("reads %d KB (%s), GB/s", readSizes[i]>>10, name))
	}
	for _, k := range kernels {
		row := []string{k.Width}
		for _, name := range append([]string{multiplyAdds}, readNames...) {
			r, _ := k.of(key{Job: name})
			row = append(row, digits(r.rate()/1e9))
		}
		t.add(row...)
	}
	return t
}
