// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package scan

import (
	"errors"
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc/health"
)

// Finding is a value that exceeds its limit, over a run of frames.
type Finding struct {
	Kind Kind   `json:"kind"`
	Gate string `json:"gate,omitempty"` // name of the gate, of CouplingLoss and GainDrift
	// FirstFrame and LastFrame are the indices of the first and the last frame of the run, of
	// [fmc.Frame]. They are the indices of the lost frames for LostFrames, and -1 for MissingSteps
	// and Empty.
	FirstFrame int `json:"first_frame"`
	LastFrame  int `json:"last_frame"`
	// First and Last are the positions of both frames along the scan in m. For MissingSteps they
	// are the positions of the missing steps, for LostFrames the positions of the frames around.
	First  float64 `json:"first_m"`
	Last   float64 `json:"last_m"`
	Across float64 `json:"across_m"` // position across of the first frame, or of the line, m
	Value  float64 `json:"value"`    // largest value of the run, in the unit
	Limit  float64 `json:"limit"`    // the limit that Value exceeds, in the unit
	Unit   string  `json:"unit"`     // of Value and Limit: "m", "m/s", "s", "dB", or empty
}

// Kind tells what a finding is about.
type Kind string

// The kinds, in the order of the findings in a report.
const (
	Empty        Kind = "empty scan"    // no frame was taken; 1
	WrongShape   Kind = "wrong shape"   // array, pairs or times unlike the first frame; number of frames
	NotFinite    Kind = "not finite"    // NaN or Inf; largest number of samples of a frame
	Stuck        Kind = "stuck"         // samples bit for bit as in an earlier frame; number of frames
	Disorder     Kind = "disorder"      // index not above the index before; how far below
	Clock        Kind = "clock"         // time before the time of the frame before; s
	LostFrames   Kind = "lost frames"   // gap of the indices; number of frames
	MissingSteps Kind = "missing steps" // steps without a frame; number of steps
	Repeated     Kind = "repeated"      // several frames at a step; largest number of frames
	Stray        Kind = "stray"         // frame off its step or beyond the ends; m
	EncoderJump  Kind = "encoder jump"  // distance of two successive frames; m
	Reversal     Kind = "reversal"      // motion back, from the foremost frame; m
	TooSparse    Kind = "too sparse"    // moved too far from frame to frame; m
	TooFast      Kind = "too fast"      // speed between two frames; m/s
	CouplingLoss Kind = "coupling loss" // level below the reference of a gate; dB
	GainDrift    Kind = "gain drift"    // level of a gate that changes over the scan; dB
	Saturated    Kind = "saturated"     // share of the frame's samples in the window that are clipped
)

// units lists the kinds in their order with their units.
var units = []struct {
	kind Kind
	unit string
}{
	{Empty, ""}, {WrongShape, ""}, {NotFinite, ""}, {Stuck, ""}, {Disorder, ""}, {Clock, "s"}, {LostFrames, ""},
	{MissingSteps, ""}, {Repeated, ""}, {Stray, "m"}, {EncoderJump, "m"}, {Reversal, "m"},
	{TooSparse, "m"}, {TooFast, "m/s"}, {CouplingLoss, "dB"}, {GainDrift, "dB"}, {Saturated, ""},
}

// rank returns the place of a kind in its order.
func rank(k Kind) int {
	for i, u := range units {
		if u.kind == k {
			return i
		}
	}
	return len(units)
}

// String returns the finding in a line: "coupling loss of back wall: frames 12 to 15, 24 to 30 mm:
// 11 dB, limit 6 dB".
func (f Finding) String() string {
	if f.Kind == Empty {
		return string(f.Kind) + ": no frame"
	}
	what := string(f.Kind)
	if f.Gate != "" {
		what += " of " + f.Gate
	}
	where := ""
	switch {
	case f.FirstFrame < 0:
	case f.FirstFrame == f.LastFrame:
		where = fmt.Sprintf("frame %d, ", f.FirstFrame)
	default:
		where = fmt.Sprintf("frames %d to %d, ", f.FirstFrame, f.LastFrame)
	}
	if f.First == f.Last {
		where += fmt.Sprintf("%.4g mm", 1e3*f.First)
	} else {
		where += fmt.Sprintf("%.4g to %.4g mm", 1e3*f.First, 1e3*f.Last)
	}
	value, limit, unit := f.Value, f.Limit, f.Unit
	switch unit {
	case "":
	case "m", "m/s":
		value, limit, unit = 1e3*value, 1e3*limit, " m"+unit
	default:
		unit = " " + unit
	}
	return fmt.Sprintf("%s: %s: %.3g%s, limit %.3g%s", what, where, value, unit, limit, unit)
}

// Report is the check of a scan.
type Report struct {
	Frames int `json:"frames"` // that were taken
	// Step is the step of the grid, or without a grid the median distance of two successive frames,
	// in m. Interval is the median time between two successive frames in s, and Speed the median
	// speed in m/s. Interval and Speed are not known if all times are equal.
	Step     health.Number `json:"step_m"`
	Interval health.Number `json:"interval_s"`
	Speed    health.Number `json:"speed_m_s"`
	Places   int           `json:"places"`  // of the grid; 0 without one
	Covered  int           `json:"covered"` // places of the grid with a frame
	Gates    []Level       `json:"gates"`   // in the order of the options
	Limits   Limits        `json:"limits"`
	Findings []Finding     `json:"findings"` // by kind, then by the order of the scan
	Readings []Reading     `json:"readings,omitempty"`
}

// Level is the level of the frames in a gate.
type Level struct {
	Name string  `json:"name"`
	From float64 `json:"from_s"` // start of the gate, s
	To   float64 `json:"to_s"`   // end of the gate, s
	// Reference is the root mean square of 0 dB, in the unit of the samples.
	Reference health.Number `json:"reference_amplitude"`
	// Scatter is the standard deviation of the level from frame to frame in dB, by the median
	// absolute difference of two successive frames.
	Scatter health.Number `json:"scatter_db"`
	// Drift is the largest less the smallest median level of an eighth of the sound frames in dB,
	// and not known for fewer than 16 of them. DriftError is the standard error of such a median.
	Drift      health.Number `json:"drift_db"`
	DriftError health.Number `json:"drift_error_db"`
}

// Reading is what was measured of a frame.
type Reading struct {
	Frame    int     `json:"frame"`      // index
	Time     float64 `json:"time_s"`     // s
	Position float64 `json:"position_m"` // along the scan, m
	Across   float64 `json:"across_m"`   // across the scan, m
	// Levels are relative to the references of the gates, in dB within ±120 dB. A level is not
	// known if the frame has the wrong shape or samples that are not finite.
	Levels []health.Number `json:"levels_db"`
	// Saturated is the share of clipped samples, not known as for Levels.
	Saturated health.Number `json:"saturated_share"`
}

// bounded returns a value that JSON can hold.
func bounded(v float64) float64 { return max(-math.MaxFloat64, min(math.MaxFloat64, v)) }

// Validate returns an error for the first field that no check of a scan can have, such as in a
// report that was read.
func (r *Report) Validate() error {
	if r.Frames < 0 || r.Covered < 0 || r.Covered > r.Places {
		return fmt.Errorf("scan: report of %d frames and %d of %d places: want counts from 0 on, and no "+
			"more places covered than there are", r.Frames, r.Covered, r.Places)
	}
	if limits, err := r.Limits.complete(); err != nil || limits != r.Limits {
		return errors.Join(err, fmt.Errorf("scan: limits of a report %+v: want all of them", r.Limits))
	}
	for i, f := range r.Findings {
		k := rank(f.Kind)
		if k == len(units) || f.Unit != units[k].unit {
			return fmt.Errorf("scan: kind %q with the unit %q, of finding %d: want a kind of this package "+
				"with its unit", f.Kind, f.Unit, i)
		}
		if !(f.Value > f.Limit) {
			return fmt.Errorf("scan: value %v of finding %d: want above its limit %v", f.Value, i, f.Limit)
		}
	}
	if n := len(r.Readings); n != 0 && n != r.Frames {
		return fmt.Errorf("scan: %d readings of %d frames: want none, or one for each frame", n, r.Frames)
	}
	for i, v := range r.Readings {
		if len(v.Levels) != len(r.Gates) {
			return fmt.Errorf("scan: %d levels of reading %d: want %d, one for each gate", len(v.Levels), i,
				len(r.Gates))
		}
	}
	return nil
}
