// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	_ "embed"
	"html/template"
	"os"

	"github.com/isochron-imaging/isochron/sizing/report"
)

//go:embed page.html
var pageText string

var pageTemplate = template.Must(template.New("page").Parse(pageText))

// writePage writes the tables as a page that needs no other file.
func writePage(name, date string, sections []section) error {
	type line struct {
		Holds    bool
		Quantity string
		Cells    []string
		Error    error
	}
	type table struct {
		Title string
		Lines []line
	}
	p := struct {
		Date        string
		Summary     string
		Fails       bool
		Environment report.Environment
		Headings    []string
		Tables      []table
		Works       []work
		Cautions    []string
	}{
		Date: date, Summary: summary(sections), Fails: count(sections).failed > 0,
		Environment: report.ThisEnvironment(), Headings: headings, Works: used(sections), Cautions: cautions,
	}
	for _, s := range sections {
		t := table{Title: s.title}
		for i := range s.rows {
			r := &s.rows[i]
			t.Lines = append(t.Lines, line{r.holds(), r.quantity, r.cells(), r.err})
		}
		p.Tables = append(p.Tables, t)
	}
	var b bytes.Buffer
	if err := pageTemplate.Execute(&b, p); err != nil {
		return err
	}
	return os.WriteFile(name, b.Bytes(), 0o644)
}
