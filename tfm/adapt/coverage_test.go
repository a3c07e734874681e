// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package adapt

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

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
	if testing.Short() {
		t.Skip("trials")
	}
	for _, s := range []surfaceTrial{chosenSurfaces[2], judgedSurfaces[2]} {
		if share := s.coverage(t, 2); !(share >= 0.7) {
			t.Errorf("%s: the intervals of 95 %% hold the truth at a share of %.2f of the places", s.name, share)
		}
	}
}

// blockTrial is a family of captures of a block of 5900 m/s.
type blockTrial struct {
	name  string
	block block
}

// The settings of Focus were chosen on the first list and on chosenFamilies. They are judged on the
// second list, with other seeds than the seeds of earlier versions, and on judgedFamilies.
var (
	chosenBlocks = []blockTrial{
		{"noise", block{noise: 0.5, holes: onePoint}},
		{"delays", block{noise: 0.1, delay: 8e-9, holes: onePoint}},
	}
	judgedBlocks = []blockTrial{
		{"three points, noise", block{noise: 0.5, holes: threePoints}},
		{"three points, delays", block{noise: 0.1, delay: 6e-9, holes: threePoints}},
		{"hole, noise", block{noise: 1, radius: 1e-3, holes: onePoint}},
		{"hole, noise and delays", block{noise: 0.4, delay: 5e-9, radius: 0.75e-3, holes: []r3.Vec{{X: -2e-3, Z: 13e-3}}}},
	}
	onePoint    = []r3.Vec{{X: 1e-3, Z: 15e-3}}
	threePoints = []r3.Vec{{X: -3e-3, Z: 12e-3}, {X: 4e-3, Z: 16e-3}, {X: 0, Z: 20e-3}}
)

// tally counts the determined captures of a family, and the intervals of 95 % that hold the truth.
type tally struct{ inside, determined int }

func (n *tally) add(f *Focused, truth float64) {
	if f.Verdict != Determined {
		return
	}
	n.determined++
	if math.Abs(f.Value.Value-truth) <= 1.96*f.Value.Uncertainty {
		n.inside++
	}
}

func (n *tally) share() float64 { return float64(n.inside) / float64(n.determined) }

// tally tries Focus on captures of the family, with their seeds from first.
func (s blockTrial) tally(t *testing.T, first, trials int) (n tally) {
	for k := range trials {
		b := steel
		b.holes, b.radius, b.noise, b.delay = s.block.holes, s.block.radius, s.block.noise, s.block.delay
		b.seed = uint64(first + k)
		n.add(b.focus(t, &FocusOptions{Radius: b.radius}), b.speed)
	}
	return n
}

func (f *family) tally(t *testing.T, first, trials int) (n tally) {
	f.trials(t, first, trials, func(found *Focused) { n.add(found, f.truth) })
	return n
}

// TestFocusCoverage is the short form of the long trials.
func TestFocusCoverage(t *testing.T) {
	if testing.Short() {
		t.Skip("trials")
	}
	var all tally
	for _, s := range []blockTrial{chosenBlocks[1], judgedBlocks[3]} {
		n := s.tally(t, 0, 2)
		all.inside, all.determined = all.inside+n.inside, all.determined+n.determined
	}
	n := judgedFamilies[2].tally(t, 0, 2)
	all.inside, all.determined = all.inside+n.inside, all.determined+n.determined
	if !(all.share() >= 0.75) || all.determined < 5 {
		t.Errorf("%d of 6 captures are determined, %d intervals of 95 %% hold the truth", all.determined, all.inside)
	}
}
