// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package volume

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/tfm"
)

// Flaw returns the indication as an entry of a list of flaws: its place, its extents, and its
// extent along the scan. The entry has no kind, no height and no tilt. [flaw.List] of the capture
// of one of the best sections ([Indication.Best]) adds them; copy Along into its entry.
// [flaw.Interact] joins neighbours.
func (in *Indication) Flaw() flaw.Flaw {
	a := flaw.Along{
		From: in.Drop.From, To: in.Drop.To, LengthIs: in.LengthIs, Least: in.Least,
		Curve: in.CurveLength, Bridged: in.Bridged,
	}
	if !math.IsInf(in.Most, 1) {
		a.Most = &in.Most
	}
	return flaw.Flaw{
		ID: in.ID, Kind: flaw.Unknown, Method: flaw.NoMethod, X: in.X, Z: in.Z,
		LengthIs: tips.Unresolved, TiltU: math.Pi / 2, ExtentX: in.ExtentX, ExtentZ: in.ExtentZ,
		LevelDB: in.LevelDB, SNRDB: in.SNRDB, Complete: in.Complete(), Along: &a,
	}
}

// Best returns the sections in which the indication is highest, at most n of them, the highest
// first. They lie between the ends of Drop. Of a [Line], [Line.Frame] tells the frames of the
// sections.
func (in *Indication) Best(n int) []int {
	var order []int
	for i, s := range in.Positions {
		if s >= in.Drop.From && s <= in.Drop.To {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(in.Profile[b], in.Profile[a]) })
	order = order[:min(max(n, 0), len(order))]
	for i := range order {
		order[i] += in.First
	}
	return order
}

// Section is an indication as one section shows it.
type Section struct {
	Section           int
	sizing.Indication // its Size is a height and a tilt
}

// Heights measures an indication in its n best sections by [sizing.Find], for its height and tilt.
// It takes the indication whose peak is nearest to the line of the centres, within the extents. A
// section in which Find lists no such indication is left out. Options with a Spread tell which
// heights are resolved; without a Reference the levels are relative to the highest peak of each
// section. For planar flaws the echoes of the tips are better (package tips): they need the capture
// of a section.
func Heights(v Sections, in *Indication, n int, options *sizing.Options) ([]Section, error) {
	var out []Section
	var env *tfm.Envelope
	for _, i := range in.Best(n) {
		var err error
		if env, err = v.Section(env, i); err != nil {
			return nil, fmt.Errorf("volume: section %d: %w", i, err)
		}
		found, err := sizing.Find(env, options)
		if err != nil {
			return nil, fmt.Errorf("volume: section %d: %w", i, err)
		}
		if best := in.nearest(found, v.Position(i)); best >= 0 {
			out = append(out, Section{i, found[best]})
		}
	}
	return out, nil
}

// nearest returns the index of the indication nearest to the line of the centres at s, within the
// extents, or -1.
func (in *Indication) nearest(found []sizing.Indication, s float64) int {
	centre := in.Centre[0]
	for _, c := range in.Centre {
		if math.Abs(c.Y-s) < math.Abs(centre.Y-s) {
			centre = c
		}
	}
	best, least := -1, math.Inf(1)
	for k, other := range found {
		if other.X < in.ExtentX[0] || other.X > in.ExtentX[1] || other.Z < in.ExtentZ[0] || other.Z > in.ExtentZ[1] {
			continue
		}
		if d := math.Hypot(other.X-centre.X, other.Z-centre.Z); d < least {
			best, least = k, d
		}
	}
	return best
}
