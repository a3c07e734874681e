// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/sizing/uncertainty"
)

// Kind says what an entry looks like. It is evidence, never a verdict.
type Kind string

// The kinds.
const (
	// Planar is an entry with tips, a corner or a face, as a crack or lack of fusion shows them.
	Planar Kind = "planar"
	// Point is an entry that echoes as a small or round reflector: a pore, an inclusion, a hole.
	Point Kind = "point"
	// Geometry is an echo of a surface of the part, or of another shape that the caller knows.
	Geometry Kind = "geometry"
	// Unknown is an entry without enough evidence for one of the other kinds.
	Unknown Kind = "unknown"
)

// Method says how the length of an entry was read.
type Method string

// The methods, the best first.
const (
	FromTips       Method = "tips"         // between two tips
	FromTipAndWall Method = "tip and wall" // from a tip to the foot on the back wall
	FromDrop       Method = "drop"         // from the 6 dB contour of a face
	NoMethod       Method = "none"         // the picture does not show a length
)

// Flaw is an entry of the list: all that several indications, in one or several views, show of one
// reflector. Lengths are in metres, angles in radians, levels in decibels. An uncertainty is the
// half-width of an interval that contains the true value with a probability of 95 %. It contains
// the uncertainty of the picture and, with [Options.Inputs], the uncertainty of the set-up.
type Flaw struct {
	ID     int    `json:"id"` // from 1, strongest first
	Kind   Kind   `json:"kind"`
	Method Method `json:"method"`

	// X and Z are the centre: the middle between both ends, or the strongest peak if there are no
	// ends. The peak of a hole lies on its near face.
	X float64 `json:"x_m"`
	Z float64 `json:"z_m"`

	// Ends are both ends as x and z, the upper end first. Nil means that no ends are known.
	Ends *[2][2]float64 `json:"ends_m"`

	// Length is the distance of the ends, or the 6 dB length of the strongest indication. LengthIs
	// says what the length means. The face of an unresolved [Point] that the picture shows is not
	// longer than Length. The point itself may be wider: a hole shows its near face alone. An
	// unresolved entry of the kind [Unknown] may have any length, because it may be a smooth face
	// that mirrors the beam past the array. So may an unresolved entry of the kind [Planar] without
	// ends: one tip shows, and nothing shows where the flaw ends. The LengthU of a lower bound is
	// at least the length of the point spread, because a point shows that long.
	Length   float64      `json:"length_m"`
	LengthU  float64      `json:"length_u_m"`
	LengthIs tips.Reading `json:"length_is"`

	// Tilt is the angle from the vertical, positive where the top leans to +x. It is 0 with a TiltU
	// of π/2 if the direction is not known.
	Tilt  float64 `json:"tilt_rad"`
	TiltU float64 `json:"tilt_u_rad"`

	// ExtentX and ExtentZ are the extents of the ends along x and along z, lower end first. If
	// there are no ends, they are the extents of the 6 dB contour of the strongest indication.
	ExtentX [2]float64 `json:"extent_x_m"`
	ExtentZ [2]float64 `json:"extent_z_m"`

	// PlaceU is the uncertainty of the centre and of the ends along any direction.
	PlaceU float64 `json:"place_u_m"`

	// Depth is the distance of the centre from the entry surface. Height is the extent of the ends,
	// or of the contour of the strongest indication, at right angles to the entry surface. Ligament
	// is the smallest distance of the ends, or of this contour, to the entry surface or the back
	// wall. It is 0 or below if the entry reaches a surface. A flaw may reach further than its
	// echoes.
	Depth    float64 `json:"depth_m"`
	Height   float64 `json:"height_m"`
	Ligament float64 `json:"ligament_m"`

	// Along is the extent along the scan. [List] leaves it nil, because one section does not show
	// it. Package volume measures it.
	Along *Along `json:"along,omitempty"`

	// Weld is the place of the centre relative to the weld. It is nil without [Options.Weld].
	Weld *sizing.WeldPlace `json:"weld,omitempty"`

	// LevelDB is the highest level of the indications, SNRDB is the signal-to-noise ratio of this
	// indication. Levels of two views compare only if the caller has corrected the sensitivity
	// (package tfm/sensitivity).
	LevelDB float64 `json:"level_db"`
	LevelU  float64 `json:"level_u_db"` // of [Options]
	SNRDB   float64 `json:"snr_db"`

	// Complete says that the pictures show the whole of each indication.
	Complete bool `json:"complete"`

	Views       []string    `json:"views"`       // that show the entry, in the order of the argument of List
	Indications []Reference `json:"indications"` // by view, in the order of Views, strongest first

	// Explained names what explains the entry: the echo of a wall, of a known shape, or a ghost. It
	// is empty if nothing is known that explains it. An explained entry may still hide a flaw.
	Explained string `json:"explained_by,omitempty"`

	// Reasons are the findings that speak for or against a kind.
	Reasons []Reason `json:"reasons"`

	// Budgets are the budgets of x, z, and where there are ends, of the length and the tilt, or of
	// the height above the back wall. They are nil without [Options.Inputs],
	// and for a centre that no ray reaches, such as a peak behind the back wall.
	Budgets []*uncertainty.Budget `json:"budgets,omitempty"`

	// Outcome is the row of [Options.Acceptance] that the entry meets. It is nil without a table.
	Outcome *Outcome `json:"acceptance,omitempty"`
}

// Along is where an entry lies along the scan, in m. Positions are positions s of the encoder.
type Along struct {
	// From and To are the ends by the 6 dB drop of the profile along the scan.
	From float64 `json:"from_m"`
	To   float64 `json:"to_m"`
	// LengthIs says what the distance of the ends means, as in [Flaw].
	LengthIs tips.Reading `json:"length_is"`
	// Least and Most are the limits of the length, for a probability of 95 %. Most is nil if there
	// is no upper limit: nobody saw where the flaw ends, or the beam is not known.
	Least float64  `json:"least_m"`
	Most  *float64 `json:"most_m,omitempty"`
	// Curve is the length along the line through the middles of the sections.
	Curve float64 `json:"curve_m"`
	// Bridged is how many sections are missing between the ends.
	Bridged int `json:"bridged"`
}

// Reference names an indication of a view, with what the view shows of the entry.
type Reference struct {
	View    string  `json:"view"`
	ID      int     `json:"id"`
	X       float64 `json:"x_m"` // of the peak, m
	Z       float64 `json:"z_m"` // of the peak, m
	LevelDB float64 `json:"level_db"`
	SNRDB   float64 `json:"snr_db"`
	// Complete is false if the image cuts the indication, or if its pixels have a state.
	Complete bool `json:"complete"`
	// Explained is the echo that explains this indication, and Agreement is the agreement with the
	// echo, 0 to 1 (package tfm/ghost).
	Explained string  `json:"explained_by,omitempty"`
	Agreement float64 `json:"agreement,omitempty"`
}

// Reason is a finding that speaks for a kind.
type Reason struct {
	For  Kind   `json:"for"`
	View string `json:"view,omitempty"` // empty if it holds for all views together
	What string `json:"what"`           // in words, such as "signals fit two tips"
	// Value is the number behind the words, in the unit that the words name.
	Value float64 `json:"value"`
}
