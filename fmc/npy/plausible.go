// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// A ReadOption changes how a record or a scan is read: [AllowImplausible] or
// [LimitSamples].
type ReadOption interface{ readOption() }

// AllowImplausible is the option to read a record even if [Record.Implausible] has
// findings. Without it they are an error that wraps [ErrImplausible].
const AllowImplausible = plausibility(true)

type plausibility bool

func (plausibility) readOption() {}

// A Finding is a value of a set-up that is physically possible, but implausible in
// industrial ultrasonics. Most likely it was given in another unit.
type Finding struct {
	Path     string  // the field of the .json file, such as part.thickness_m
	Quantity string  // what was derived from the field, such as "spacing"; "" for the value of the field itself
	Value    float64 // in Unit
	Min, Max float64 // the plausible range, in Unit
	Unit     string  // an SI unit; "" for a ratio
	Range    string  // where the range comes from, such as "0.05 to 10 wavelengths"
	Slip     string  // the likely slip, such as "km/s given for m/s"; "" where none is likely
}

// String returns the finding on one line, for people.
func (f Finding) String() string {
	unit := f.Unit
	if unit != "" {
		unit = " " + unit
	}
	text := f.Path
	if f.Quantity != "" {
		text += ", " + f.Quantity
	}
	limits := fmt.Sprintf("%v to %v", rounded(f.Min, 3), rounded(f.Max, 3))
	if math.IsInf(f.Max, 1) {
		limits = fmt.Sprintf("at least %v", rounded(f.Min, 3))
	}
	text += fmt.Sprintf(" %v%s: want %s%[2]s (%[4]s)", rounded(f.Value, 6), unit, limits, f.Range)
	if f.Slip != "" {
		text += "; " + f.Slip + "?"
	}
	return text
}

// rounded returns v rounded to significant digits, for people.
func rounded(v float64, digits int) float64 {
	r, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'e', digits-1, 64), 64)
	return r
}

// Implausible returns what is implausible in the whole set-up of r: in the array,
// the times of the samples, the delays of events, the coupling, the part and the
// known reflectors. It returns nil if there is nothing. The samples and the pairs do
// not matter. r must be valid.
//
// The ranges are in the package comment, under "What is plausible". A value in a
// wrong unit is found if it leaves its range. A value that stays in the range is not
// found: an empty result does not prove that the set-up is right.
//
// A value that is out of range by itself is not used to judge another one. So one
// slip makes few findings, and mostly only one.
func (r *Record) Implausible() []Finding {
	var j judge
	m := measure(r)
	j.media(r, m)
	j.scalars(m)
	j.surface(r, m)
	j.events(r.Capture, m)
	j.truth(r, m)
	return j.findings
}

// checkPlausible returns an error that lists what is implausible in the set-up of r
// and in the frames, unless an option allows it.
func (d *description) checkPlausible(r *Record) error {
	if slices.Contains(d.options, ReadOption(AllowImplausible)) {
		return nil
	}
	findings := append(r.Implausible(), implausibleFrames(d.frames)...)
	if len(findings) == 0 {
		return nil
	}
	const most = 20 // findings in a text; a list of reflectors could make thousands
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
type judge struct{ findings []Finding }

// check reports value if it is outside the range, and makes it NaN, so that it judges
// no other value. It reports nothing if the value or the range is NaN.
func (j *judge) check(path, quantity string, value *float64, want plausibleRange) {
	if !(*value < want.min || *value > want.max) {
		return
	}
	j.findings = append(j.findings, Finding{
		Path: path, Quantity: quantity, Value: *value,
		Min: want.min, Max: want.max, Unit: want.unit, Range: want.source,
		Slip: want.slip(*value),
	})
	*value = nan
}
