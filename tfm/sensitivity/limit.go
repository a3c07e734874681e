// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/wedge"
)

// limited identifies the path of a table with a limit of the angle.
type limited struct {
	path   any
	normal r3.Vec
	angle  float64
}

// LimitAngle returns a copy of a table of times without the rays that leave their element at more
// than an angle from the normal of the elements. An image by this table does not sum pairs of
// elements that hear almost nothing of a pixel but noise. Set [Options.Angle] to the same angle.
//
// The table must have directions ([wedge.TimesOptions]). The normal has any length above 0. The
// angle is in rad, above 0 and at most π/2. A pixel that lost a ray has the state [tfm.NoRay] in
// the image: a smooth flaw may mirror the beam to that element alone.
func LimitAngle(t *wedge.Times, normal r3.Vec, angle float64) (*wedge.Times, error) {
	if t == nil {
		return nil, errors.New("sensitivity: no table of times, nil: want one")
	}
	if len(t.Departure) != len(t.Seconds) {
		return nil, fmt.Errorf("sensitivity: table of %d times and %d directions: want one direction each", len(t.Seconds), len(t.Departure))
	}
	if size := r3.Norm(normal); !number.Positive(size) {
		return nil, fmt.Errorf("sensitivity: normal %v: want a finite vector that is not zero", normal)
	}
	if err := checkAngle(angle); err != nil {
		return nil, err
	}
	out := *t
	out.Seconds = make([]float32, len(t.Seconds))
	out.Missing = 0
	out.MadeFor.Path = limited{t.MadeFor.Path, normal, angle}
	n, least := r3.Unit(normal), math.Cos(angle)
	for i, d := range t.Departure {
		out.Seconds[i] = t.Seconds[i]
		cos := float64(d.X)*n.X + float64(d.Y)*n.Y + float64(d.Z)*n.Z
		if !(cos >= least) { // also without a ray
			out.Seconds[i] = float32(math.NaN())
			out.Missing++
		}
	}
	return &out, nil
}

// checkAngle returns an error for an angle that limits nothing or all.
func checkAngle(angle float64) error {
	if !(angle > 0 && angle <= math.Pi/2) {
		return fmt.Errorf("sensitivity: limit of the angle %v rad: want above 0 and at most π/2", angle)
	}
	return nil
}
