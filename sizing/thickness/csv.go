// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package thickness

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
)

// columns are the columns of the CSV file, with their units.
var columns = []string{
	"row", "column", "s_m", "x_m", "state", "method",
	"thickness_m", "standard_uncertainty_m", "check_m", "level_db",
}

// WriteCSV writes a header with units, and one line for each cell, row by row. States and methods
// stand by name. A field without a number is empty.
func (m *Map) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	if err := out.Write(columns); err != nil {
		return err
	}
	for i, x := range m.Readings {
		row, column := i/len(m.X), i%len(m.X)
		line := []string{
			strconv.Itoa(row), strconv.Itoa(column), decimal(m.S[row], 9), decimal(m.X[column], 9),
			x.State.String(), "",
			decimal(x.Thickness, 6), decimal(x.Uncertainty, 3), decimal(x.Check, 6), decimal(x.Level, 4),
		}
		if !math.IsNaN(x.Thickness) {
			line[5] = x.Method.String()
		}
		if err := out.Write(line); err != nil {
			return fmt.Errorf("thickness: %w", err)
		}
	}
	out.Flush()
	return out.Error()
}

// decimal returns v with a number of significant digits, and nothing for NaN.
func decimal(v float64, digits int) string {
	if math.IsNaN(v) {
		return ""
	}
	return strconv.FormatFloat(v, 'g', digits, 64)
}
