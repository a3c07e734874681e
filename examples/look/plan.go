// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// newPlan returns the plan of a view. The tables of times are interpolated between few rays,
// because they are made anew for each move of a slider.
func newPlan(ctx context.Context, r *npy.Record, setup *wedge.Setup, view string, g tfm.Grid) (*tfm.Plan, error) {
	c := r.Capture
	if c.Events != nil {
		return tfm.PlanView(ctx, c, setup, view, g, nil)
	}
	v, err := wedge.ParseView(view)
	if err != nil {
		return nil, err
	}
	transmit, receive, err := setup.Paths(v)
	if err != nil {
		return nil, err
	}
	there, err := transmit.Interpolate(ctx, c.Array.Elements, g, nil)
	if err != nil {
		return nil, err
	}
	back := there
	if !v.Symmetric() {
		if back, err = receive.Interpolate(ctx, c.Array.Elements, g, nil); err != nil {
			return nil, err
		}
	}
	return tfm.NewPlan(c, g, there, back, nil)
}
