// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

//go:build long

package graded

import (
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

// TestSkipsLong runs the checks of skips in welds on more paths.
func TestSkipsLong(t *testing.T) {
	checkLeastSkip(t, "HH", mm(-35, 0), mm(2, 20))
	checkButtering(t, "TT", mm(2, 14))
	for _, path := range []string{"TT", "LT", "TL", "TTT"} {
		checkInterpolatedSkips(t, path)
	}
	lt := math.Pow(parent.Longitudinal/parent.Transverse, 1.5)
	checkReverse(t, weldCase(t, nil, 1), "LT", "TL", lt)
	// The fusion faces cross the cladding on the back wall.
	curves, _ := metal(t, "weld metal X6CrNi18-11")
	p := check.Must(NewWeld(nil, parent, curves, grainLaw{vee, 1, 1}, veeWeld,
		Layer{box(-400, 26, 400, 40), check.Must(NewIsotropic(clad))}))
	checkReverse(t, p, "LT", "TL", lt)
	checkReverse(t, p, "TT", "TT", 1)
}
