// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
)

// Write writes t to w in the form that [ReadTable] reads, with all columns. The
// error is that of w.
func (t Table) Write(w io.Writer) error {
	lines := csv.NewWriter(w)
	cells := make([]string, len(tableColumns))
	for i, c := range tableColumns {
		cells[i] = c.name
	}
	lines.Write(cells) // lines keeps the first error
	for i := range t.entries {
		for j, c := range tableColumns {
			cells[j] = c.write(&t.entries[i])
		}
		lines.Write(cells)
	}
	lines.Flush()
	if err := lines.Error(); err != nil {
		return fmt.Errorf("material: table: %w", err)
	}
	return nil
}

// writeNumber returns v in full precision, or "" for NaN, a value not stated.
func writeNumber(v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	return strconv.FormatFloat(v, 'g', -1, 64)
}

func writeQuantity(q Quantity) string {
	switch {
	case !q.Known():
		return ""
	case q.Spread == 0:
		return writeNumber(q.Value)
	}
	return writeNumber(q.Value) + "±" + writeNumber(q.Spread)
}

func writeAttenuation(law Attenuation) string {
	terms := make([]string, len(law))
	for i, term := range law {
		terms[i] = writeNumber(DecibelsPerNeper*term.Alpha) + "@" + writeNumber(term.Frequency) + "^" + writeNumber(term.Exponent)
	}
	return strings.Join(terms, ";")
}
