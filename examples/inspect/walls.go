// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"context"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm/ghost"
	"github.com/isochron-imaging/isochron/wedge"
)

// echo is an indication that is the echo of a wall.
type echo struct {
	wall string
	sizing.Indication
}

// recognise separates the echoes of walls from the other indications of a view. Both results keep
// the order of found.
func (in *inspection) recognise(ctx context.Context, v wedge.View, found []sizing.Indication) (
	echoes []echo, rest []sizing.Indication, err error) {
	array := in.record.Capture.Array
	for _, f := range found {
		peak := r3.Vec{X: f.X, Y: array.Elements[0].Y, Z: f.Z}
		name, err := ghost.WallAt(ctx, in.setup, array, v, peak, f.Contour, in.options.step)
		if err != nil {
			return nil, nil, err
		}
		if name == "" {
			rest = append(rest, f)
		} else {
			echoes = append(echoes, echo{name, f})
		}
	}
	return echoes, rest, nil
}
