// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.
package ascan

import "math"

// clippedRuns appends to runs the ranges of samples of a trace whose modulus is at least full
// scale: the first sample of each, and the sample after its last.
func clippedRuns(runs [][2]int, trace []float32, full float32) [][2]int {
	for k, v := range trace {
		if v < full && v > -full {
			continue
		}
		if n := len(runs); n > 0 && runs[n-1][1] == k {
			runs[n-1][1]++
		} else {
			runs = append(runs, [2]int{k, k + 1})
		}
	}
	return runs
}

// markShifted marks the samples of an A-scan that read clipped samples later by a delay in samples.
// A sample reads the two samples of the trace beside its place.
func markShifted(marked []bool, runs [][2]int, delay float64) {
	if math.IsNaN(delay) {
		return
	}
	for _, r := range runs {
		first := max(math.Floor(float64(r[0]-1)+delay)+1, 0)
		last := min(math.Ceil(float64(r[1])+delay)-1, float64(len(marked)-1))
		for k := first; k <= last; k++ {
			marked[int(k)] = true
		}
	}
}

// markDelayed is [markShifted] for the sum of two delays, each of them with one value or with one
// value a sample.
func markDelayed(marked []bool, runs [][2]int, tx, rx []float64, txMask, rxMask int) {
	for k := range marked {
		at := float64(k) - tx[k&txMask] - rx[k&rxMask]
		for _, r := range runs {
			if at > float64(r[0]-1) && at < float64(r[1]) {
				marked[k] = true
			}
		}
	}
}

// markedRanges returns the ranges of marked samples, nil if there are none.
func markedRanges(marked []bool) [][2]int {
	var ranges [][2]int
	for k, m := range marked {
		if !m {
			continue
		}
		if n := len(ranges); n > 0 && ranges[n-1][1] == k {
			ranges[n-1][1]++
		} else {
			ranges = append(ranges, [2]int{k, k + 1})
		}
	}
	return ranges
}
