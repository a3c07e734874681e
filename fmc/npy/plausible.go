// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// finding is a value that is physically possible, but implausible in industrial ultrasonics. Most
// likely it was given in another unit.
type finding struct {
	path     string  // of the field in the .json file, such as part.thickness_m
	quantity string  // derived from the field, such as "spacing"; "" for the field itself
	value    float64 // in the unit of the range
	want     plausibleRange
}

// String returns the finding on one line, with the likely slip if there is one.
func (f finding) String() string {
	unit := f.want.unit
	if unit != "" {
		unit = " " + unit
	}
	text := f.path
	if f.quantity != "" {
		text += ", " + f.quantity
	}
	limits := fmt.Sprintf("%v to %v", rounded(f.want.min, 3), rounded(f.want.max, 3))
	if math.IsInf(f.want.max, 1) {
		limits = fmt.Sprintf("at least %v", rounded(f.want.min, 3))
	}
	text += fmt.Sprintf(" %v%s: want %s%[2]s (%[4]s)",
		rounded(f.value, 6), unit, limits, f.want.source)
	if slip := f.want.slip(f.value); slip != "" {
		text += "; " + slip + "?"
	}
	return text
}

// rounded returns v rounded to significant digits.
func rounded(v float64, digits int) float64 {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'e', digits-1, 64), 64)
	return r
}

// findings returns what is implausible in the whole set-up of r. It looks at the array, the times
// of the samples, the delays of events, the coupling, the part and the known reflectors. The
// samples and the pairs do not matter. r must be valid.
//
// A value that is out of range by itself is not used to judge another value. So one wrong value
// causes few findings, mostly only one.
func (r *Record) findings() []finding {
	var j judge
	m := measure(r)
	j.media(r, m)
	j.weld(r.Weld, m)
	j.scalars(m)
	j.surface(r, m)
	j.events(r.Capture, m)
	j.truth(r, m)
	return j.findings
}

// implausible returns the error that lists the findings, and nil if there is none. A list of
// reflectors could make thousands of findings, so the list is cut.
func implausible(findings []finding) error {
	if len(findings) == 0 {
		return nil
	}
	const most = 20
	var lines []string
	for _, f := range findings[:min(len(findings), most)] {
		lines = append(lines, f.String())
	}
	if more := len(findings) - most; more > 0 {
		lines = append(lines, fmt.Sprintf("%d more", more))
	}
	return fmt.Errorf("%w: %s", ErrImplausible, strings.Join(lines, ". "))
}

// judge collects findings.
type judge struct{ findings []finding }

// check reports value if it is below the least or above the greatest plausible value. It then sets
// value to NaN, so that value judges no other value. A comparison with NaN reports nothing.
func (j *judge) check(path, quantity string, value *float64, want plausibleRange) {
	if *value < want.min || *value > want.max {
		j.findings = append(j.findings, finding{path, quantity, *value, want})
		*value = nan
	}
}
