// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"context"
	"fmt"

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
	if len(view.Transmit) != 1 || len(view.Receive) != 1 || c.Events != nil {
		return nil, fmt.Errorf("view through a weld with grains: want a view without skips, such as L-L, of single elements")
	}
	there, err := m.bent(ctx, view.Transmit[0], g, o)
	if err != nil {
		return nil, err
	}
	back := there
	if view.Receive[0] != view.Transmit[0] {
		if back, err = m.bent(ctx, view.Receive[0], g, o); err != nil {
			return nil, err
		}
	}
	return tfm.NewPlan(c, g, there, back, o)
}

// bent returns the times of the first rays of a wave to the pixels.
func (m *measurer) bent(ctx context.Context, mode material.Mode, g tfm.Grid, o *tfm.Options) (*wedge.Times, error) {
	polarisation := graded.QuasiLongitudinal
	if mode == material.T {
		polarisation = graded.QuasiShearVertical
	}
	return m.part.Interpolate(ctx, polarisation, m.input.Capture.Array.Elements, g,
		&graded.Options{Workers: o.Workers, Progress: o.Progress})
}
