// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import (
	"errors"
	"math"

	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// Calibrated returns the inputs that a calibration of the array over the surface of the part gives:
// [CouplingSpeed], [WedgeAngle], [WedgeHeight] and [TimeZero], with their correlations. Add the
// other parameters to Parameters.
//
// The array turns about the middle of its elements: this is the [Options].Pivot for the result. For
// TimeZero the offset of the calibration must be subtracted from [fmc.Capture].FirstSample. The
// error names a nil placement.
func Calibrated(p *calibrate.Placement) (*Inputs, error) {
	if p == nil {
		return nil, errors.New("uncertainty: no placement: want the result of a calibration")
	}
	// The places in calibrate.Placement.Covariance. An offset that is too large makes the time of
	// sample 0 too small.
	order := [...]struct {
		parameter Parameter
		place     int
		sign      float64
	}{{WedgeAngle, 0, 1}, {CouplingSpeed, 2, 1}, {WedgeHeight, 3, 1}, {TimeZero, 4, -1}}
	in := &Inputs{Parameters: make(map[Parameter]Quantity, len(order))}
	for i, a := range order {
		u := math.Sqrt(p.Covariance[a.place][a.place])
		in.Parameters[a.parameter] = Quantity{Uncertainty: u}
		for _, b := range order[:i] {
			if size := u * math.Sqrt(p.Covariance[b.place][b.place]); size > 0 {
				r := a.sign * b.sign * p.Covariance[a.place][b.place] / size
				in.Correlations = append(in.Correlations, Correlation{a.parameter.String(), b.parameter.String(), max(-1, min(1, r))})
			}
		}
	}
	return in, nil
}
