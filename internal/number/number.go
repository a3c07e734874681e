// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package number holds checks, statistics and functions of numbers for several packages.
package number

import (
	"math"
	"slices"
)

// Finite reports whether v is neither NaN nor infinite.
func Finite(v float64) bool { return v-v == 0 }

// Positive reports whether v is finite and above 0.
func Positive(v float64) bool { return v > 0 && !math.IsInf(v, 1) }

// Median returns the median of the values that are not NaN. For an even number of values it is the
// mean of the two middle values. It is NaN if there is no value. The order of values does not
// change.
func Median(values []float64) float64 {
	s := slices.DeleteFunc(slices.Clone(values), math.IsNaN)
	n := len(s)
	if n == 0 {
		return math.NaN()
	}
	high := ranked(s, n/2)
	if n%2 == 1 {
		return high
	}
	return slices.Max(s[:n/2])/2 + high/2
}

// ranked returns the value with the index k in ascending order. It moves the k values before it to
// the front of s (quickselect, Hoare, Commun. ACM 4 (1961) 321, from memory).
func ranked(s []float64, k int) float64 {
	low, high := 0, len(s)-1
	for low < high {
		pivot := s[low+(high-low)/2]
		i, j := low, high
		for i <= j {
			for s[i] < pivot {
				i++
			}
			for s[j] > pivot {
				j--
			}
			if i <= j {
				s[i], s[j] = s[j], s[i]
				i, j = i+1, j-1
			}
		}
		switch {
		case k <= j:
			high = j
		case k >= i:
			low = i
		default:
			return s[k]
		}
	}
	return s[k]
}

// Sinc returns sin(πu)/(πu), and 1 for u = 0.
func Sinc(u float64) float64 {
	if u == 0 {
		return 1
	}
	return math.Sin(math.Pi*u) / (math.Pi * u)
}

// Vertex returns where the parabola through three values, one step apart, has its vertex, in steps
// from the middle value, and by how much the vertex lies above the middle value. Both are 0 if the
// values lie on a straight line, or if one of them is NaN.
func Vertex(before, here, after float64) (offset, rise float64) {
	bend := before - 2*here + after
	if !(bend < 0 || bend > 0) {
		return 0, 0
	}
	offset = (before - after) / (2 * bend)
	return offset, (after - before) * offset / 4
}

// Clipped counts the samples at full scale in runs of at least the given number. It counts none if
// full scale is 0.
func Clipped(x []float32, fullScale float64, run int) int {
	if fullScale == 0 {
		return 0
	}
	// The extremes of two's complement differ by one unit.
	const tolerance = 4e-5
	count, length := 0, 0
	for _, v := range x {
		if math.Abs(float64(v)) < fullScale*(1-tolerance) {
			length = 0
			continue
		}
		length++
		if length == run {
			count += run
		} else if length > run {
			count++
		}
	}
	return count
}
