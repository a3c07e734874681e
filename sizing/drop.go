// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
)

// Extent is the part of a profile around its peak that lies less than a drop below the peak.
// Positions are in metres from the first sample.
type Extent struct {
	Peak      float64 // position of the peak, between samples
	Amplitude float64 // amplitude of the peak, between samples, in the unit of the profile

	// From and To are the crossings of the drop level before and behind the peak.
	From, To float64

	// OpenFrom and OpenTo say that the profile ends before it has fallen to the drop
	// level: From is then 0, or To the last sample, and the true extent is larger.
	OpenFrom, OpenTo bool
}

// Length returns the distance between the ends of e in metres.
func (e Extent) Length() float64 { return e.To - e.From }

// Drop returns the extent of the highest peak of a profile, at drop decibels below the peak. The
// drop is a positive number: [SixDB] for the 6 dB drop, 20 for the 20 dB drop. The amplitudes of
// the profile are spacing metres apart. Of equal peaks the first is taken.
//
// The peak is placed between samples like the peak of an indication (see [Find]). The crossings
// are interpolated linearly between amplitudes. On each side the crossing nearest to the peak
// counts. An echo beyond a dip below the drop level is another indication, as in [Find]. The
// applicable code decides whether two indications count as one flaw.
//
// The profile must hold at least one amplitude above 0; all must be finite and none
// negative. The spacing is finite and above 0; drop is 0.01 to 120 dB.
func Drop(profile []float64, spacing, drop float64) (Extent, error) {
	if !(spacing > 0) || math.IsInf(spacing, 0) {
		return Extent{}, fmt.Errorf("sizing: spacing %v m: want a finite value above 0", spacing)
	}
	if err := checkDrop(drop); err != nil {
		return Extent{}, err
	}
	highest := 0
	for i, v := range profile {
		if !(v >= 0) || math.IsInf(v, 0) {
			return Extent{}, fmt.Errorf("sizing: amplitude %v at sample %d: want a finite value, not negative", v, i)
		}
		if v > profile[highest] {
			highest = i
		}
	}
	if len(profile) == 0 || profile[highest] == 0 {
		return Extent{}, fmt.Errorf("sizing: profile of %d amplitudes, none above 0: want a peak", len(profile))
	}

	ratio := Ratio(-drop)
	peak, amplitude := summit(profile, highest, ratio)
	level := amplitude * ratio
	from, openFrom := crossing(profile, highest, -1, level)
	to, openTo := crossing(profile, highest, 1, level)
	return Extent{
		Peak:      peak * spacing,
		Amplitude: amplitude,
		From:      from * spacing,
		To:        to * spacing,
		OpenFrom:  openFrom,
		OpenTo:    openTo,
	}, nil
}

// summit returns the position, in samples, and the amplitude of the peak whose highest sample has
// the index top.
func summit(profile []float64, top int, ratio float64) (position, amplitude float64) {
	centre := profile[top]
	last := top
	for last+1 < len(profile) && profile[last+1] == centre {
		last++
	}
	if last-top > 1 { // a flat top, not two samples beside a peak
		return float64(top+last) / 2, centre
	}
	offset, gain := number.Vertex(logAt(profile, top-1, centre), 0, logAt(profile, top+1, centre))
	return float64(top) + offset, peakAmplitude(centre, gain, ratio)
}

// logAt returns the logarithm of profile[i] relative to centre. It is NaN if i is outside the
// profile, or profile[i] is outside the range of the fit.
func logAt(profile []float64, i int, centre float64) float64 {
	if i < 0 || i >= len(profile) || !(profile[i] >= fitRange*centre) {
		return math.NaN()
	}
	return math.Log(profile[i] / centre)
}

// crossing returns where the profile, followed from sample i by steps of step, first falls below
// level; open reports that the profile ends before it falls below level.
func crossing(profile []float64, i, step int, level float64) (position float64, open bool) {
	for {
		next := i + step
		if next < 0 || next >= len(profile) {
			return float64(i), true
		}
		if profile[next] < level {
			share := (profile[i] - level) / (profile[i] - profile[next])
			return float64(i) + share*float64(step), false
		}
		i = next
	}
}
