// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/sizing/tips"
)

// Table is a list of rows that the caller brings, such as the rows of a written procedure. The
// first row counts whose conditions an entry meets. The table sorts entries. It accepts or rejects
// no part.
type Table struct {
	Rows []Row `json:"rows"`
}

// Row is a row of a [Table]. An entry meets the row if it meets all conditions. A condition that is
// nil or empty is met by all entries. Lengths are in m.
type Row struct {
	Name     string   `json:"name"`
	Kinds    []Kind   `json:"kinds,omitempty"` // one of them
	Zones    []string `json:"zones,omitempty"` // one of them; the words of package wedge/joint
	Length   *Range   `json:"length_m,omitempty"`
	Height   *Range   `json:"height_m,omitempty"`
	Depth    *Range   `json:"depth_m,omitempty"` // of the centre
	Ligament *Range   `json:"ligament_m,omitempty"`
	LevelDB  *Range   `json:"level_db,omitempty"`
}

// Range holds the least and the greatest value that meet a condition, both included. Nil means no
// limit on this side.
type Range struct {
	Least *float64 `json:"least,omitempty"`
	Most  *float64 `json:"most,omitempty"`
}

// Outcome is the row that an entry meets.
type Outcome struct {
	// Row is the name of the row. It is empty if the entry meets no row, or if Undecided is set.
	Row string `json:"row"`
	// Undecided says that the readings do not decide between rows, and Reason says why.
	Undecided bool   `json:"undecided"`
	Reason    string `json:"reason,omitempty"`
}

// Validate reports the first row that is out of range. Each row needs a name of its own. Its kinds
// must exist. Its limits must be finite and in order.
func (t *Table) Validate() error {
	var names []string
	for i, r := range t.Rows {
		if r.Name == "" {
			return fmt.Errorf("flaw: row %d of the acceptance table without a name: want one", i)
		}
		if slices.Contains(names, r.Name) {
			return fmt.Errorf("flaw: row %q of the acceptance table is given twice: want each name once", r.Name)
		}
		names = append(names, r.Name)
		for _, k := range r.Kinds {
			if !slices.Contains([]Kind{Planar, Point, Geometry, Unknown}, k) {
				return fmt.Errorf("flaw: kind %q in row %q: want planar, point, geometry or unknown", k, r.Name)
			}
		}
		for _, c := range r.conditions() {
			if err := c.limits.validate(); err != nil {
				return fmt.Errorf("flaw: %s in row %q: %w", c.what, r.Name, err)
			}
		}
	}
	return nil
}

// validate reports limits that no value meets.
func (r *Range) validate() error {
	least, most := math.Inf(-1), math.Inf(1)
	if r.Least != nil {
		least = *r.Least
		if math.IsNaN(least) || math.IsInf(least, 0) {
			return fmt.Errorf("least value %v: want a finite value, or nil for no limit", least)
		}
	}
	if r.Most != nil {
		most = *r.Most
		if math.IsNaN(most) || math.IsInf(most, 0) {
			return fmt.Errorf("greatest value %v: want a finite value, or nil for no limit", most)
		}
	}
	if least > most {
		return fmt.Errorf("least value %v above the greatest value %v: want both in order", least, most)
	}
	return nil
}

// condition is a condition on a reading.
type condition struct {
	what    string
	unit    string
	limits  *Range
	reading func(Flaw) interval
}

// conditions returns the conditions of a row on readings.
func (r *Row) conditions() (out []condition) {
	for _, c := range [...]condition{
		{"length", "m", r.Length, lengthOf},
		{"height", "m", r.Height, heightOf},
		{"depth", "m", r.Depth, depthOf},
		{"ligament", "m", r.Ligament, ligamentOf},
		{"level", "dB", r.LevelDB, levelOf},
	} {
		if c.limits != nil {
			out = append(out, c)
		}
	}
	return out
}

// answer tells whether a condition is met.
type answer int

const (
	no answer = iota
	open
	yes
)

// Judge returns the row that an entry meets. A condition on a reading is met only if all values
// within the uncertainty of the reading meet it. If only some of them do, or if a reading is
// missing, this row may apply. The outcome is then undecided, unless a row before it is met, or the
// entry fails another condition of the row.
func (t *Table) Judge(f Flaw) Outcome {
	for _, r := range t.Rows {
		switch a, reason := r.judge(f); a {
		case yes:
			return Outcome{Row: r.Name}
		case open:
			return Outcome{Undecided: true, Reason: fmt.Sprintf("row %q: %s", r.Name, reason)}
		}
	}
	return Outcome{Reason: "no row applies"}
}

// judge tells whether an entry meets a row, and why this is open.
func (r *Row) judge(f Flaw) (answer, string) {
	result, reason := yes, ""
	note := func(a answer, why string) {
		if a < result {
			result, reason = a, why
		}
	}
	note(r.kind(f))
	note(r.zone(f))
	for _, c := range r.conditions() {
		a, why := c.reading(f).in(c.limits, c.unit)
		note(a, "the "+c.what+" "+why)
	}
	return result, reason
}

// kind tells whether the kind of an entry is one of the kinds of a row. An unknown kind may be any
// of the others.
func (r *Row) kind(f Flaw) (answer, string) {
	switch {
	case len(r.Kinds) == 0 || slices.Contains(r.Kinds, f.Kind):
		return yes, ""
	case f.Kind != Unknown:
		return no, ""
	case slices.Contains(r.Kinds, Planar) && slices.Contains(r.Kinds, Point) && slices.Contains(r.Kinds, Geometry):
		return yes, ""
	default:
		return open, "the kind is unknown"
	}
}

// zone tells whether the zone of an entry is one of the zones of a row.
func (r *Row) zone(f Flaw) (answer, string) {
	switch {
	case len(r.Zones) == 0:
		return yes, ""
	case f.Weld == nil:
		return open, "the zone is unknown"
	case slices.Contains(r.Zones, f.Weld.Zone):
		return yes, ""
	}
	return no, ""
}

// interval holds all values that a reading may have.
type interval struct{ least, most float64 }

// in tells whether all values, some or none are within limits, and why this is open. The unit is
// the unit of the reading.
func (v interval) in(limits *Range, unit string) (answer, string) {
	if !(v.least <= v.most) { // a reading that is not a number
		return open, "is not known"
	}
	result, reason := yes, ""
	if l := limits.Least; l != nil && v.least < *l {
		if v.most < *l {
			return no, ""
		}
		result, reason = open, fmt.Sprintf("is %.4g to %.4g %s, and the limit is %.4g %s", v.least, v.most, unit, *l, unit)
	}
	if l := limits.Most; l != nil && v.most > *l {
		if v.least > *l {
			return no, ""
		}
		result, reason = open, fmt.Sprintf("is %.4g to %.4g %s, and the limit is %.4g %s", v.least, v.most, unit, *l, unit)
	}
	return result, reason
}

// lengthOf returns the values that the length may have.
func lengthOf(f Flaw) interval { return f.extent(f.Length, f.LengthU) }

// heightOf returns the values that the height may have.
func heightOf(f Flaw) interval { return f.extent(f.Height, f.LengthU) }

// extent returns the values that an extent may have.
func (f *Flaw) extent(value, u float64) interval {
	v := interval{max(0, value-u), value + u}
	if f.LengthIs == tips.Unresolved {
		v.least = 0
	}
	oneTip := f.Kind == Planar && f.Method == NoMethod // it may end anywhere
	if f.LengthIs == tips.LowerBound || !f.Complete || f.Kind == Unknown || oneTip {
		v.most = math.Inf(1)
	}
	return v
}

// depthOf returns the values that the depth of the centre may have.
func depthOf(f Flaw) interval { return interval{f.Depth - f.PlaceU, f.Depth + f.PlaceU} }

// ligamentOf returns the values that the ligament may have. The true ligament may be smaller where
// the flaw may be longer than its reading.
func ligamentOf(f Flaw) interval {
	v := interval{f.Ligament - f.PlaceU, f.Ligament + f.PlaceU}
	if math.IsInf(lengthOf(f).most, 1) {
		v.least = math.Inf(-1)
	}
	return v
}

// levelOf returns the values that the level may have. It may be higher if the picture cuts the
// entry.
func levelOf(f Flaw) interval {
	v := interval{f.LevelDB - f.LevelU, f.LevelDB + f.LevelU}
	if !f.Complete {
		v.most = math.Inf(1)
	}
	return v
}
