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
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/isochron-imaging/isochron/internal/number"
)

// refusal returns the error of one cell: its line from 1, its column, its text and the allowed
// values.
func refusal(line int, column, text, want string) error {
	return fmt.Errorf("material: table line %d: %s %q: want %s", line, column, text, want)
}

// A tableColumn reads the cells of one column. read puts a cell, which is not empty, into an entry.
// It returns "", or the allowed values if it refuses the cell.
type tableColumn struct {
	name     string
	required bool
	read     func(e *Entry, cell string) (want string)
}

// tableColumns are the columns of a table, in the order of the documentation of [ReadTable].
var tableColumns = []tableColumn{
	{"name", true, func(e *Entry, s string) string { return readName(&e.Name, s) }},
	{"aliases", false, func(e *Entry, s string) string { return readAliases(&e.Aliases, s) }},
	{"class", true, func(e *Entry, s string) string { return readClass(&e.Class, s) }},
	{"condition", false, func(e *Entry, s string) string { return readText(&e.Condition, s) }},
	{"temperature_c", false, func(e *Entry, s string) string {
		return readNumber(&e.Celsius, s, -273.15)
	}},
	{"density_kg_m3", false, func(e *Entry, s string) string {
		return readQuantity(&e.Density, s)
	}},
	{"longitudinal_m_s", true, func(e *Entry, s string) string {
		return readQuantity(&e.Longitudinal, s)
	}},
	{"transverse_m_s", false, func(e *Entry, s string) string {
		return readQuantity(&e.Transverse, s)
	}},
	{"bar_m_s", false, func(e *Entry, s string) string { return readQuantity(&e.Bar, s) }},
	{"longitudinal_slope_m_s_k", false, func(e *Entry, s string) string {
		return readNumber(&e.LongitudinalSlope, s, -math.MaxFloat64)
	}},
	{"transverse_slope_m_s_k", false, func(e *Entry, s string) string {
		return readNumber(&e.TransverseSlope, s, -math.MaxFloat64)
	}},
	{"attenuation_longitudinal", false, func(e *Entry, s string) string {
		return readAttenuation(&e.LongitudinalAttenuation, s)
	}},
	{"attenuation_transverse", false, func(e *Entry, s string) string {
		return readAttenuation(&e.TransverseAttenuation, s)
	}},
	{"source", true, func(e *Entry, s string) string { return readText(&e.Source, s) }},
	{"note", false, func(e *Entry, s string) string { return readText(&e.Note, s) }},
}

// ReadTable reads a table of materials from comma-separated values (RFC 4180, UTF-8). It ignores
// lines that begin with #. The first line names the columns, in any order. Each further line is an
// entry:
//
//	name                      required  does not begin with #
//	aliases                             separated by semicolons
//	class                     required  metal, plastic, ceramic, glass, composite or liquid
//	condition                           grade, treatment or form
//	temperature_c                       °C
//	density_kg_m3                       quantity
//	longitudinal_m_s          required  quantity
//	transverse_m_s                      quantity, below √3/2 of longitudinal_m_s; empty for a liquid
//	bar_m_s                             quantity; empty for a liquid
//	longitudinal_slope_m_s_k            m/s per K
//	transverse_slope_m_s_k              m/s per K; empty for a liquid
//	attenuation_longitudinal            law
//	attenuation_transverse              law; empty for a liquid
//	source                    required
//	note
//
// A quantity is a finite number above 0, or such a number with its spread: "5920±30". The spread is
// 0 or above, and below the number. A law is one term or several terms separated by semicolons,
// each "dB/m@Hz^exponent": "0.22@1e6^2" is 0.22 dB/m at 1 MHz, and increases with the square of the
// frequency. An empty cell is a value that the source does not state. A column that is not required
// may be left out.
//
// The error of a refused cell names its line, its column, its text and the allowed values. Any
// other error names the line, or wraps the error of r.
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

// withoutMark returns r without the byte order mark that spreadsheets write before UTF-8 text.
func withoutMark(r io.Reader) io.Reader {
	const mark = "\ufeff"
	b := bufio.NewReader(r)
	if front, _ := b.Peek(len(mark)); string(front) == mark { // the next read returns any error
		b.Discard(len(mark))
	}
	return b
}

// readHeader returns the index in tableColumns of every cell of a line.
func readHeader(lines *csv.Reader, header []string) ([]int, error) {
	columns := make([]int, len(header))
	taken := make([]bool, len(tableColumns))
	for i, cell := range header {
		line, _ := lines.FieldPos(i)
		name := plainText(cell)
		c := slices.IndexFunc(tableColumns, func(c tableColumn) bool { return c.name == name })
		if c < 0 {
			return nil, refusal(line, "column", cell, "one that ReadTable lists")
		}
		if taken[c] {
			return nil, refusal(line, "column", cell, "each column once")
		}
		columns[i], taken[c] = c, true
	}
	for i, c := range tableColumns {
		if c.required && !taken[i] {
			line, _ := lines.FieldPos(0)
			return nil, refusal(line, "columns", strings.Join(header, ","), "a column "+c.name)
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
			return Entry{}, refusal(line, c.name, raw, "UTF-8 text")
		case cell != "":
			if want := c.read(&e, cell); want != "" {
				return Entry{}, refusal(line, c.name, raw, want)
			}
		case c.required:
			return Entry{}, refusal(line, c.name, raw, "a value")
		}
	}
	line, _ := lines.FieldPos(0)
	text := func(column string) string { // the cell of a column that the table has
		named := func(c int) bool { return tableColumns[c].name == column }
		return cells[slices.IndexFunc(columns, named)]
	}
	return e, checkEntry(&e, line, text)
}

// checkEntry returns the error of two cells of a line that exclude each other.
func checkEntry(e *Entry, line int, text func(column string) string) error {
	if e.Class == classLiquid {
		for _, c := range []struct {
			column string
			stated bool
		}{
			{"transverse_m_s", e.Transverse.Known()},
			{"bar_m_s", e.Bar.Known()},
			{"transverse_slope_m_s_k", !math.IsNaN(e.TransverseSlope)},
			{"attenuation_transverse", e.TransverseAttenuation != nil},
		} {
			if c.stated {
				return refusal(line, c.column, text(c.column), "no value for a liquid")
			}
		}
		return nil
	}
	limit := e.Longitudinal.Value * math.Sqrt(3) / 2
	if e.Transverse.Known() && !(e.Transverse.Value < limit) {
		want := fmt.Sprintf("a value below %.6g (√3/2 of the longitudinal speed)", limit)
		return refusal(line, "transverse_m_s", text("transverse_m_s"), want)
	}
	return nil
}

func readName(to *string, cell string) string {
	if strings.HasPrefix(cell, "#") {
		return "a name that does not begin with #, which marks a line to ignore"
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

func readClass(to *string, cell string) string {
	for _, class := range entryClasses {
		if strings.EqualFold(cell, class) {
			*to = class
			return ""
		}
	}
	return strings.Join(entryClasses, ", ")
}

func readNumber(to *float64, cell string, low float64) string {
	v, err := strconv.ParseFloat(cell, 64)
	if err != nil || !(v >= low) || !number.Finite(v) {
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
	q.Value, err = strconv.ParseFloat(strings.TrimSpace(value), 64)
	if err != nil || !number.Positive(q.Value) {
		return want
	}
	if hasSpread {
		q.Spread, err = strconv.ParseFloat(strings.TrimSpace(spread), 64)
		if err != nil || !(q.Spread >= 0 && q.Spread < q.Value) {
			return want
		}
	}
	*to = q
	return ""
}

func readAttenuation(to *Attenuation, cell string) string {
	const want = "terms dB/m@Hz^exponent separated by semicolons, such as 0.22@1e6^2: " +
		"decibels and exponent finite, 0 or above, hertz finite, above 0"
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
