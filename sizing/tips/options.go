// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/internal/parallel"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// Options modifies [Find]. Nil stands for the zero value.
type Options struct {
	// Dimension tells how the waves spread: in space, or in a section as in a two-dimensional
	// simulation. The zero value is wedge.Space. In the wrong dimension, the levels of two tips of
	// different depth are compared wrongly, and a pair near the limits is missed.
	Dimension wedge.Dimension
	// Floor is the level in dB, relative to the strongest spot of a view, below which a spot is not
	// considered: finite, below 0. Zero means -30. A deeper floor finds fainter tips, and takes
	// more time.
	Floor float64
	// MaxLength is the largest length of a flaw in m, and the largest height of a notch: finite,
	// above 0. Zero means 12e-3.
	MaxLength float64
	// Band is the pass band of the pictures. The zero value stands for [tfm.DefaultBand].
	Band tfm.Band
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
	if out.Dimension > wedge.Section {
		return nil, fmt.Errorf("tips: dimension %d: want wedge.Space or wedge.Section", out.Dimension)
	}
	if !(out.Floor < 0) || math.IsInf(out.Floor, 0) {
		return nil, fmt.Errorf("tips: floor %v dB: want a finite value below 0", out.Floor)
	}
	if !(out.MaxLength > 0) || math.IsInf(out.MaxLength, 0) {
		return nil, fmt.Errorf("tips: largest length %v m: want a finite value above 0", out.MaxLength)
	}
	if err := parallel.Check(out.Workers); err != nil {
		return nil, fmt.Errorf("tips: %w", err)
	}
	return &out, nil
}

// background returns the amplitude of a picture where nothing echoes: the lower quartile of its
// pixels.
func background(data []float32) float64 {
	sorted := slices.Clone(data)
	slices.Sort(sorted)
	return float64(sorted[len(sorted)/4])
}
