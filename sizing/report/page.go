// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"bytes"
	"cmp"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html/template"
	"io"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/sizing/uncertainty"
)

//go:embed page.html
var pageText string

var pageTemplate = template.Must(template.New("page").Funcs(template.FuncMap{
	"mm":      func(v float64) string { return fixed(v*1e3, 2) },
	"db":      func(v float64) string { return fixed(v, 1) },
	"degrees": func(v float64) string { return fixed(v*180/math.Pi, 0) },
	"number":  func(v float64) string { return strconv.FormatFloat(v, 'g', 4, 64) },
	"along":   func(a flaw.Along) string { return alongText(&a) },
	"join":    func(names []string) string { return strings.Join(names, ", ") },
}).Parse(pageText))

// fixed returns v with a number of decimals, without a minus before a zero.
func fixed(v float64, decimals int) string {
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	if strings.Trim(text, "-0.") == "" {
		text = strings.TrimPrefix(text, "-")
	}
	return text
}

// WritePage writes the record as a page: one HTML file with all pictures inside, without scripts,
// for a screen and for A4 paper. Contents holds the content of each of Files by its name: a PNG
// picture, or an A-scan as JSON. The lines for names and signatures are empty.
//
// A content that is missing, or that does not have the SHA-256 of the record, is an error. If there
// is an error before the first byte, nothing is written.
func (r *Record) WritePage(w io.Writer, contents map[string][]byte) error {
	p, err := r.page(contents)
	if err != nil {
		return err
	}
	var text bytes.Buffer
	if err := pageTemplate.Execute(&text, p); err != nil {
		return fmt.Errorf("report: page: %w", err)
	}
	_, err = w.Write(text.Bytes())
	return err
}

// page is what the template shows.
type page struct {
	Record     *Record
	Setup      *setup
	Flaws      []pageFlaw
	Words      []word
	Factor     string
	Inputs     bool // the uncertainties contain what the set-up causes
	Figures    []figure
	Charts     []chart
	Views      []pageView
	SetupRows  []row
	RepeatRows []row
}

// row is a line of a table of names and values. Code marks text for machines.
type row struct {
	Name, Value string
	Code        bool
}

// figure is a picture.
type figure struct {
	Number               int
	Source               template.URL
	Alternative, Caption string
}

// page collects what the template shows.
func (r *Record) page(contents map[string][]byte) (*page, error) {
	if err := r.check(); err != nil {
		return nil, err
	}
	s, err := readSetup(r.Setup)
	if err != nil {
		return nil, err
	}
	p := &page{Record: r, Setup: s, Factor: fixed(coverage, 2), Inputs: r.Settings.Inputs != nil}
	p.SetupRows, p.RepeatRows = s.rows(), r.repeatRows()
	for i := range r.Flaws {
		p.Flaws = append(p.Flaws, pageFlaw{&r.Flaws[i]})
	}
	p.Words = wordsOf(r.Flaws)
	for i := range r.Views {
		p.Views = append(p.Views, newPageView(&r.Views[i]))
	}
	return p, p.addFiles(r.Files, contents)
}

// addFiles adds the pictures, and then the A-scans.
func (p *page) addFiles(files []File, contents map[string][]byte) error {
	number := 0
	for _, kind := range []string{".png", ".json"} {
		for _, f := range files {
			content, ok := contents[f.Name]
			if !ok {
				return fmt.Errorf("report: no content of file %s: want one for each file", f.Name)
			}
			if got := hashBytes(content); got != f.SHA256 {
				return fmt.Errorf("report: content of file %s with SHA-256 %s: want %s, as in the record", f.Name, got, f.SHA256)
			}
			if !strings.HasSuffix(f.Name, kind) {
				continue
			}
			number++
			if kind == ".png" {
				source := template.URL("data:image/png;base64," + base64.StdEncoding.EncodeToString(content))
				p.Figures = append(p.Figures, figure{number, source, f.Alternative, f.Caption})
				continue
			}
			c, err := newChart(content)
			if err != nil {
				return fmt.Errorf("report: file %s: %w", f.Name, err)
			}
			c.Number, c.Alternative, c.Caption = number, f.Alternative, f.Caption
			p.Charts = append(p.Charts, *c)
		}
	}
	return nil
}

// pageFlaw is a flaw with its texts.
type pageFlaw struct{ *flaw.Flaw }

// coverage is the coverage factor for 95 % of a normal distribution.
const coverage = 1.96

// MethodText returns how the length was read.
func (f pageFlaw) MethodText() string {
	if f.Method == flaw.NoMethod || f.Kind == flaw.Geometry {
		return "–"
	}
	return string(f.Method)
}

// Detailed reports whether the page lists the findings.
func (f pageFlaw) Detailed() bool {
	return (f.Kind == flaw.Planar || f.Kind == flaw.Point) && len(f.Reasons) > 0
}

// LengthText returns the length with its uncertainty and its meaning.
func (f pageFlaw) LengthText() string {
	switch {
	case f.Kind == flaw.Geometry:
		return "–"
	case f.LengthIs == tips.Unresolved:
		return "not resolved"
	case f.LengthIs == tips.LowerBound:
		return "at least " + within(f.Length*1e3, f.LengthU*1e3)
	}
	return within(f.Length*1e3, f.LengthU*1e3)
}

// AlongText returns the place along the scan and the length there, in mm.
func (f pageFlaw) AlongText() string {
	if f.Along == nil {
		return ""
	}
	return alongText(f.Along)
}

func alongText(a *flaw.Along) string {
	text := fmt.Sprintf("s %s to %s", fixed(a.From*1e3, 1), fixed(a.To*1e3, 1))
	switch {
	case a.LengthIs == tips.LowerBound:
		return fmt.Sprintf("%s, length at least %s", text, fixed(a.Least*1e3, 1))
	case a.Most == nil:
		return text + ", length not resolved"
	case a.LengthIs == tips.Unresolved:
		return fmt.Sprintf("%s, length not resolved: at most %s", text, fixed(*a.Most*1e3, 1))
	}
	return fmt.Sprintf("%s, length %s: %s to %s", text, fixed((a.To-a.From)*1e3, 1), fixed(a.Least*1e3, 1), fixed(*a.Most*1e3, 1))
}

// HasAlong reports whether a flaw has a place along the scan.
func (p *page) HasAlong() bool {
	return slices.ContainsFunc(p.Flaws, func(f pageFlaw) bool { return f.Along != nil })
}

// TiltText returns the tilt with its uncertainty, and a dash for an unknown direction.
func (f pageFlaw) TiltText() string {
	if f.TiltU >= math.Pi/2 || f.Kind == flaw.Geometry {
		return "–"
	}
	return within(f.Tilt*180/math.Pi, f.TiltU*180/math.Pi)
}

// budget is the result of a budget, and what contributes to it.
type budget struct{ Name, Result, Shares string }

// BudgetRows returns the budgets of a flaw in mm and degrees, with the share of each contribution
// to the variance, largest first. Shares below 1 % are left out.
func (f pageFlaw) BudgetRows() (rows []budget) {
	for _, b := range f.Budgets {
		switch b.Unit {
		case "m":
			b = b.In(1e3, "mm")
		case "rad":
			b = b.In(180/math.Pi, "°")
		}
		list := slices.Clone(b.Contributions)
		slices.SortStableFunc(list, func(x, y uncertainty.Contribution) int { return cmp.Compare(y.Share, x.Share) })
		var shares []string
		for _, c := range list {
			if math.Abs(c.Share) >= 0.01 {
				shares = append(shares, fmt.Sprintf("%s %.0f %%", c.Name, 100*c.Share))
			}
		}
		rows = append(rows, budget{b.Name, b.Result(0.95).String(), strings.Join(shares, ", ")})
	}
	return rows
}

// EndsText returns the places of the ends.
func (f pageFlaw) EndsText() string {
	if f.Ends == nil {
		return ""
	}
	a, b := f.Ends[0], f.Ends[1]
	return fmt.Sprintf("x %s, z %s and x %s, z %s", fixed(a[0]*1e3, 2), fixed(a[1]*1e3, 2), fixed(b[0]*1e3, 2), fixed(b[1]*1e3, 2))
}

// within returns a value with its uncertainty. The uncertainty has two significant digits, but at
// most two decimals, and the value as many decimals as the uncertainty.
func within(value, u float64) string {
	decimals := 2
	if u > 0 {
		decimals = min(2, max(0, 1-int(math.Floor(math.Log10(u)))))
	}
	return fixed(value, decimals) + " ± " + fixed(u, decimals)
}

// pageView is a view with its texts.
type pageView struct {
	*View
	Indications []pageIndication
	StateLines  []string
}

// newPageView returns the texts of a view.
func newPageView(v *View) pageView {
	p := pageView{View: v}
	for i := range v.Indications {
		p.Indications = append(p.Indications, pageIndication{&v.Indications[i]})
	}
	for _, name := range slices.Sorted(maps.Keys(v.States)) {
		p.StateLines = append(p.StateLines, fmt.Sprintf("%d pixels of the image may not show all that lies there: %s.", v.States[name], reason(name)))
	}
	return p
}

// NoiseText returns the level of the noise relative to the reference.
func (v pageView) NoiseText() string { return fixed(sizing.LevelDB(v.Noise, v.Reference), 1) }

// pageIndication is an indication with its remarks.
type pageIndication struct{ *Indication }

// Remarks returns what the flags of an indication mean.
func (in pageIndication) Remarks() string {
	var out []string
	add := func(ok bool, text string) {
		if ok {
			out = append(out, text)
		}
	}
	add(in.Wall != "", "echo of the "+in.Wall)
	if in.Resolution != nil {
		length, _, resolved := in.Size()
		add(resolved, "larger than the focus, length "+fixed(length*1e3, 2))
		add(!resolved, "not larger than the focus")
	}
	add(in.Edge, "touches the edge of the image")
	add(in.Merged, "several peaks in one area")
	add(in.Round, "round, without a direction")
	var states []string
	for _, name := range in.StateNames {
		states = append(states, reason(name))
	}
	add(states != nil, "may be larger or stronger: "+strings.Join(states, ", "))
	return strings.Join(out, "; ")
}
