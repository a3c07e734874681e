// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package health

import (
	"fmt"
	"strings"
	"text/tabwriter"
)

// String returns the findings, then a table of the elements: an unknown number is "-".
func (r *Report) String() string {
	var b strings.Builder
	for _, f := range r.Findings {
		fmt.Fprintln(&b, f)
	}
	if len(r.Findings) == 0 {
		fmt.Fprintln(&b, "nothing exceeds its limit")
	}
	w := tabwriter.NewWriter(&b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(w, "element\ttransmit dB\treceive dB\tpolarity\tdrift ns\tcoupling dB\tnoise dB\tSNR dB\toffset\tcentre MHz\tbandwidth\t")
	for e, q := range r.Elements {
		cells := []string{
			cell("%.1f", q.Transmit.Relative), cell("%.1f", q.Receive.Relative),
			polarity(q.Transmit.Polarity) + polarity(q.Receive.Polarity),
			cell("%.0f", max(q.Transmit.Drift, q.Receive.Drift, -q.Transmit.Drift, -q.Receive.Drift)*1e9),
			cell("%.1f", q.Coupling), cell("%.1f", q.Noise), cell("%.1f", q.SNR), cell("%.3f", q.Offset),
			cell("%.2f", q.CentreFrequency/1e6), cell("%.2f", q.Bandwidth),
		}
		fmt.Fprintf(w, "%d\t%s\t\n", e, strings.Join(cells, "\t"))
	}
	w.Flush()
	return b.String()
}

func cell(format string, n Number) string {
	if !n.Known() {
		return "-"
	}
	return fmt.Sprintf(format, float64(n)+0)
}

// polarity returns "+", "-" or "?".
func polarity(n Number) string {
	switch {
	case n > 0:
		return "+"
	case n < 0:
		return "-"
	}
	return "?"
}
