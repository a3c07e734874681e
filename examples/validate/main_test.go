// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"bytes"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "write testdata/validate.txt")

// TestKept runs all groups and compares the text with testdata/validate.txt.
func TestKept(t *testing.T) {
	if testing.Short() {
		t.Skip("seconds: the default form runs it")
	}
	t.Chdir("../..") // the program is run from the top folder
	var out, complaints bytes.Buffer
	if code := run(nil, &out, &complaints); code != allHold {
		t.Errorf("exit code %d, want %d: %s%s", code, allHold, &complaints, failures(out.String()))
	}
	const name = "testdata/validate.txt"
	if *update {
		if err := os.WriteFile(name, out.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	kept, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	compare(t, strings.Split(string(kept), "\n"), strings.Split(out.String(), "\n"))
}

// failures returns the lines of the rows that fail.
func failures(text string) string {
	var all strings.Builder
	for line := range strings.Lines(text) {
		if strings.Contains(line, "FAILS") {
			all.WriteString(line)
		}
	}
	return all.String()
}

var gap = regexp.MustCompile(" {2,}")

// compare compares two texts. Words are equal. A result and its deviation may differ by a tenth of
// the limit of their row and by two units of their last digit, because other processors round
// otherwise.
func compare(t *testing.T, kept, got []string) {
	t.Helper()
	if len(kept) != len(got) {
		t.Fatalf("%d lines, kept %d: run the test with -update and say why", len(got), len(kept))
	}
	for i := range kept {
		if !alike(gap.Split(kept[i], -1), gap.Split(got[i], -1)) {
			t.Errorf("line %d\n got %s\nkept %s", i+1, got[i], kept[i])
		}
	}
}

func alike(kept, got []string) bool {
	if len(kept) != len(got) {
		return false
	}
	for i := range kept {
		if kept[i] == got[i] {
			continue
		}
		if len(kept) != len(headings)+1 || i != 3 && i != 4 { // the result and the deviation
			return false
		}
		a, errA := strconv.ParseFloat(kept[i], 64)
		b, errB := strconv.ParseFloat(got[i], 64)
		limit, errLimit := strconv.ParseFloat(kept[5], 64)
		allowed := limit/10 + 2*max(lastDigit(kept[i]), lastDigit(got[i]))
		if errors.Join(errA, errB, errLimit) != nil || !(math.Abs(a-b) <= allowed) {
			return false
		}
	}
	return true
}

// TestAlike checks that the comparison of texts can fail.
func TestAlike(t *testing.T) {
	const line = "  near field  16.892  16.89189  -0.00011  0.0005  mm  holds  published  book"
	for _, tt := range []struct {
		name, from, to string
		want           bool
	}{
		{"the same", "", "", true},
		{"the result, within a tenth of the limit", "16.89189", "16.89193", true},
		{"the result, beyond it", "16.89189", "16.89199", false},
		{"the verdict", "holds", "FAILS", false},
		{"the expected value", "16.892", "16.893", false},
		{"the limit", "0.0005", "0.0006", false},
		{"no result", "16.89189", "none", false},
	} {
		changed := strings.Replace(line, tt.from, tt.to, 1)
		if got := alike(gap.Split(line, -1), gap.Split(changed, -1)); got != tt.want {
			t.Errorf("%s: alike is %v, want %v", tt.name, got, tt.want)
		}
	}
}

// TestVerdict checks what holds and what fails.
func TestVerdict(t *testing.T) {
	for _, tt := range []struct {
		name, expected string
		limit, got     float64
		err            error
		want           string
	}{
		{"within the rounding of the source", "48.3", 0, 48.349, nil, "holds"},
		{"beyond the rounding of the source", "48.3", 0, 48.351, nil, "FAILS"},
		{"on the limit", "2", 0.5, 2.5, nil, "holds"},
		{"below the limit", "2", 0.5, 1.49, nil, "FAILS"},
		{"not a number", "2", 0.5, math.NaN(), nil, "FAILS"},
		{"a limit that is not a number", "2", math.NaN(), 2, nil, "FAILS"},
		{"an error", "2", 0.5, 2, io.ErrUnexpectedEOF, "FAILS"},
		{"no number is expected", "two", 0.5, 2, nil, "FAILS"},
		{"an exponent", "-1.20e-3", 0, -1.204e-3, nil, "holds"},
		{"an exponent, beyond", "-1.20e-3", 0, -1.206e-3, nil, "FAILS"},
	} {
		r := row{check: check{expected: tt.expected, limit: tt.limit, got: func() (float64, error) { return tt.got, tt.err }}}
		r.compute()
		if got := r.verdict(); got != tt.want {
			t.Errorf("%s: %s, want %s", tt.name, got, tt.want)
		}
	}
}

// TestWorks checks that every source begins with a work of the list, and that every work is used.
func TestWorks(t *testing.T) {
	seen := map[string]bool{}
	for _, g := range groups() {
		for _, c := range g.checks {
			name := workOf(c.source)
			seen[name] = true
			if !slices.ContainsFunc(works, func(w work) bool { return w.Name == name }) {
				t.Errorf("%s, %s: no work %q", g.title, c.quantity, name)
			}
			if c.basis == identity && c.limit == 0 {
				t.Errorf("%s, %s: an identity needs a limit", g.title, c.quantity)
			}
		}
	}
	for i, w := range works {
		if !seen[w.Name] {
			t.Errorf("work %q is not used", w.Name)
		}
		if i > 0 && works[i-1].Name >= w.Name {
			t.Errorf("work %q does not stand in alphabetical order", w.Name)
		}
	}
}

// TestRowsFile runs a file with a row for each computation. All rows hold. Then one expected value
// is wrong: its row fails, and the exit code says so.
func TestRowsFile(t *testing.T) {
	const name = "testdata/rows.json"
	g, err := readRows(name)
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range computations {
		if !strings.Contains(string(text), strconv.Quote(c.name)) {
			t.Errorf("%s has no row of %q", name, c.name)
		}
	}
	for _, s := range evaluate([]group{g}) {
		for i := range s.rows {
			if r := &s.rows[i]; !r.holds() {
				t.Errorf("%s: %v (%v), want %s", r.quantity, r.value, r.err, r.expected)
			}
		}
	}
	wrong := filepath.Join(t.TempDir(), "wrong.json")
	const row = `[{"quantity": "beam angle", "computation": "refraction angle",
		"inputs": {"angle": "36 deg", "from": "2330 m/s", "to": "3240 m/s"},
		"expected": "54.9 deg", "limit": "0.05 deg", "source": "invented for this test"}]`
	if err := os.WriteFile(wrong, []byte(row), 0o644); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	if code := run([]string{"-rows", wrong, "-only", "rows of"}, &out, io.Discard); code != rowsFail {
		t.Errorf("a wrong expected value: exit code %d, want %d", code, rowsFail)
	}
	// The option -only chooses tables of the library. It must not hide a row of the user that
	// fails.
	if code := run([]string{"-rows", wrong, "-only", "material: refraction"}, io.Discard, io.Discard); code != rowsFail {
		t.Errorf("a wrong expected value with another table: exit code %d, want %d", code, rowsFail)
	}
	if code := run([]string{"-rows", wrong, "-only", "no such table"}, io.Discard, io.Discard); code != cannotRun {
		t.Errorf("a title that no table has: exit code %d, want %d", code, cannotRun)
	}
	for _, want := range []string{"54.9      54.8203  -0.08      0.05   deg   FAILS", "1 row: 0 hold, 1 fail"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("the text lacks %q:\n%s", want, &out)
		}
	}
}

// TestRowErrors checks that a bad row names the field, the value and what is allowed.
func TestRowErrors(t *testing.T) {
	const good = `[{"quantity": "a", "computation": "near field length", "inputs": {"diameter": "10 mm",
		"frequency": "4 MHz", "speed": "5920 m/s"}, "expected": "16.89 mm", "limit": "0.01 mm", "source": "b"}]`
	for _, tt := range []struct{ name, from, to, want string }{
		{"good", "", "", ""},
		{"no array", good, "{}", "want a JSON array of rows"},
		{"a number without quotes", `"10 mm"`, "10", "inputs: number: want a text in quotes"},
		{"no row", good, "[]", "want at least one row"},
		{"more behind the array", "}]", "}] []", "want nothing behind"},
		{"unknown field", `"limit"`, `"tolerance"`, `unknown field "tolerance"`},
		{"no quantity", `"a"`, `" "`, "quantity: want a text"},
		{"no source", `"b"`, `""`, "source: want a text"},
		{"unknown computation", "near field length", "near field", `computation: "near field": want one of: refraction angle, `},
		{"unknown input", `"speed"`, `"velocity"`, `inputs: "velocity": want only: diameter, frequency, speed`},
		{"missing input", `, "speed": "5920 m/s"`, ``, "inputs: speed: missing: want a number in m/s, km/s, mm/us"},
		{"unknown unit", "4 MHz", "4 Mc", `inputs: frequency: "4 Mc": want a finite number, a blank and a unit of: MHz, kHz, Hz`},
		{"unit of another dimension", "10 mm", "10 us", `inputs: diameter: "10 us"`},
		{"no unit", "10 mm", "10", `inputs: diameter: "10"`},
		{"no number", "10 mm", "ten mm", `inputs: diameter: "ten mm"`},
		{"not finite", "10 mm", "NaN mm", `inputs: diameter: "NaN mm"`},
		{"expected in a wrong unit", "16.89 mm", "16.89 deg", `expected: "16.89 deg": want a finite number, a blank and a unit of: mm, m, um`},
		{"a limit of 0", "0.01 mm", "0 mm", `limit: "0 mm": want a number above 0`},
		{"no limit", "0.01 mm", "", `limit: "": want a finite number`},
	} {
		name := filepath.Join(t.TempDir(), "rows.json")
		if err := os.WriteFile(name, []byte(strings.Replace(good, tt.from, tt.to, 1)), 0o644); err != nil {
			t.Fatal(err)
		}
		_, err := readRows(name)
		if tt.want == "" {
			if err != nil {
				t.Errorf("%s: %v", tt.name, err)
			}
			continue
		}
		if err == nil || !strings.Contains(err.Error(), tt.want) {
			t.Errorf("%s: error %v, want %q in it", tt.name, err, tt.want)
		}
	}
	if code := run([]string{"-rows", "no such file.json"}, io.Discard, io.Discard); code != cannotRun {
		t.Errorf("no file: exit code %d, want %d", code, cannotRun)
	}
}

// FuzzRow checks that no row panics, and that a row without an error has a number and a limit.
func FuzzRow(f *testing.F) {
	f.Add("near field length", "diameter", "10 mm", "16.89 mm", "0.01 mm")
	f.Add("critical angle", "from", "2.3e3 m/s", "30 deg", "1e-3 rad")
	f.Add("wave speed", "mode", "T", "-0 km/s", "1 m/s")
	f.Fuzz(func(t *testing.T, computation, name, value, expected, limit string) {
		inputs := map[string]string{name: value}
		for _, c := range computations {
			for _, in := range c.inputs {
				if c.name == computation && in.name != name {
					inputs[in.name] = plain(in)
				}
			}
		}
		e := entry{Quantity: "q", Computation: computation, Inputs: inputs, Expected: expected, Limit: limit, Source: "s"}
		c, err := e.check("no such folder")
		if err != nil {
			return
		}
		r := row{check: c}
		if r.compute(); !(r.allowed > 0) {
			t.Errorf("%+v: limit %v, want above 0", e, r.allowed)
		}
	})
}

// plain returns a value that an input may have.
func plain(in input) string {
	switch {
	case in.of != nil:
		return "1 " + in.of[0].name
	case in.choices != nil:
		return in.choices[0]
	}
	return "steel"
}

// TestNoAnswer checks that a row without a physical answer fails and says why.
func TestNoAnswer(t *testing.T) {
	e := entry{
		Quantity: "beyond the critical angle", Computation: "refraction angle", Source: "none",
		Inputs:   map[string]string{"angle": "40 deg", "from": "2330 m/s", "to": "5920 m/s"},
		Expected: "90 deg", Limit: "1 deg",
	}
	c, err := e.check("")
	if err != nil {
		t.Fatal(err)
	}
	r := row{check: c}
	if r.compute(); r.holds() || r.err == nil {
		t.Errorf("holds %v, error %v, want a failure with an error", r.holds(), r.err)
	}
}

// TestPage checks the page: every row and every heading is marked as such, nothing is fetched from
// elsewhere, a failure is visible, and the same date gives the same bytes.
func TestPage(t *testing.T) {
	t.Chdir("../..")
	sections := evaluate([]group{{"a <group>", []check{
		{"first", closedForm, "algebra", "2", "", 0.5, exactly(func() float64 { return 2 })},
		{"second", closedForm, "algebra", "2", "mm", 0.5, func() (float64, error) { return 0, errors.New("a <reason>") }},
	}}})
	pages := [2]string{}
	for i := range pages {
		name := filepath.Join(t.TempDir(), "page.html")
		if err := writePage(name, "2026-11-29", sections); err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		pages[i] = string(text)
	}
	page := pages[0]
	if page != pages[1] {
		t.Error("two pages of the same rows differ")
	}
	for _, tt := range []struct {
		text  string
		count int
	}{
		{`<th scope="row">`, 2}, {`<th scope="col"`, len(headings)}, {"<caption>a &lt;group&gt;</caption>", 1},
		{`<td class="fails">FAILS</td>`, 1}, {"<td>holds</td>", 1}, {"a &lt;reason&gt;", 1}, {"2026-11-29", 1},
		{"2 rows: 1 hold, 1 fail", 1}, {"prefers-color-scheme: dark", 1}, {"@media print", 1}, {`lang="en"`, 1},
		{"kernel of images: ", 1}, {"http", 0}, {"<script", 0}, {"<link", 0}, {"<img", 0}, {runtime.Version(), 1},
	} {
		if got := strings.Count(page, tt.text); got != tt.count {
			t.Errorf("%q stands %d times on the page, want %d", tt.text, got, tt.count)
		}
	}
}
