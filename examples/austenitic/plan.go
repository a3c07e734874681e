// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge/graded"
)

// plans returns the plans of a view of longitudinal waves: along straight rays in the parent metal
// alone, and along the rays that the grains bend.
func plans(ctx context.Context, r *npy.Record, view string, grid tfm.Grid) (straight, bent *tfm.Plan, err error) {
	setup, err := r.Geometry()
	if err != nil {
		return nil, nil, err
	}
	if straight, err = tfm.PlanView(ctx, r.Capture, setup, view, grid, nil); err != nil {
		return nil, nil, err
	}
	part, err := r.Welded()
	if err != nil {
		return nil, nil, err
	}
	options := &graded.Options{Tolerance: 5e-9}
	if view == "LL-LL" {
		options.Skips = []graded.Polarisation{graded.QuasiLongitudinal}
	}
	times, err := part.Interpolate(ctx, graded.QuasiLongitudinal, r.Capture.Array.Elements, grid, options)
	if err != nil {
		return nil, nil, err
	}
	bent, err = tfm.NewPlan(r.Capture, grid, times, times, nil)
	return straight, bent, err
}
