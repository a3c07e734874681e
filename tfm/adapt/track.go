// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// track returns for each element the distance of the echo of the front surface in pulse-echo, in m,
// or NaN where the element does not show it.
//
// The echo is a chain of arrivals from element to element, along the array. No distance can change
// by more than the step between two elements. Of all chains, dynamic programming finds the one with
// the largest sum of amplitudes. A chain that arrives earlier takes its place if it has at least
// half of its sum: later chains are the second echo of the front surface, or walls behind it.
func (f *finder) track() ([]float64, error) {
	n := len(f.elements)
	candidates := make([][]calibrate.Arrival, n)
	strongest := make([]float64, n)
	for _, a := range f.arrivals {
		if a.Transmit == a.Receive {
			candidates[a.Transmit] = append(candidates[a.Transmit], a)
			strongest[a.Transmit] = max(strongest[a.Transmit], a.Amplitude)
		}
	}
	usual := number.Median(strongest)
	weak := func(a calibrate.Arrival) bool { return a.Amplitude < leastShare*usual }
	f.arrivals = slices.DeleteFunc(f.arrivals, weak)
	for i := range candidates {
		candidates[i] = slices.DeleteFunc(candidates[i], weak)
	}
	best, score := f.chain(candidates, usual)
	for range 4 {
		for i := range candidates {
			candidates[i] = slices.DeleteFunc(candidates[i], func(a calibrate.Arrival) bool {
				return !(f.distance(a) < best[i]-f.wavelength)
			})
		}
		earlier, s := f.chain(candidates, usual)
		if !(s >= score/2) {
			break
		}
		best, score = earlier, s
	}
	seen := 0
	for _, d := range best {
		if !math.IsNaN(d) {
			seen++
		}
	}
	if seen < max(minElements, (n+1)/2) {
		return nil, fmt.Errorf("adapt: %w: %d of %d elements show an echo of the front surface, want at least %d",
			ErrUndetermined, seen, n, max(minElements, (n+1)/2))
	}
	return best, nil
}

// chain returns the best chain of candidates and its sum. The amplitude of an arrival counts as a
// share of the usual amplitude, at most 1. An element that is skipped counts 0.
func (f *finder) chain(candidates [][]calibrate.Arrival, usual float64) (distances []float64, score float64) {
	type link struct {
		element  int
		distance float64
		sum      float64
		before   int // the link before, -1 for none
	}
	var links []link
	for _, e := range f.order {
		slices.SortStableFunc(candidates[e], func(a, b calibrate.Arrival) int { return cmp.Compare(a.Time, b.Time) })
		known := len(links)
		for _, a := range candidates[e] {
			l := link{element: e, distance: f.distance(a), before: -1}
			share := min(1, a.Amplitude/usual)
			for k := range known {
				apart := math.Abs(f.elements[e].X - f.elements[links[k].element].X)
				change := math.Abs(l.distance-links[k].distance) / apart
				// Among chains of the same amplitudes the smoothest is the best.
				if change < 1 && links[k].sum-change*share/4 > l.sum {
					l.sum, l.before = links[k].sum-change*share/4, k
				}
			}
			l.sum += share
			links = append(links, l)
		}
	}
	distances = make([]float64, len(f.elements))
	for i := range distances {
		distances[i] = math.NaN()
	}
	last := -1
	for k, l := range links {
		if l.sum > score {
			last, score = k, l.sum
		}
	}
	for ; last >= 0; last = links[last].before {
		distances[links[last].element] = links[last].distance
	}
	return distances, score
}
