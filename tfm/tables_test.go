// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"context"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestTablesOfOtherThings gives plans tables of the right size that were made for something
// else, of every solver.
func TestTablesOfOtherThings(t *testing.T) {
	c := randomCapture(60, 4, 600, fmc.FullPairs(4))
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.5e-3))
	path := check.Must(plate().Path([]material.Mode{material.L}))
	table := func(elements, points []r3.Vec) *wedge.Times {
		return check.Must(path.Times(background, elements, points, nil))
	}
	shifted := g
	shifted.Origin.X += 10e-3
	moved := slices.Clone(c.Array.Elements)
	moved[3].X += 1e-6
	last := g.Points()
	last[len(last)-1].Z += 1e-8
	swapped := g.Points()
	swapped[5], swapped[6] = swapped[6], swapped[5]
	own := func(points []r3.Vec) *wedge.Times {
		return check.Must(wedge.NewTimes(nil, c.Array.Elements, points, make([]float32, 4*g.Len())))
	}
	good := table(c.Array.Elements, g.Points())
	unknown := *good
	unknown.MadeFor = wedge.MadeFor{}
	waves := *c
	waves.Events = slices.Repeat([]fmc.Event{{Delays: make([]float64, 4), Weights: []float64{1, 1, 1, 1}}}, 4)
	late := waves
	late.Events = slices.Clone(waves.Events)
	late.Events[2].Delays = []float64{0, 0, 0, 1e-9}
	events := check.Must(EventTimes(background, &waves, good, nil))
	for _, test := range []struct {
		name    string
		capture *fmc.Capture
		tx, rx  *wedge.Times
		words   []string
	}{
		{"a grid 10 mm off", c, table(c.Array.Elements, shifted.Points()), good, []string{"transmitting table of other points", "169 from (0.007, 0, 0.003)", "want 169 from (-0.003, 0, 0.003)"}},
		{"a grid 10 mm off, receiving", c, good, table(c.Array.Elements, shifted.Points()), []string{"receiving table of other points"}},
		{"one point 10 nm off", c, table(c.Array.Elements, last), good, []string{"transmitting table of other points", "hash"}},
		{"another order of the points", c, good, table(c.Array.Elements, swapped), []string{"receiving table of other points"}},
		{"interpolated", c, good, check.Must(path.Interpolate(background, c.Array.Elements, shifted, nil)), []string{"receiving table of other points"}},
		{"a solver of one's own", c, own(shifted.Points()), good, []string{"transmitting table of other points"}},
		{"other elements", c, good, table(moved, g.Points()), []string{"receiving table of other elements", "4 from (-0.0009, 0, 0)"}},
		{"no word of what it was made for", c, good, &unknown, []string{"receiving table", "wedge.NewTimes"}},
		{"elements for events", &waves, good, good, []string{"transmitting table of elements", "EventTimes"}},
		{"events for elements", c, events, good, []string{"transmitting table of events"}},
		{"events on both sides", &waves, events, events, []string{"receiving table of events"}},
		{"other events", &late, events, good, []string{"transmitting table of other events"}},
		{"events at other points", &waves, check.Must(NewEventTimes(&waves, nil, shifted.Points(), events.Seconds)), good, []string{"transmitting table of other points"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := NewPlan(test.capture, g, test.tx, test.rx, nil)
			check.Error(t, err, test.words...)
		})
	}
	_, err := EventTimes(background, &waves, table(moved, g.Points()), nil)
	check.Error(t, err, "other elements")
	bands := check.Must(NewBands(c, g, func(ctx context.Context, points []r3.Vec) (tx, rx *wedge.Times, err error) {
		shifted := slices.Clone(points)
		shifted[0].X += 1e-3
		return good, table(c.Array.Elements, shifted), nil
	}, 1e9, nil))
	_, err = bands.Images(background, c)
	check.Error(t, err, "receiving table of other points")

	for name, tx := range map[string]*wedge.Times{"a table of one's own": own(g.Points()), "the path's": good} {
		if _, err := NewPlan(c, g, tx, good, nil); err != nil {
			t.Errorf("%s is refused: %v", name, err)
		}
	}
}

// TestEqualPathsShare wants two tables of equal paths to cost a plan no more than one
// table, and to give the same image, bit for bit: the paths need not be one value.
func TestEqualPathsShare(t *testing.T) {
	c := randomCapture(61, 6, 600, fmc.FullPairs(6))
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.3e-3))
	table := func(modes ...material.Mode) *wedge.Times {
		return check.Must(check.Must(plate().Path(modes)).Times(background, c.Array.Elements, g.Points(), nil))
	}
	interpolated := func() *wedge.Times {
		return check.Must(check.Must(plate().Path([]material.Mode{material.T})).Interpolate(background, c.Array.Elements, g, nil))
	}
	own := func(path any) *wedge.Times {
		return check.Must(wedge.NewTimes(path, c.Array.Elements, g.Points(), table(material.T).Seconds))
	}
	for _, test := range []struct {
		name   string
		tx, rx *wedge.Times
		shared bool
	}{
		{"T-T", table(material.T), table(material.T), true},
		{"TT-TT", table(material.T, material.T), table(material.T, material.T), true},
		{"L-T", table(material.L), table(material.T), false},
		{"interpolated", interpolated(), interpolated(), true},
		{"one of them interpolated", interpolated(), table(material.T), false},
		{"named by the caller", own("T"), own("T"), true},
		{"not named", own(nil), own(nil), false},
	} {
		t.Run(test.name, func(t *testing.T) {
			eachKernel(t, func(t *testing.T, o Options, _ float64) {
				one := check.Must(NewPlan(c, g, test.tx, test.tx, &o))
				two := check.Must(NewPlan(c, g, test.tx, test.rx, &o))
				oneTables, oneScratch := one.Bytes()
				twoTables, twoScratch := two.Bytes()
				shares := oneTables == twoTables && oneScratch == twoScratch && len(one.lookups) == len(two.lookups)
				if shares != test.shared {
					t.Errorf("%d bytes and %d lookups, with one table %d and %d: want them equal %v", twoTables, len(two.lookups), oneTables, len(one.lookups), test.shared)
				}
				same := slices.Equal(check.Must(one.Image(background, c)).Data, check.Must(two.Image(background, c)).Data)
				if test.shared && !same {
					t.Error("the image is not the image of one table")
				}
			})
		})
	}
}
