// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc/npy"
)

// reason says why the usual views of a set-up are usual.
func reason(r *npy.Record) string {
	if r.Coupling == nil {
		return "an array in contact sends longitudinal waves"
	}
	angle, critical, part := degrees(math.Abs(r.Incidence())), degrees(r.CriticalAngle()), r.Part.Name
	switch views := r.UsualViews(); {
	case views[0].String() == "L-L":
		return fmt.Sprintf("incidence at %.1f° sends longitudinal waves into %s", angle, part)
	case len(views) == 1:
		return fmt.Sprintf("incidence at %.1f° sends transverse waves into %s; "+
			"views with skips take long through a weld with grains: -view asks for them", angle, part)
	}
	return fmt.Sprintf("incidence at %.1f°, "+
		"beyond the first critical angle of %.1f°, sends transverse waves only into %s; "+
		"TT-T looks at the side of a flaw that faces the back wall, TT-TT at its tips from below",
		angle, critical, part)
}

func degrees(radians float64) float64 { return radians * 180 / math.Pi }
