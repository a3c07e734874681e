// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/tips"
)

// summarise prints the tables of a campaign: what was found, and how well it was measured.
func summarise(w io.Writer, readings []reading) {
	fmt.Fprintf(w, "What the list shows of %d flaws\n\n%-8s%-7s%7s%10s%7s%9s%7s%8s\n", len(readings),
		"set-up", "flaw", "drawn", "detected", "right", "unknown", "wrong", "others")
	for _, rig := range append(names(), "all") {
		for _, kind := range []string{"crack", "root", "hole", "pore"} {
			var drawn, detected, right, unknown, wrong, others int
			for _, r := range readings {
				if rig != "all" && r.rig != rig || r.flaw != kind {
					continue
				}
				drawn++
				others += r.others
				switch r.kind {
				case "":
					continue
				case string(flaw.Unknown):
					unknown++
				case string(r.want()):
					right++
				default:
					wrong++
				}
				detected++
			}
			if drawn == 0 {
				continue
			}
			fmt.Fprintf(w, "%-8s%-7s%7d%10d%7d%9d%7d%8d\n", rig, kind, drawn, detected, right, unknown, wrong, others)
		}
	}
	fmt.Fprintf(w, "\nHow well the methods measure\n\n%-8s%-13s%5s |%9s%7s%7s%7s%7s |%6s%6s |%6s%6s |%6s%7s%7s%7s |%7s%7s%7s\n",
		"set-up", "method", "flaws", "measured", "mean", "rms", "median", "holds", "bound", "true", "unres.", "true",
		"tilts", "mean", "rms", "holds", "x rms", "z rms", "holds")
	for _, rig := range append(names(), "all") {
		for _, method := range methods {
			var row measures
			for _, r := range readings {
				if (rig == "all" || r.rig == rig) && r.method == method {
					row.add(r)
				}
			}
			if row.flaws > 0 {
				fmt.Fprintf(w, "%-8s%-13s%v\n", rig, method, &row)
			}
		}
	}
}

// methods are the methods in the order of the table.
var methods = []string{
	string(flaw.FromTips), string(flaw.FromTipAndWall), string(flaw.FromDrop), string(flaw.NoMethod),
}

// names returns the names of the set-ups.
func names() (out []string) {
	for _, g := range rigs {
		out = append(out, g.name)
	}
	return out
}

// want returns the kind that a flaw should get.
func (r *reading) want() flaw.Kind {
	if r.flaw == "crack" || r.flaw == "root" {
		return flaw.Planar
	}
	return flaw.Point
}

// measures are the errors of the readings of one method.
type measures struct {
	flaws                 int
	length, tilt, x, z    errors
	bounds, trueBounds    int
	unresolved, notLonger int
}

// add adds a reading.
func (m *measures) add(r reading) {
	m.flaws++
	switch tips.Reading(r.is) {
	case tips.Measured:
		m.length.add(r.readLength-r.length, r.lengthU)
	case tips.LowerBound:
		m.bounds++
		if r.length >= r.readLength-r.lengthU {
			m.trueBounds++
		}
	case tips.Unresolved:
		m.unresolved++
		if r.length <= r.readLength {
			m.notLonger++
		}
	}
	if r.want() == flaw.Planar && r.method != string(flaw.NoMethod) {
		m.tilt.add(math.Remainder(r.readTilt-r.tilt, 180), r.tiltU)
	}
	m.x.add(r.offX, r.placeU)
	m.z.add(r.offZ, r.placeU)
}

// String returns the columns of a method.
func (m *measures) String() string {
	both := errors{off: slices.Concat(m.x.off, m.z.off), held: m.x.held + m.z.held}
	return fmt.Sprintf("%5d |%9d%7s%7s%7s%7s |%6d%6d |%6d%6d |%6d%7s%7s%7s |%7s%7s%7s",
		m.flaws, len(m.length.off), m.length.mean(2), m.length.rms(2), m.length.median(2), m.length.holds(),
		m.bounds, m.trueBounds, m.unresolved, m.notLonger,
		len(m.tilt.off), m.tilt.mean(1), m.tilt.rms(1), m.tilt.holds(), m.x.rms(2), m.z.rms(2), both.holds())
}

// errors are errors of a quantity.
type errors struct {
	off  []float64
	held int // how often the interval of 95 % holds the truth
}

// add adds an error with its expanded uncertainty.
func (e *errors) add(off, u float64) {
	e.off = append(e.off, off)
	if math.Abs(off) <= u {
		e.held++
	}
}

// print returns a number, or a dash if there are no errors.
func (e *errors) print(v float64, digits int, unit string) string {
	if len(e.off) == 0 {
		return "-"
	}
	return fmt.Sprintf("%.*f%s", digits, v, unit)
}

func (e *errors) mean(digits int) string {
	sum := 0.0
	for _, v := range e.off {
		sum += v
	}
	return e.print(sum/float64(len(e.off)), digits, "")
}

func (e *errors) rms(digits int) string {
	sum := 0.0
	for _, v := range e.off {
		sum += v * v
	}
	return e.print(math.Sqrt(sum/float64(len(e.off))), digits, "")
}

// median returns the median of the moduli of the errors.
func (e *errors) median(digits int) string {
	if len(e.off) == 0 {
		return "-"
	}
	moduli := make([]float64, 0, len(e.off))
	for _, v := range e.off {
		moduli = append(moduli, math.Abs(v))
	}
	slices.Sort(moduli)
	return e.print(moduli[len(moduli)/2], digits, "")
}

// holds returns the share of the intervals that hold the truth.
func (e *errors) holds() string {
	return e.print(100*float64(e.held)/float64(len(e.off)), 0, "%")
}
