// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"context"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/wedge"
)

// Spot says how well a hole explains an indication of a view. A hole stands for any small or round
// reflector, such as a pore.
type Spot struct {
	View       string
	Indication int // the ID that [sizing.Find] gives with the floor of the options
	// HoleFit is the share of the energy of the signals, 0 to 1, that the best hole with a radius
	// of up to one wavelength explains.
	HoleFit float64
	// StrengthDB is the gain from the predicted signals of a hole of unit strength to the recorded
	// signals, in dB. A hole has about the same strength in all views without conversions.
	StrengthDB float64
	// Away is the mean direction of the waves at the spot, a unit vector that points away from the
	// array. What arrives late shows in this direction behind the spot.
	Away r3.Vec
}

// Examine returns the flaws that [Find] returns, and compares each spot that Find considered with a
// hole, in the order of the views and then of the levels. The arguments and the errors are as in
// Find.
func Examine(ctx context.Context, c *fmc.Capture, setup *wedge.Setup, views []View, options *Options) (
	[]Flaw, []Spot, error) {
	f, err := newFinder(ctx, c, setup, views, options)
	if err != nil {
		return nil, nil, err
	}
	flaws, err := f.find(ctx)
	if err != nil {
		return nil, nil, err
	}
	var spots []Spot
	for _, v := range f.views {
		for _, s := range v.spots {
			if err := ctx.Err(); err != nil {
				return nil, nil, err
			}
			m := s.hole()
			x, z := s.away()
			spots = append(spots, Spot{v.name, s.ID, m.quality(), 20 * math.Log10(cmplx.Abs(m.gain())), vec(x, z)})
		}
	}
	return flaws, spots, nil
}
