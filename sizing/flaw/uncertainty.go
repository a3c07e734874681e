// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/sizing/uncertainty"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

// level is the level of confidence of all intervals, and coverage the factor from a standard
// uncertainty to the half-width of an interval of this level, of a normal distribution.
const (
	level    = 0.95
	coverage = 1.96
)

// spread sets the uncertainties of an entry from the picture alone.
func (f *Flaw) spread(e *entry) {
	if p := e.planar; p != nil {
		f.LengthU, f.TiltU = coverage*p.LengthUncertainty, min(coverage*p.TiltUncertainty, math.Pi/2)
		f.PlaceU = coverage * max(p.Ends[0].Uncertainty, p.Ends[1].Uncertainty)
		return
	}
	f.PlaceU = coverage * e.place().worst()
}

// budget replaces the uncertainties of an entry by the results of budgets that contain the set-up.
func (l *lister) budget(f *Flaw, e *entry) error {
	in := l.options.Inputs
	if in == nil {
		return nil
	}
	model, err := l.model(e)
	if err != nil {
		return err
	}
	read := func(at r3.Vec, u float64) (*uncertainty.Reading, error) {
		place, err := model.At(at)
		if err != nil {
			return nil, fmt.Errorf("flaw: entry at x %v m, z %v m: %w", at.X, at.Z, err)
		}
		return &uncertainty.Reading{Place: place, SNRDB: math.Inf(1), Method: u}, nil // the method contains the noise
	}
	centre, err := read(r3.Vec{X: f.X, Y: e.sightings[0].view.y, Z: f.Z}, f.PlaceU/coverage)
	if errors.Is(err, wedge.ErrNoRay) {
		return nil // a peak on or behind the wall has no derivatives: the picture alone counts
	}
	if err != nil {
		return err
	}
	x, err := f.add(in.X(centre))
	if err != nil {
		return err
	}
	z, err := f.add(in.Z(centre))
	if err != nil {
		return err
	}
	f.PlaceU = max(x, z)
	if e.planar == nil {
		return nil
	}
	a, b := e.planar.Ends[0], e.planar.Ends[1]
	upper, err := read(a.At, a.Uncertainty)
	if err != nil {
		return err
	}
	if b.OnWall { // the wall moves with the thickness
		wall, err := sizing.NewWall(l.setup.Entry, l.setup.Back)
		if err != nil {
			return fmt.Errorf("flaw: %w", err)
		}
		height, err := f.add(in.Remaining(wall, upper))
		f.LengthU = math.Hypot(height*f.Length/max(e.planar.Height, l.least()), coverage*b.Uncertainty)
		return err
	}
	lower, err := read(b.At, b.Uncertainty)
	if err != nil {
		return err
	}
	if f.LengthU, err = f.add(in.Length(upper, lower)); err != nil {
		return err
	}
	tilt, err := f.add(in.Tilt(upper, lower))
	f.TiltU = min(tilt, math.Pi/2)
	return err
}

// least returns a length in m below which no flaw is read.
func (l *lister) least() float64 { return l.views[0].step / 10 }

// add records a budget, and returns its expanded uncertainty.
func (f *Flaw) add(b *uncertainty.Budget, err error) (float64, error) {
	if err != nil {
		return 0, fmt.Errorf("flaw: %w", err)
	}
	f.Budgets = append(f.Budgets, b)
	return b.Result(level).Expanded, nil
}

// model returns how errors of the set-up move an entry, in the view that shows the entry best.
func (l *lister) model(e *entry) (*uncertainty.Model, error) {
	v := e.sightings[0].view
	if p := e.planar; p != nil {
		for _, s := range e.sightings {
			if s.view.Name == p.Evidence[0].View {
				v = s.view
			}
		}
	}
	if v.model == nil {
		var err error
		v.model, err = uncertainty.NewModel(l.capture, l.setup, v.Name, &uncertainty.Options{
			Pivot: l.options.Pivot, Image: &quality.Options{Band: l.options.Band, Dimension: l.options.Dimension},
		})
		if err != nil {
			return nil, fmt.Errorf("flaw: %w", err)
		}
	}
	return v.model, nil
}

// dropU returns the uncertainty of a 6 dB length, from the length of the point spread in m.
func dropU(spread float64) float64 { return coverage * math.Sqrt2 * dropShare * spread }

// dropShare is the standard uncertainty of an end of a 6 dB length, as a share of the length of the
// point spread.
const dropShare = 0.1

// method returns the method of a planar flaw in the terms of this package.
func method(m tips.Method) Method {
	switch m {
	case tips.TwoTips:
		return FromTips
	case tips.TipAndWall:
		return FromTipAndWall
	default:
		return FromDrop
	}
}
