// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"context"
	"errors"
	"slices"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/graded"
)

// plan prepares the images of a view. If the set-up has a weld with grains, the times are the times
// of rays that the grains bend.
func (m *measurer) plan(ctx context.Context, view wedge.View, g tfm.Grid, o *tfm.Options) (*tfm.Plan, error) {
	c := m.input.Capture
	if m.part == nil {
		return tfm.PlanView(ctx, c, m.setup, view.String(), g, o)
	}
	if c.Events != nil {
		return nil, errors.New("events through a weld with grains: want a capture of single elements")
	}
	there, err := m.bent(ctx, view.Transmit, g, o)
	if err != nil {
		return nil, err
	}
	back := there
	if !slices.Equal(view.Transmit, view.Receive) {
		if back, err = m.bent(ctx, view.Receive, g, o); err != nil {
			return nil, err
		}
	}
	return tfm.NewPlan(c, g, there, back, o)
}

// bent returns the times of the first rays to the pixels along a path with the given legs.
func (m *measurer) bent(ctx context.Context, legs []material.Mode, g tfm.Grid, o *tfm.Options) (*wedge.Times, error) {
	waves := make([]graded.Polarisation, len(legs))
	for i, mode := range legs {
		waves[i] = graded.QuasiLongitudinal
		if mode == material.T {
			waves[i] = graded.QuasiShearVertical
		}
	}
	return m.part.Interpolate(ctx, waves[0], m.input.Capture.Array.Elements, g,
		&graded.Options{Skips: waves[1:], Workers: o.Workers, Progress: o.Progress})
}
