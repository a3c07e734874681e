// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
)

// boundCases returns a random set-up of each kind of surface for [TestInterpolateBound]. The
// elements lie within reach of x = 0, at the given heights.
func boundCases(rng *rand.Rand) []boundCase {
	within := func(a, b float64) float64 { return a + rng.Float64()*(b-a) }
	wet := func(entry Surface) *Setup { return &Setup{Coupling: &water, Part: steel, Entry: entry} }
	plate := check.Must(NewPlate(&polystyrene, steel, 16e-3))
	bored := check.Must(NewPlate(nil, steel, 30e-3))
	var hole Outline
	for i := range 65 {
		sin, cos := math.Sincos(2 * math.Pi * float64(i%64) / 64)
		hole = append(hole, r2.Vec{X: 1.5e-3 * cos, Y: 10e-3 + 1.5e-3*sin})
	}
	bored.Voids = []Outline{hole}
	radius := within(15e-3, 60e-3)
	small := within(8e-3, 20e-3)
	// The axis of a bore lies at z = 0, in steel; the array lies in the bore.
	bore := check.Must(NewCylinder(r3.Vec{}, r3.Vec{Y: 1}, small, Concave))
	outside := check.Must(NewCylinder(r3.Vec{}, r3.Vec{Y: 1}, small+12e-3, Concave))
	turn, tilt := within(-0.5, 0.5), within(-0.1, 0.1)
	return []boundCase{
		{"plane", check.Must(NewPlate(&water, steel, 30e-3)), "T", -within(5e-3, 20e-3)},
		{"tilted plane", wet(check.Must(NewPlane(r3.Vec{}, r3.Vec{X: tilt, Y: 0.1, Z: 1}))), "L", -within(5e-3, 20e-3)},
		{"converted skip", plate, "LT", -within(5e-3, 20e-3)},
		{"pipe", check.Must(NewPipe(&water, steel, radius, radius/4)), "L", -within(3e-3, 20e-3)},
		{"pipe, skip", check.Must(NewPipe(&water, steel, radius, radius/4)), "TT", -within(3e-3, 20e-3)},
		{"bore", wet(bore), "L", within(-0.6, 0.6) * small},
		{"bore, skip", &Setup{Coupling: &water, Part: steel, Entry: bore, Back: outside}, "LL", within(-0.6, 0.6) * small},
		{"pipe in contact", check.Must(NewPipe(nil, steel, radius, radius/4)), "LL", 0},
		{"hole", bored, "L", 0},
		{"gentle profile", wet(check.Must(NewProfile(waves(within(0, 0.3e-3), within(100, 250))))), "L", -within(8e-3, 20e-3)},
		{"strong profile", wet(check.Must(NewProfile(waves(within(0.3e-3, 1e-3), within(200, 600))))), "L", -within(8e-3, 20e-3)},
		{"sphere", wet(check.Must(NewSphere(r3.Vec{Z: radius}, radius, Convex))), "L", -within(8e-3, 20e-3)},
		{"hollow sphere", wet(check.Must(NewSphere(r3.Vec{Z: -30e-3 - radius}, 30e-3+radius, Concave))), "L", -within(8e-3, 20e-3)},
		{"cone", wet(check.Must(NewCone(r3.Vec{Z: radius}, r3.Vec{X: turn, Y: 1}, radius, tilt, Convex))), "L", -within(8e-3, 20e-3)},
		{"skew cylinder", wet(check.Must(NewCylinder(r3.Vec{Z: radius}, r3.Vec{X: turn, Y: 1}, radius, Convex))), "L", -within(8e-3, 20e-3)},
		{"height field", wet(hills()), "L", -within(8e-3, 20e-3)},
	}
}

type boundCase struct {
	name   string
	setup  *Setup
	path   string
	height float64 // z of the element, m
}

// TestInterpolateBound compares interpolated times at random points with exact times, for random
// set-ups of each kind of surface.
func TestInterpolateBound(t *testing.T) {
	rounds, each := boundRounds, boundPoints
	if testing.Short() {
		rounds, each = 2, 1000
	}
	rng := rand.New(rand.NewPCG(201, 202))
	grid := func() Grid {
		return gridOf(-8+4*rng.Float64(), 4*rng.Float64()-1, 0.05+0.1*rng.Float64(), 80+rng.IntN(120), 80+rng.IntN(120))
	}
	worst, over, count := map[string]float64{}, map[string]int{}, map[string]int{}
	for range rounds {
		for _, c := range boundCases(rng) {
			modes, _ := parseModes(c.path)
			p := check.Must(c.setup.Path(modes))
			element := r3.Vec{X: 10e-3 * (rng.Float64() - 0.5), Z: c.height}
			if c.setup.Coupling == nil {
				element = c.setup.Entry.At(element.X, 0).P
			}
			g := grid()
			got := check.Must(p.Interpolate(background, []r3.Vec{element}, g, nil))
			at := make([]int, each)
			for i := range at {
				at[i] = rng.IntN(g.Len())
			}
			slices.Sort(at) // exact times are found fastest in the order of the grid
			var points []r3.Vec
			for _, i := range at {
				points = append(points, g.Point(i))
			}
			want := check.Must(p.Times(background, []r3.Vec{element}, points, nil))
			for k, i := range at {
				a, b := float64(got.Seconds[i]), float64(want.Seconds[k])
				count[c.name]++
				if math.IsNaN(a) && math.IsNaN(b) {
					continue
				}
				off := math.Abs(a - b)
				if !(off <= defaultError+b*0x1p-23) {
					if over[c.name]++; over[c.name] <= 3 {
						t.Errorf("%s, element %v, point %v: %v s, want %v", c.name, element, points[k], a, b)
					}
				}
				worst[c.name] = max(worst[c.name], off)
			}
		}
	}
	for _, c := range boundCases(rng) {
		t.Logf("%s: %d points, %d over the tolerance, largest error %.3g ns", c.name, count[c.name], over[c.name], worst[c.name]*1e9)
	}
}
