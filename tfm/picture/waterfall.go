// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture

import "gonum.org/v1/gonum/spatial/r2"

// Waterfall returns traces as lines of a [Chart], one above the other: trace k lies about y = k.
// Its first sample lies at x = from, and the others follow in steps, both in the unit of the x
// axis. The largest sample of all traces is size rows high; a size from 0.5 to 2 is usual. The
// samples are finite. Traces of fewer than two samples, and traces of zeros alone, are flat lines.
func Waterfall(traces [][]float32, from, step, size float64) []Line {
	highest := float32(0)
	for _, trace := range traces {
		for _, v := range trace {
			highest = max(highest, v, -v)
		}
	}
	scale := 0.0
	if highest > 0 {
		scale = size / float64(highest)
	}
	lines := make([]Line, len(traces))
	for k, trace := range traces {
		points := make([]r2.Vec, max(len(trace), 2))
		for i := range points {
			points[i] = r2.Vec{X: from + float64(i)*step, Y: float64(k)}
			if i < len(trace) {
				points[i].Y += scale * float64(trace[i])
			}
		}
		lines[k] = Line{Points: points, Width: 0.7}
	}
	return lines
}
