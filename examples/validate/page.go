// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"context"
	_ "embed"
	"html/template"
	"os"
	"runtime/debug"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing/report"
	"github.com/isochron-imaging/isochron/tfm"
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
		Kernel      string
		Revision    string
		Headings    []string
		Tables      []table
		Works       []work
		Cautions    []string
	}{
		Date: date, Summary: summary(sections), Fails: count(sections).failed > 0,
		Environment: report.ThisEnvironment(), Revision: revision(), Headings: headings, Works: used(sections), Cautions: cautions,
	}
	for _, s := range sections {
		t := table{Title: s.title}
		for i := range s.rows {
			r := &s.rows[i]
			t.Lines = append(t.Lines, line{r.holds(), r.quantity, r.cells(), r.err})
		}
		p.Tables = append(p.Tables, t)
	}
	kernel, err := kernel()
	if err != nil {
		return err
	}
	p.Kernel = kernel
	var b bytes.Buffer
	if err := pageTemplate.Execute(&b, p); err != nil {
		return err
	}
	return os.WriteFile(name, b.Bytes(), 0o644)
}

// kernel returns the name of the kernel that sums images on this processor.
func kernel() (string, error) {
	s, err := read(testdata("block16"))
	if err != nil {
		return "", err
	}
	grid := tfm.Grid{Origin: mm(0, 20), Step: r3.Vec{X: 1e-4, Y: 1e-4, Z: 1e-4}, Cols: 1, Rows: 1, Slices: 1}
	plan, err := tfm.PlanView(context.Background(), s.Capture, s.setup, "L-L", grid, nil)
	if err != nil {
		return "", err
	}
	return plan.Kernel(), nil
}

// revision returns the revision of the sources that go build found in the version control, or an
// empty text. A program of go run does not know it.
func revision() string {
	info, _ := debug.ReadBuildInfo()
	if info == nil {
		return ""
	}
	settings := map[string]string{}
	for _, s := range info.Settings {
		settings[s.Key] = s.Value
	}
	text := settings["vcs.revision"]
	if text != "" && settings["vcs.modified"] == "true" {
		text += ", with changes"
	}
	return text
}
