// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"strconv"
	"strings"

	"github.com/isochron-imaging/isochron/sizing/flaw"
)

// WriteJSON writes the record. Numbers have as many digits as are needed to read back the same
// bits. A record that [Read] would refuse is an error that names the field, and then nothing is
// written.
func (r *Record) WriteJSON(w io.Writer) error {
	if err := r.check(); err != nil {
		return err
	}
	text, err := json.MarshalIndent(r, "", "  ")
	if err != nil {
		return err
	}
	_, err = w.Write(append(text, '\n'))
	return err
}

// columns are the columns of the table of flaws.
var columns = []struct {
	name string
	text func(f *flaw.Flaw) string
}{
	{"id", func(f *flaw.Flaw) string { return strconv.Itoa(f.ID) }},
	{"kind", func(f *flaw.Flaw) string { return string(f.Kind) }},
	{"method", func(f *flaw.Flaw) string { return string(f.Method) }},
	{"x_m", func(f *flaw.Flaw) string { return digits(f.X) }},
	{"z_m", func(f *flaw.Flaw) string { return digits(f.Z) }},
	{"end_1_x_m", func(f *flaw.Flaw) string { return end(f, 0, 0) }},
	{"end_1_z_m", func(f *flaw.Flaw) string { return end(f, 0, 1) }},
	{"end_2_x_m", func(f *flaw.Flaw) string { return end(f, 1, 0) }},
	{"end_2_z_m", func(f *flaw.Flaw) string { return end(f, 1, 1) }},
	{"length_m", func(f *flaw.Flaw) string { return digits(f.Length) }},
	{"length_u_m", func(f *flaw.Flaw) string { return digits(f.LengthU) }},
	{"length_is", func(f *flaw.Flaw) string { return string(f.LengthIs) }},
	{"tilt_rad", func(f *flaw.Flaw) string { return digits(f.Tilt) }},
	{"tilt_u_rad", func(f *flaw.Flaw) string { return digits(f.TiltU) }},
	{"place_u_m", func(f *flaw.Flaw) string { return digits(f.PlaceU) }},
	{"depth_m", func(f *flaw.Flaw) string { return digits(f.Depth) }},
	{"height_m", func(f *flaw.Flaw) string { return digits(f.Height) }},
	{"ligament_m", func(f *flaw.Flaw) string { return digits(f.Ligament) }},
	{"level_db", func(f *flaw.Flaw) string { return digits(f.LevelDB) }},
	{"snr_db", func(f *flaw.Flaw) string { return digits(f.SNRDB) }},
	{"complete", func(f *flaw.Flaw) string { return strconv.FormatBool(f.Complete) }},
	{"views", func(f *flaw.Flaw) string { return strings.Join(f.Views, "; ") }},
	{"indications", indications},
	{"along_from_m", func(f *flaw.Flaw) string { return along(f, func(a *flaw.Along) string { return digits(a.From) }) }},
	{"along_to_m", func(f *flaw.Flaw) string { return along(f, func(a *flaw.Along) string { return digits(a.To) }) }},
	{"along_length_is", func(f *flaw.Flaw) string { return along(f, func(a *flaw.Along) string { return string(a.LengthIs) }) }},
	{"along_least_m", func(f *flaw.Flaw) string { return along(f, func(a *flaw.Along) string { return digits(a.Least) }) }},
	{"along_most_m", func(f *flaw.Flaw) string { return along(f, most) }},
	{"explained_by", func(f *flaw.Flaw) string { return f.Explained }},
}

// WriteCSV writes the flaws as a table with one row each, for spreadsheets. The names of the
// columns are the names of the fields in SCHEMA.md. Unknown ends are empty. Numbers have the same
// digits as in the JSON form.
func (r *Record) WriteCSV(w io.Writer) error {
	if err := r.check(); err != nil {
		return err
	}
	rows := make([][]string, 1, 1+len(r.Flaws))
	for _, c := range columns {
		rows[0] = append(rows[0], c.name)
	}
	for i := range r.Flaws {
		var row []string
		for _, c := range columns {
			row = append(row, c.text(&r.Flaws[i]))
		}
		rows = append(rows, row)
	}
	return csv.NewWriter(w).WriteAll(rows)
}

// digits returns a number with as many digits as are needed to read back the same bits.
func digits(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// end returns a coordinate of an end, and an empty text without ends.
func end(f *flaw.Flaw, which, axis int) string {
	if f.Ends == nil {
		return ""
	}
	return digits(f.Ends[which][axis])
}

// along returns a text of the place along the scan, and an empty text without one.
func along(f *flaw.Flaw, text func(a *flaw.Along) string) string {
	if f.Along == nil {
		return ""
	}
	return text(f.Along)
}

// most returns the greatest length along the scan, and an empty text without a limit.
func most(a *flaw.Along) string {
	if a.Most == nil {
		return ""
	}
	return digits(*a.Most)
}

// indications returns the indications of a flaw, such as "T-T 1; TT-T 2".
func indications(f *flaw.Flaw) string {
	var names []string
	for _, in := range f.Indications {
		names = append(names, in.View+" "+strconv.Itoa(in.ID))
	}
	return strings.Join(names, "; ")
}
