// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// surfaceTrial is a family of captures with the shape that is fitted to them.
type surfaceTrial struct {
	name  string
	scene scene
	shape Shape
}

// The settings of FindSurface were chosen on the first list, and are judged on the second one.
var (
	chosenSurfaces = []surfaceTrial{
		{"tilted plane", scene{depth: tilted, noise: 0.02}, Plane},
		{"wave of 18 mm", scene{depth: wavy, noise: 0.02}, Profile},
		{"wave of 18 mm, delays", scene{depth: wavy, noise: 0.02, delay: 3e-9}, Profile},
	}
	judgedSurfaces = []surfaceTrial{
		{"pipe", scene{depth: pipe, noise: 0.03}, Circle},
		{"bore, delays", scene{depth: bore, noise: 0.02, delay: 4e-9}, Circle},
		{"two waves", scene{depth: twoWaves, noise: 0.03}, Profile},
		{"two waves, delays", scene{depth: twoWaves, noise: 0.02, delay: 4e-9}, Profile},
	}
)

func twoWaves(x float64) float64 {
	return 11e-3 + 0.25e-3*math.Sin(2*math.Pi*x/14e-3) + 0.1e-3*math.Cos(2*math.Pi*x/9e-3+2) + 0.03*x
}

// coverage returns the share of places at which the interval of 95 % holds the true depth, over
// trials and over eleven places of the lit range.
func (s surfaceTrial) coverage(t *testing.T, trials int) float64 {
	inside, all := 0, 0
	for k := range trials {
		s.scene.seed = uint64(k)
		found, err := FindSurface(s.scene.capture(t), calibrate.Estimate{Value: water},
			&SurfaceOptions{Shape: s.shape, Offset: calibrate.Estimate{Uncertainty: 1e-15}})
		if err != nil {
			t.Fatalf("%s, seed %d: %v", s.name, k, err)
		}
		for i := range 11 {
			x := found.Lit.Min + (float64(i)+0.5)/11*(found.Lit.Max-found.Lit.Min)
			d := found.Depth(x)
			if math.Abs(d.Value-s.scene.depth(x)) <= 1.96*d.Uncertainty {
				inside++
			}
			all++
		}
	}
	return float64(inside) / float64(all)
}

// TestSurfaceCoverage is the short form of the long trials: the intervals of 95 % hold the truth at
// most places of a few captures.
func TestSurfaceCoverage(t *testing.T) {
	for _, s := range []surfaceTrial{chosenSurfaces[2], judgedSurfaces[2]} {
		if share := s.coverage(t, 4); !(share >= 0.8) {
			t.Errorf("%s: the intervals of 95 %% hold the truth at a share of %.2f of the places", s.name, share)
		}
	}
}
