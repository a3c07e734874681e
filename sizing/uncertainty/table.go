// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"fmt"
	"strings"
	"text/tabwriter"
)

// String returns the budget as a table with a row for each quantity. The columns are its standard
// uncertainty u, its degrees of freedom ν, its distribution and its sensitivity coefficient. Then
// follow the standard uncertainty that it causes in the unit of the result, and its share of the
// variance. The last row is the combined standard uncertainty.
func (b *Budget) String() string {
	var text strings.Builder
	w := tabwriter.NewWriter(&text, 0, 0, 2, ' ', 0)
	unit := b.Unit
	if unit != "" {
		unit = ", " + unit
	}
	fmt.Fprintf(w, "%s%s\tu\tν\tshape\tsensitivity\tcontribution\tshare\n", b.Name, unit)
	for _, c := range b.Contributions {
		fmt.Fprintf(w, "%s\t%.3g\t%s\t%v\t%.3g\t%.3g\t%.0f %%\n", c.Name, c.Uncertainty,
			freedomText(c.DegreesOfFreedom), c.Shape, c.Sensitivity, c.Amount(), 100*c.Share+0) // +0: no "-0"
	}
	fmt.Fprintf(w, "combined\t\t%s\t\t\t%.3g\t\n", freedomText(b.DegreesOfFreedom), b.Uncertainty)
	w.Flush() // a strings.Builder has no errors
	lines := strings.Split(text.String(), "\n")
	for i, line := range lines {
		lines[i] = strings.TrimRight(line, " ")
	}
	return strings.Join(lines, "\n")
}

// freedomText returns degrees of freedom for people.
func freedomText(v float64) string {
	if v == 0 {
		return "∞"
	}
	return fmt.Sprintf("%.3g", v)
}
