// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/uncertainty"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// View is a picture of a capture in one view, with its indications.
type View struct {
	Name  string     // such as "TT-T" ([wedge.ParseView]); each view once
	Image *tfm.Image // of the whole capture: one section, without weights
	// Indications are the indications that [sizing.Find] returned for the envelope of Image, with
	// the 6 dB drop and with their IDs. Some of them may be left out. Nil means that [List] finds
	// them, with the floor of the options and with the point spread of package tfm/quality.
	Indications []sizing.Indication
}

// Options modifies [List]. Nil stands for the zero value.
type Options struct {
	// Dimension tells how the waves spread: in space, or in a section as in a two-dimensional
	// simulation. The zero value is wedge.Space.
	Dimension wedge.Dimension
	// Band is the pass band of the pictures. The zero value stands for [tfm.DefaultBand].
	Band tfm.Band
	// Floor is the level in dB below which List finds no indication: finite, below 0. Zero means
	// -30. Indications that the caller gives have the floor of the caller. Tips are searched down
	// to -30 dB or to this floor below the strongest indication of a view, whichever is lower.
	Floor float64
	// MaxLength is the largest length of a planar flaw in m: finite, above 0. Zero means 12e-3.
	MaxLength float64
	// Known are shapes of the part whose echoes are no flaws. Examples are the root bead and the
	// cap of a weld, a drilled hole, and the line of an end of the part. [ghost.Weld] returns the
	// shapes of a weld. List does not take them from Weld by itself, because the outline of a weld
	// is nominal. A flaw within the length of a pulse of this outline is marked as the weld.
	Known []ghost.Reflector
	// Weld and HeatAffected are as in [sizing.Part]. A weld needs a back wall. Nil stands for no
	// weld.
	Weld         *joint.Joint
	HeatAffected float64 // m
	// Inputs is what is known of the set-up: speeds, wedge, position of the array and so on. Nil
	// stands for a set-up without errors. Then the uncertainties contain the picture alone.
	Inputs *uncertainty.Inputs
	// Pivot is the point about which the array turns with an error of the wedge angle, in m, as in
	// [uncertainty.Options].
	Pivot r3.Vec
	// LevelU is the uncertainty of all levels in dB, for 95 %: finite, at least 0.
	LevelU float64
	// Acceptance is the table of the caller. Nil means none.
	Acceptance *Table
	// Workers limits the goroutines; 0 means all cores. Results have the same bits for any number.
	Workers int
}

const (
	defaultFloor     = -30
	defaultMaxLength = 12e-3
)

// withDefaults returns the options with their zero fields replaced.
func (o *Options) withDefaults() (*Options, error) {
	var out Options
	if o != nil {
		out = *o
	}
	if out.Floor == 0 {
		out.Floor = defaultFloor
	}
	if out.MaxLength == 0 {
		out.MaxLength = defaultMaxLength
	}
	if !(out.Floor < 0) || math.IsInf(out.Floor, 0) {
		return nil, fmt.Errorf("flaw: floor %v dB: want a finite value below 0", out.Floor)
	}
	if !(out.MaxLength > 0) || math.IsInf(out.MaxLength, 0) {
		return nil, fmt.Errorf("flaw: largest length %v m: want a finite value above 0", out.MaxLength)
	}
	if !(out.HeatAffected >= 0) || math.IsInf(out.HeatAffected, 0) {
		return nil, fmt.Errorf("flaw: width of the heat-affected zone %v m: want a finite value, at least 0", out.HeatAffected)
	}
	if !(out.LevelU >= 0) || math.IsInf(out.LevelU, 0) {
		return nil, fmt.Errorf("flaw: uncertainty of the levels %v dB: want a finite value, at least 0", out.LevelU)
	}
	if err := parallel.Check(out.Workers); err != nil {
		return nil, fmt.Errorf("flaw: %w", err)
	}
	if out.Acceptance != nil {
		if err := out.Acceptance.Validate(); err != nil {
			return nil, err
		}
	}
	return &out, nil
}
