// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.
package thickness

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm/ascan"
	"github.com/isochron-imaging/isochron/wedge"
)

// pit is a pit in the back wall of a plate of 12 mm, in a section.
type pit struct {
	x, width, depth float64 // mm
	round           bool    // a cosine; otherwise a flat bottom with upright sides
}

// left returns the thickness in mm over a place in mm.
func (p pit) left(x float64) float64 {
	const wall = 12
	switch d := math.Abs(x - p.x); {
	case d > p.width/2:
		return wall
	case p.round:
		return wall - p.depth*math.Cos(math.Pi*d/p.width)
	}
	return wall - p.depth
}

var plateSteel = material.Isotropic{Density: 7850, Longitudinal: speed, Transverse: 3230}

// huygens returns a capture of 24 elements in contact with a plate. The back wall is a row of equal
// point sources, 0.1 mm apart (Huygens' principle), without shadows and without sides of the pit.
// Each source echoes the pulse of this package's tests after the straight ray times.
func huygens(wall func(x float64) float64, noise float64, seed uint64) *fmc.Capture {
	const n, samples, edge = 24, 320, 18.
	array := check.Must(fmc.LinearArray(n, 0.6*mm, fmc.Array{Width: 0.5 * mm, CentreFrequency: frequency, Bandwidth: 0.6}))
	c := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.HalfPairs(n), Samples: samples, SampleRate: rate}))
	const fine, reach = 40, 4 * sigma // steps a sample
	pulse := make([]float32, int(2*reach*rate*fine))
	for i := range pulse {
		d := float64(i)/(rate*fine) - reach
		pulse[i] = float32(math.Exp(-d*d/(2*sigma*sigma)) * math.Cos(2*math.Pi*frequency*d))
	}
	random := rand.New(rand.NewPCG(seed, 9))
	for p, pair := range c.Pairs {
		trace := c.Data[p*samples : (p+1)*samples]
		for x := -edge; x <= edge; x += 0.1 {
			z := wall(x) * mm
			in := math.Hypot(x*mm-array.Elements[pair.Tx].X, z)
			out := math.Hypot(x*mm-array.Elements[pair.Rx].X, z)
			taper := math.Cos(math.Pi / 2 * x / edge)
			height := float32(taper * taper * z * z / math.Pow(in*out, 1.5) * 1e-2)
			start := ((in+out)/speed - reach) * rate
			for k := max(0, int(math.Ceil(start))); k < samples; k++ {
				at := int((float64(k) - start) * fine)
				if at >= len(pulse) {
					break
				}
				trace[k] += height * pulse[at]
			}
		}
		for k := range trace {
			trace[k] += float32(noise * random.NormFloat64())
		}
	}
	return c
}

// TestSmallPits compares beams over pits of several widths. A pit is seen if the least reading lies
// within 0.1 mm of the least thickness. The threshold, the 0.1 mm and the least width that a row
// sees were chosen on the seeds 0 and 1. The seeds 2 and 3 judge them.
func TestSmallPits(t *testing.T) {
	seeds := uint64(4)
	if testing.Short() {
		seeds = 2
	}
	setup := check.Must(wedge.NewPlate(nil, plateSteel, 12*mm))
	c := huygens(pit{}.left, 0, 0)
	var pits []pit
	var captures []*fmc.Capture
	for _, width := range []float64{1, 1.5, 2, 3, 6} {
		for seed := range seeds {
			random := rand.New(rand.NewPCG(seed, 5))
			p := pit{x: 2*random.Float64() - 1, width: width, depth: 2 + 3*random.Float64(), round: seed%2 == 0}
			pits, captures = append(pits, p), append(captures, huygens(p.left, 1e-4, seed))
		}
	}
	for _, row := range []struct {
		name     string
		like     ascan.Beam
		aperture int
		width    float64 // least width in mm of pits that are seen
		missed   int     // of 4 narrower pits or more
	}{
		{"8 elements, unfocused", ascan.Beam{Mode: material.L}, 8, 2, 1},
		{"8 elements, focused at every depth", focused, 8, 1.5, 1},
		{"16 elements, focused at every depth", focused, 16, 1.5, 1},
	} {
		plan := check.Must(ascan.NewPlan(ctx, c, setup, check.Must(ascan.Linear(row.like, 24, row.aperture, 1)), nil))
		missed := 0
		for i, p := range pits {
			found := leastOf(t, plan, captures[i])
			off := found - (12 - p.depth)
			t.Logf("%s: width %v mm, depth %.2f mm, round %v: %.3f mm off", row.name, p.width, p.depth, p.round, off)
			switch seen := math.Abs(off) <= 0.1; {
			case !seen && p.width >= row.width:
				t.Errorf("%s: pit %+v: read %.3f mm", row.name, p, found)
			case !seen:
				missed++
			}
		}
		if missed < row.missed {
			t.Errorf("%s: %d narrow pits missed, want at least %d: a smaller width could be stated", row.name, missed, row.missed)
		}
	}
}

// leastOf returns the least thickness in mm that the beams of a plan read.
func leastOf(t *testing.T, plan *ascan.Plan, plate *fmc.Capture) float64 {
	t.Helper()
	traces := check.Must(plan.Traces(ctx, plate))
	r := plain()
	r.Reference, r.Threshold = slices.Max(traces[0].Envelope(nil)), -20 // over the wall beside the pit
	least := math.Inf(1)
	for _, trace := range traces {
		if x := check.Must(r.Read(trace)); x.State.Counts() {
			least = min(least, x.Thickness/mm)
		}
	}
	return least
}
