// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package uncertainty

import "fmt"

// Parameter is a parameter of a set-up whose error moves the positions in an image.
type Parameter uint8

// The parameters, with the unit of their errors.
const (
	CouplingSpeed     Parameter = iota // speed in the wedge or the liquid, m/s
	LongitudinalSpeed                  // speed of longitudinal waves in the part, m/s
	TransverseSpeed                    // speed of transverse waves in the part, m/s
	Thickness                          // of the part, m: the back wall moves, the entry surface stays
	// WedgeAngle is an angle in radians. A larger angle raises elements at a greater x than
	// [Options].Pivot about the line through the pivot along y.
	WedgeAngle
	WedgeHeight // of the whole array over the part, m
	// ProbePosition is the x of the array relative to the origin of the positions, m.
	ProbePosition
	// ElementSpacing is the relative error of all spacings of the elements, as of the pitch: 0.001
	// for 0.1 %. The centre of the array stays.
	ElementSpacing
	// ElementPositions are independent errors of the place of each element, m, with the same
	// standard uncertainty along every direction of the section. In contact they lie along the
	// surface.
	ElementPositions
	// TimeZero is the error of [fmc.Capture].FirstSample, s: all echoes later by the same time.
	TimeZero

	parameters = int(TimeZero) + 1
)

var parameterNames = [parameters]string{
	"coupling speed", "longitudinal speed", "transverse speed", "thickness", "wedge angle", "wedge height",
	"probe position", "element spacing", "element positions", "time zero",
}

// String returns the name of the parameter, which is its name in budgets and in a [Correlation].
func (p Parameter) String() string {
	if int(p) >= parameters {
		return fmt.Sprintf("Parameter(%d)", uint8(p))
	}
	return parameterNames[p]
}
