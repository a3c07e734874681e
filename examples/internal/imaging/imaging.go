// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

// Package imaging goes the whole way from a record to the envelope of one view, which
// example first shows step by step.
package imaging

import (
	"context"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// Envelope images a record in the named view over a grid, with the options of the plan.
func Envelope(ctx context.Context, record *npy.Record, name string, grid tfm.Grid, options *tfm.Options) (*tfm.Envelope, error) {
	setup, err := record.Setup.Geometry()
	if err != nil {
		return nil, err
	}
	view, err := wedge.ParseView(name)
	if err != nil {
		return nil, err
	}
	transmit, receive, err := setup.Paths(view)
	if err != nil {
		return nil, err
	}
	elements, points := record.Capture.Array.Elements, grid.Points()
	tx, err := transmit.Times(ctx, elements, points, nil)
	if err != nil {
		return nil, err
	}
	rx := tx
	if receive != transmit {
		if rx, err = receive.Times(ctx, elements, points, nil); err != nil {
			return nil, err
		}
	}
	plan, err := tfm.NewPlan(record.Capture, grid, tx, rx, options)
	if err != nil {
		return nil, err
	}
	image, err := plan.Image(ctx, record.Capture)
	if err != nil {
		return nil, err
	}
	return image.Envelope(nil), nil
}
