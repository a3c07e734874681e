// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"context"
	"errors"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestPlanView compares the plan of a view with the plan of tables that are made by hand: the
// image has the same bits, and the tables take the same memory.
func TestPlanView(t *testing.T) {
	half := randomCapture(70, 6, 600, fmc.HalfPairs(6))
	waves := check.Must(transmit.PlaneWaves(half.Array, 5920, []r3.Vec{{X: -0.2, Z: math.Sqrt(0.96)}, {Z: 1}}))
	events := check.Must(transmit.Encode(background, half, waves, nil))
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.3e-3))
	for _, test := range []struct {
		name, view string
		capture    *fmc.Capture
		oneTable   bool // for both paths
	}{
		{"one path", "L-L", half, true},
		{"one path with a skip", "TT-TT", half, true},
		{"two paths", "TT-T", half, false},
		{"events, one path of elements", "L-L", events, false},
		{"events, two paths", "L-T", events, false},
	} {
		t.Run(test.name, func(t *testing.T) {
			tx, rx := tables(plate(), test.view, test.capture, g)
			if test.capture.Events != nil {
				tx = check.Must(EventTimes(background, test.capture, tx, nil))
			}
			parts := check.Must(NewPlan(test.capture, g, tx, rx, nil))
			var shares []float64
			options := &Options{Progress: func(share float64) { shares = append(shares, share) }}
			plan := check.Must(PlanView(background, test.capture, plate(), test.view, g, options))
			if !slices.IsSorted(shares) || len(shares) == 0 || shares[len(shares)-1] != 1 {
				t.Errorf("progress %v, want shares that rise to 1", shares)
			}
			want, got := check.Must(parts.Image(background, test.capture)), check.Must(plan.Image(background, test.capture))
			if !slices.Equal(got.Data, want.Data) {
				t.Error("the image is not the image of tables that are made by hand")
			}
			once := check.Must(ImageView(background, test.capture, plate(), test.view, g, nil))
			if !slices.Equal(once.Data, want.Data) {
				t.Error("ImageView does not return the image of the plan")
			}
			wantBytes, _ := parts.Bytes()
			if gotBytes, _ := plan.Bytes(); gotBytes != wantBytes {
				t.Errorf("tables of %d bytes, want %d", gotBytes, wantBytes)
			}
			timer := check.Must(NewTimer(test.capture, plate(), test.view, nil))
			transmitting, receiving, err := timer(background, g.Points())
			if err != nil || (transmitting == receiving) != test.oneTable {
				t.Errorf("one table for both paths is %v, error %v; want %v", transmitting == receiving, err, test.oneTable)
			}
		})
	}
}

func TestBadPlanView(t *testing.T) {
	c := randomCapture(71, 4, 300, fmc.FullPairs(4))
	g := check.Must(NewSection(-1e-3, 1e-3, 2e-3, 4e-3, 0.2e-3))
	above := g
	above.Origin.Z = -1 // outside the part
	open := *plate()
	open.Back = nil
	for _, test := range []struct {
		name    string
		capture *fmc.Capture
		setup   *wedge.Setup
		view    string
		grid    Grid
		options *Options
		words   []string
	}{
		{"no capture", nil, plate(), "L-L", g, nil, []string{"no capture"}},
		{"no set-up", c, nil, "L-L", g, nil, []string{"without a set-up"}},
		{"no such view", c, plate(), "L-X", g, nil, []string{`view "L-X"`}},
		{"a skip without a back wall", c, &open, "TT-T", g, nil, []string{"back"}},
		{"no grid", c, plate(), "L-L", Grid{}, nil, []string{"step 0 m along x"}},
		{"a grid beyond the part", c, plate(), "L-L", above, nil, []string{"without a single ray"}},
		{"weights", c, plate(), "L-L", g, &Options{Weights: []float32{1}}, []string{"1 weights", "want 16"}},
		{"workers", c, plate(), "L-L", g, &Options{Workers: -1}, []string{"workers -1"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := PlanView(background, test.capture, test.setup, test.view, test.grid, test.options)
			check.Error(t, err, test.words...)
		})
	}
	_, err := NewTimer(nil, plate(), "L-L", nil)
	check.Error(t, err, "no capture")
	ended, cancel := context.WithCancel(background)
	cancel()
	if _, err := PlanView(ended, c, plate(), "L-L", g, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want the error of the context", err)
	}
}
