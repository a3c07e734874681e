// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// A TableError says which cell of a table [ReadTable] refused.
type TableError struct {
	Line   int    // line of the file, from 1
	Column string // name of the column
	Value  string // what the cell holds
	Want   string // what it may hold
}

// Error returns line, column, value and allowed range.
func (e *TableError) Error() string {
	return fmt.Sprintf("material: table line %d: %s %q: want %s", e.Line, e.Column, e.Value, e.Want)
}

// tableColumns are the columns of a table in the order in which they are
// written. Each reads its cell, which is not empty, into an entry and returns
// what it wants instead of a cell it refuses, or "".
var tableColumns = []struct {
	name     string
	required bool
	read     func(e *Entry, cell string) (want string)
	write    func(e *Entry) string
}{
	{"name", true,
		func(e *Entry, s string) string { return readName(&e.Name, s) },
		func(e *Entry) string { return e.Name }},
	{"aliases", false,
		func(e *Entry, s string) string { return readAliases(&e.Aliases, s) },
		func(e *Entry) string { return strings.Join(e.Aliases, ";") }},
	{"class", true,
		func(e *Entry, s string) string { return readClass(&e.Class, s) },
		func(e *Entry) string { return e.Class.String() }},
	{"condition", false,
		func(e *Entry, s string) string { return readText(&e.Condition, s) },
		func(e *Entry) string { return e.Condition }},
	{"temperature_c", false,
		func(e *Entry, s string) string { return readNumber(&e.Celsius, s, -273.15) },
		func(e *Entry) string { return writeNumber(e.Celsius) }},
	{"density_kg_m3", false,
		func(e *Entry, s string) string { return readQuantity(&e.Density, s) },
		func(e *Entry) string { return writeQuantity(e.Density) }},
	{"longitudinal_m_s", true,
		func(e *Entry, s string) string { return readQuantity(&e.Longitudinal, s) },
		func(e *Entry) string { return writeQuantity(e.Longitudinal) }},
	{"transverse_m_s", false,
		func(e *Entry, s string) string { return readQuantity(&e.Transverse, s) },
		func(e *Entry) string { return writeQuantity(e.Transverse) }},
	{"bar_m_s", false,
		func(e *Entry, s string) string { return readQuantity(&e.Bar, s) },
		func(e *Entry) string { return writeQuantity(e.Bar) }},
	{"longitudinal_slope_m_s_k", false,
		func(e *Entry, s string) string { return readNumber(&e.LongitudinalSlope, s, -math.MaxFloat64) },
		func(e *Entry) string { return writeNumber(e.LongitudinalSlope) }},
	{"transverse_slope_m_s_k", false,
		func(e *Entry, s string) string { return readNumber(&e.TransverseSlope, s, -math.MaxFloat64) },
		func(e *Entry) string { return writeNumber(e.TransverseSlope) }},
	{"attenuation_longitudinal", false,
		func(e *Entry, s string) string { return readAttenuation(&e.LongitudinalAttenuation, s) },
		func(e *Entry) string { return writeAttenuation(e.LongitudinalAttenuation) }},
	{"attenuation_transverse", false,
		func(e *Entry, s string) string { return readAttenuation(&e.TransverseAttenuation, s) },
		func(e *Entry) string { return writeAttenuation(e.TransverseAttenuation) }},
	{"source", true,
		func(e *Entry, s string) string { return readText(&e.Source, s) },
		func(e *Entry) string { return e.Source }},
	{"note", false,
		func(e *Entry, s string) string { return readText(&e.Note, s) },
		func(e *Entry) string { return e.Note }},
}

// ReadTable reads a table of materials in comma-separated values (RFC 4180,
// UTF-8, lines that begin with # left out). The first line names the columns, in
// any order; each further line is an entry:
//
//	name                      required  no # in front
//	aliases                             separated by semicolons
//	class                     required  metal, plastic, ceramic, glass, composite or liquid
//	condition                           grade, treatment or form
//	temperature_c                       °C
//	density_kg_m3                       quantity
//	longitudinal_m_s          required  quantity
//	transverse_m_s                      quantity below √3/2 of the longitudinal speed; empty for a liquid
//	bar_m_s                             quantity; empty for a liquid
//	longitudinal_slope_m_s_k            m/s per K
//	transverse_slope_m_s_k              m/s per K; empty for a liquid
//	attenuation_longitudinal            law
//	attenuation_transverse              law; empty for a liquid
//	source                    required
//	note
//
// A quantity is a finite number above 0, or one with its spread, "5920±30", the
// spread from 0 to below the number. A law is one term or several separated by
// semicolons, each "dB/m@Hz^exponent": "0.22@1e6^2" is 0.22 dB/m at 1 MHz,
// growing with the square of the frequency. An empty cell is a value that the
// source does not state; columns that are not required may be left out.
//
// The error is a [*TableError] for a cell that is refused, and otherwise names
// the line, or wraps the error of r.
func ReadTable(r io.Reader) (Table, error) {
	lines := csv.NewReader(withoutMark(r))
	lines.Comment = '#'
	header, err := lines.Read()
	if errors.Is(err, io.EOF) {
		return Table{}, errors.New("material: table without a line that names the columns")
	}
	if err != nil {
		return Table{}, fmt.Errorf("material: table: %w", err)
	}
	columns, err := readHeader(lines, header)
	if err != nil {
		return Table{}, err
	}
	var entries []Entry
	for {
		cells, err := lines.Read()
		if errors.Is(err, io.EOF) {
			return newTable(entries), nil
		}
		if err != nil {
			return Table{}, fmt.Errorf("material: table: %w", err)
		}
		e, err := readEntry(lines, columns, cells)
		if err != nil {
			return Table{}, err
		}
		entries = append(entries, e)
	}
}

// withoutMark returns r without the byte order mark that spreadsheets put in
// front of UTF-8 text.
func withoutMark(r io.Reader) io.Reader {
	const mark = "\ufeff"
	b := bufio.NewReader(r)
	if front, _ := b.Peek(len(mark)); string(front) == mark { // the error comes again with the next read
		b.Discard(len(mark))
	}
	return b
}

// readHeader returns for every cell of a line its index in tableColumns.
func readHeader(lines *csv.Reader, header []string) ([]int, error) {
	position := make(map[string]int, len(tableColumns))
	for i, c := range tableColumns {
		position[c.name] = i
	}
	columns := make([]int, len(header))
	taken := make([]bool, len(tableColumns))
	for i, cell := range header {
		line, _ := lines.FieldPos(i)
		c, ok := position[plainText(cell)]
		if !ok {
			return nil, &TableError{line, "column", cell, "one that ReadTable lists"}
		}
		if taken[c] {
			return nil, &TableError{line, "column", cell, "each column once"}
		}
		columns[i], taken[c] = c, true
	}
	for i, c := range tableColumns {
		if c.required && !taken[i] {
			line, _ := lines.FieldPos(0)
			return nil, &TableError{line, "columns", strings.Join(header, ","), "a column " + c.name}
		}
	}
	return columns, nil
}

func readEntry(lines *csv.Reader, columns []int, cells []string) (Entry, error) {
	e := Entry{Celsius: math.NaN(), LongitudinalSlope: math.NaN(), TransverseSlope: math.NaN()}
	for i, raw := range cells {
		c := &tableColumns[columns[i]]
		line, _ := lines.FieldPos(i)
		cell := plainText(raw)
		switch {
		case !utf8.ValidString(raw):
			return Entry{}, &TableError{line, c.name, raw, "UTF-8 text"}
		case cell != "":
			if want := c.read(&e, cell); want != "" {
				return Entry{}, &TableError{line, c.name, raw, want}
			}
		case c.required:
			return Entry{}, &TableError{line, c.name, raw, "a value"}
		}
	}
	if err := checkEntry(&e); err != nil {
		err.Line, _ = lines.FieldPos(0)
		return Entry{}, err
	}
	return e, nil
}

// checkEntry returns what two cells of a line exclude together, or nil.
func checkEntry(e *Entry) *TableError {
	if e.Class == Liquid {
		const want = "no value for a liquid"
		switch {
		case e.Transverse.Known():
			return &TableError{Column: "transverse_m_s", Value: writeQuantity(e.Transverse), Want: want}
		case e.Bar.Known():
			return &TableError{Column: "bar_m_s", Value: writeQuantity(e.Bar), Want: want}
		case !math.IsNaN(e.TransverseSlope):
			return &TableError{Column: "transverse_slope_m_s_k", Value: writeNumber(e.TransverseSlope), Want: want}
		case e.TransverseAttenuation != nil:
			return &TableError{Column: "attenuation_transverse", Value: writeAttenuation(e.TransverseAttenuation), Want: want}
		}
		return nil
	}
	if limit := e.Longitudinal.Value * math.Sqrt(3) / 2; !(e.Transverse.Value < limit) {
		return &TableError{
			Column: "transverse_m_s", Value: writeQuantity(e.Transverse),
			Want: fmt.Sprintf("a value below %.6g (√3/2 of the longitudinal speed)", limit),
		}
	}
	return nil
}

func readName(to *string, cell string) string {
	if strings.HasPrefix(cell, "#") {
		return "a name that does not begin with #, the mark of a line to leave out"
	}
	return readText(to, cell)
}

func readText(to *string, cell string) string {
	*to = cell
	return ""
}

func readAliases(to *[]string, cell string) string {
	for alias := range strings.SplitSeq(cell, ";") {
		if alias = plainText(alias); alias != "" {
			*to = append(*to, alias)
		}
	}
	return ""
}

func readClass(to *Class, cell string) string {
	for c, name := range classNames {
		if strings.EqualFold(cell, name) {
			*to = Class(c)
			return ""
		}
	}
	return strings.Join(classNames[:], ", ")
}

func readNumber(to *float64, cell string, low float64) string {
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil || !(v >= low) || math.IsInf(v, 0) {
		if low == -math.MaxFloat64 {
			return "a finite number"
		}
		return fmt.Sprintf("a finite number, %v or above", low)
	}
	*to = v
	return ""
}

func readQuantity(to *Quantity, cell string) string {
	const want = "a finite number above 0, or such a number±spread with a spread from 0 to below it"
	value, spread, hasSpread := strings.Cut(cell, "±")
	var q Quantity
	var err error
	if q.Value, err = strconv.ParseFloat(strings.TrimSpace(value), 64); err != nil || !(q.Value > 0) || math.IsInf(q.Value, 0) {
		return want
	}
	if hasSpread {
		if q.Spread, err = strconv.ParseFloat(strings.TrimSpace(spread), 64); err != nil || !(q.Spread >= 0 && q.Spread < q.Value) {
			return want
		}
	}
	*to = q
	return ""
}

func readAttenuation(to *Attenuation, cell string) string {
	const want = "terms dB/m@Hz^exponent separated by semicolons, such as 0.22@1e6^2: decibels and exponent finite, 0 or above, hertz finite, above 0"
	var law Attenuation
	for term := range strings.SplitSeq(cell, ";") {
		decibels, rest, ok1 := strings.Cut(term, "@")
		frequency, exponent, ok2 := strings.Cut(rest, "^")
		if !ok1 || !ok2 {
			return want
		}
		var v [3]float64
		for i, s := range []string{decibels, frequency, exponent} {
			var err error
			if v[i], err = strconv.ParseFloat(strings.TrimSpace(s), 64); err != nil {
				return want
			}
		}
		law = append(law, PowerLaw{Alpha: v[0] / DecibelsPerNeper, Frequency: v[1], Exponent: v[2]})
	}
	if law.Validate() != nil {
		return want
	}
	*to = law
	return ""
}
