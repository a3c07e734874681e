// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"math"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing/tips"
)

const (
	sameStrength = 6.0                // largest difference of the strengths of one hole in two views, dB
	sameAxis     = 15 * math.Pi / 180 // largest angle between the axes of one face in two views
)

// reasons returns the findings of an entry: tips first, then each indication, then pairs of views.
func (e *entry) reasons() (out []Reason) {
	for _, v := range e.evidence {
		out = append(out, tipReasons(v)...)
	}
	for i, s := range e.sightings {
		out = append(out, s.reasons()...)
		for _, other := range e.sightings[:i] {
			if s.view != other.view {
				out = append(out, other.compare(s)...)
			}
		}
	}
	return out
}

// tipReasons returns the findings on the tips that one view shows.
func tipReasons(v tips.Evidence) (out []Reason) {
	if v.Fit > 0 {
		out = append(out, Reason{Planar, v.View, "share of the signals that tips explain", v.Fit})
	}
	if v.HoleFit > 0 {
		out = append(out, Reason{Point, v.View, "share of the signals at the tips that holes explain", v.HoleFit})
	}
	if v.Phase != 0 {
		out = append(out, Reason{Planar, v.View, "error of the phase between both tips, rad", v.PhaseError})
	}
	return out
}

// reasons returns the findings on an indication.
func (s *sighting) reasons() (out []Reason) {
	if s.hole != nil {
		kind := Unknown
		if s.hole.HoleFit >= minPoint {
			kind = Point
		}
		out = append(out, Reason{kind, s.view.Name, "share of the signals that a hole explains", s.hole.HoleFit})
	}
	if r := s.Resolution; r != nil {
		kind := Point
		if r.Resolved {
			kind = Planar
		}
		out = append(out, Reason{kind, s.view.Name, "length relative to the point spread", r.Ratio})
	}
	return out
}

// compare returns the findings on two indications of different views.
func (s *sighting) compare(other *sighting) (out []Reason) {
	views := s.view.Name + ", " + other.view.Name
	if s.hole != nil && other.hole != nil && !s.view.converts() && !other.view.converts() {
		off := math.Abs(s.hole.StrengthDB - other.hole.StrengthDB)
		kind := Point
		if off > sameStrength {
			kind = Planar
		}
		out = append(out, Reason{kind, views, "difference of the strengths of a hole, dB", off})
	}
	_, one, ok := s.Size()
	_, two, both := other.Size()
	if ok && both {
		off := math.Abs(math.Remainder(one-two, math.Pi))
		kind := Unknown
		if off <= sameAxis {
			kind = Planar
		}
		out = append(out, Reason{kind, views, "angle between the resolved axes, rad", off})
	}
	return out
}

// converts reports whether a leg of the view changes the mode.
func (v *view) converts() bool {
	for _, legs := range [...][]material.Mode{v.parsed.Transmit, v.parsed.Receive} {
		for _, mode := range legs {
			if mode != v.parsed.Transmit[0] {
				return true
			}
		}
	}
	return false
}
