// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tips

import (
	"context"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestTrial judges the limits of the package on synthetic captures of odd seeds. Even seeds chose
// the limits. The long form is TestLongTrial.
func TestTrial(t *testing.T) {
	if testing.Short() {
		t.Skip("a trial needs many captures")
	}
	judgeCracks(t, 1, 4)
	judgePores(t, 1, 1)
}

// judgeCracks reads n captures of one crack each, of the odd or the even seeds.
func judgeCracks(t *testing.T, first, n uint64) {
	t.Helper()
	good, covered, measured, extra := uint64(0), uint64(0), uint64(0), uint64(0)
	for i := range n {
		c := randomCrack(first + 2*i)
		best, flaws := math.Inf(1), c.read()
		for _, f := range flaws {
			if f.LengthIs != Measured {
				continue
			}
			off := math.Abs(f.Length - c.length)
			best = min(best, off)
			if off <= 2*f.LengthUncertainty {
				covered++
			}
			measured++
		}
		if len(flaws) > 1 {
			extra++
		}
		if best <= 0.5e-3 {
			good++
		} else {
			t.Logf("seed %d: crack of %.2f mm from %.4f to %.4f, opening %v m: error %v m", first+2*i,
				c.length*1e3, c.crack.From, c.crack.To, c.crack.Width, best)
		}
	}
	t.Logf("%d cracks: %d within 0.5 mm; %d of %d lengths within two standard uncertainties; %d with more than one flaw",
		n, good, covered, measured, extra)
	if good*10 < n*9 {
		t.Errorf("%d of %d lengths within 0.5 mm, want 90 %%", good, n)
	}
	if extra*50 > n {
		t.Errorf("%d of %d cracks show as more than one flaw, want at most 2 %%", extra, n)
	}
	if covered*10 < measured*9 {
		t.Errorf("%d of %d lengths within two standard uncertainties, want 90 %%", covered, measured)
	}
}

// judgePores reads n captures of random holes, of the odd or the even seeds. In a quarter of them
// one hole lies above another of the same diameter.
func judgePores(t *testing.T, first, n uint64) {
	t.Helper()
	wrong := uint64(0)
	for i := range n {
		for _, f := range randomPores(first + 2*i).read() {
			if f.Method != Face {
				wrong++
				t.Logf("seed %d: %+v", first+2*i, f)
				break
			}
		}
	}
	t.Logf("%d scenes of holes: %d with a false flaw", n, wrong)
	if wrong*50 > n {
		t.Errorf("%d of %d scenes of holes have a false flaw, want at most 2 %%", wrong, n)
	}
}

// trial is a synthetic capture and the box to image. All values are invented.
type trial struct {
	setup      *wedge.Setup
	array      fmc.Array
	first      float64 // time of the first sample, s
	views      []string
	box        box
	reflectors []synth.Reflector
	seed       uint64
	crack      synth.Crack
	length     float64
}

// onPlate returns an array of 32 elements in contact with a plate of 25 mm.
func onPlate(seed uint64) *trial {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	array := check.Must(fmc.LinearArray(32, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}))
	return &trial{
		setup: check.Must(wedge.NewPlate(nil, steel, 25e-3)), array: array,
		first: 1.5e-6, views: []string{"L-L"}, seed: seed,
	}
}

// onWeld returns an array of 32 elements on a wedge of 36 degrees, on a plate of 16 mm.
func onWeld(seed uint64, views ...string) *trial {
	c := onPlate(seed)
	polystyrene := material.Isotropic{Density: 1055, Longitudinal: 2340, Transverse: 1150}
	c.setup = check.Must(wedge.NewPlate(&polystyrene, c.setup.Part, 16e-3))
	c.array.CentreFrequency = 4e6
	const angle, height = 36 * degree, 11.5e-3
	c.array = check.Must(c.array.Place(r3.NewRotation(angle, r3.Vec{Y: 1}), r3.Vec{X: -height * math.Tan(angle), Z: -height}))
	c.first, c.views = 19e-6, views
	return c
}

// read returns the flaws of the trial. The noise has a standard deviation of 0.5 % of the largest
// sample.
func (c *trial) read() []Flaw {
	capture, pictures := c.take()
	return check.Must(Find(context.Background(), capture, c.setup, pictures, &Options{Dimension: wedge.Section}))
}

// take returns the capture of the trial and its pictures.
func (c *trial) take() (*fmc.Capture, []View) {
	ctx := context.Background()
	scene := &synth.Scene{Setup: *c.setup, Array: c.array, Dimension: wedge.Section, Reflectors: c.reflectors}
	for _, v := range c.views {
		scene.Views = append(scene.Views, check.Must(wedge.ParseView(v)))
	}
	capture := check.Must(synth.Synthesise(ctx, scene, synth.Recording{
		Pairs: fmc.HalfPairs(len(c.array.Elements)), Samples: 620, SampleRate: 50e6, FirstSample: c.first,
	}))
	capture = check.Must(synth.Receiver{Noise: 0.005, Seed: c.seed}.Record(capture))
	grid := check.Must(tfm.NewSection(c.box.x0, c.box.x1, c.box.z0, c.box.z1, c.box.step))
	var pictures []View
	for _, v := range c.views {
		plan := check.Must(tfm.PlanView(ctx, capture, c.setup, v, grid, nil))
		pictures = append(pictures, View{v, check.Must(plan.Image(ctx, capture))})
	}
	return capture, pictures
}

// TestSpread compares the predicted picture of a point with the picture of a point.
func TestSpread(t *testing.T) {
	c := onWeld(1, "T-T")
	c.reflectors = []synth.Reflector{synth.Point{Position: r3.Vec{X: 17e-3, Z: 10e-3}, Strength: 1}}
	c.box = box{14e-3, 20e-3, 7e-3, 13e-3, 0.1e-3}
	capture, pictures := c.take()
	o := check.Must((&Options{Dimension: wedge.Section, Floor: -6}).withDefaults())
	s := check.Must(newSignals(context.Background(), capture, o.Band, 0))
	m := check.Must(newModel(c.setup, s, pictures[0], o))
	if len(m.spots) != 1 {
		t.Fatalf("%d spots, want 1", len(m.spots))
	}
	check.Within(t, "predicted 6 dB length over the length in the picture", m.spots[0].spread/m.spots[0].Length, 1, 0.08)
}

// randomCrack returns a trial with one crack or slit of 2 to 7 mm: in two of three inside a plate,
// else at the root of a weld.
func randomCrack(seed uint64) *trial {
	r := rand.New(rand.NewPCG(seed, 1))
	between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	c := onPlate(seed)
	c.length = between(2e-3, 7e-3)
	c.crack.Width = 0.06e-3 * float64(r.IntN(3))
	if width, length := c.crack.Width, c.length; r.IntN(3) == 0 {
		c = onWeld(seed, "T-T", "TT-T")
		c.length = length
		lean := between(-10, 10) * degree
		root := r3.Vec{X: between(14e-3, 20e-3), Z: 16e-3}
		tip := r3.Add(root, r3.Scale(length, r3.Vec{X: math.Sin(lean), Z: -math.Cos(lean)}))
		c.crack = synth.Crack{From: tip, To: root, Rooted: true, Width: width}
	} else {
		tilt := between(-40, 40) * degree
		centre := r3.Vec{X: between(-5e-3, 5e-3), Z: between(9e-3, 17e-3)}
		half := r3.Scale(length/2, r3.Vec{X: math.Sin(tilt), Z: -math.Cos(tilt)})
		c.crack.From, c.crack.To = r3.Add(centre, half), r3.Sub(centre, half)
	}
	c.reflectors = []synth.Reflector{c.crack}
	a, b := c.crack.From, c.crack.To
	const rim = 3e-3
	bottom := b.Z + rim
	if c.crack.Rooted {
		bottom = b.Z + 0.5e-3
	}
	c.box = box{min(a.X, b.X) - rim, max(a.X, b.X) + rim, a.Z - rim, bottom, 0.15e-3}
	return c
}

// randomPores returns a trial with two to five holes of 0.3 to 2 mm.
func randomPores(seed uint64) *trial {
	r := rand.New(rand.NewPCG(seed, 2))
	between := func(a, b float64) float64 { return a + (b-a)*r.Float64() }
	c, x0, deepest := onPlate(seed), 0.0, 20e-3
	if r.IntN(3) == 0 {
		c, x0, deepest = onWeld(seed, "T-T", "TT-TT"), 17e-3, 13e-3
	}
	c.box = box{x0 - 9e-3, x0 + 9e-3, 4e-3, deepest + 2.5e-3, 0.15e-3}
	var holes []synth.Hole
	if r.IntN(4) == 0 {
		upper := synth.Hole{X: x0 + between(-5e-3, 5e-3), Z: between(6e-3, deepest-6e-3), Diameter: between(0.4e-3, 2e-3)}
		lower := upper
		lower.Z += between(2.5e-3, 5.5e-3)
		holes = append(holes, upper, lower)
	} else {
		for n := 2 + r.IntN(4); len(holes) < n; {
			h := synth.Hole{X: x0 + between(-7e-3, 7e-3), Z: between(6e-3, deepest), Diameter: between(0.3e-3, 2e-3)}
			apart := true
			for _, o := range holes {
				apart = apart && math.Hypot(o.X-h.X, o.Z-h.Z) > 2.5e-3
			}
			if apart {
				holes = append(holes, h)
			}
		}
	}
	for _, h := range holes {
		c.reflectors = append(c.reflectors, h)
	}
	return c
}

// TestSpecialCracks reads single cracks that need a part of the method of their own.
func TestSpecialCracks(t *testing.T) {
	const mm = 1e-3
	plate := func(x0, z0, x1, z1 float64) *trial {
		c := onPlate(1)
		c.crack = synth.Crack{From: r3.Vec{X: x0 * mm, Z: z0 * mm}, To: r3.Vec{X: x1 * mm, Z: z1 * mm}}
		c.box = box{-4 * mm, 4 * mm, 12 * mm, min(z1+3, 25.5) * mm, 0.15 * mm}
		return c
	}
	lobes := plate(0.05, 15, -0.1, 17.9)
	lobes.crack.Width = 0.06 * mm
	lone := plate(0.3, 20, 0, 25)
	lone.crack.Rooted = true
	small := onWeld(1, "T-T", "TT-T")
	small.crack = synth.Crack{From: r3.Vec{X: 16 * mm, Z: 15.6 * mm}, To: r3.Vec{X: 16 * mm, Z: 16 * mm}, Rooted: true}
	small.box = box{12 * mm, 20 * mm, 12 * mm, 16.5 * mm, 0.15 * mm}
	for _, c := range []struct {
		name   string
		trial  *trial
		method Method
		read   Reading
		length float64 // mm
		within float64 // mm
		lean   bool    // the tilt is not measured
	}{
		{"lower tip in two lobes", lobes, TwoTips, Measured, 2.9, 0.3, false},
		{"tip on the wall, without a corner", lone, OneTip, LowerBound, 0, 1e-9, true},
		{"notch shorter than the resolution", small, FaceAndWall, Unresolved, 0.4, 1, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.trial.reflectors = []synth.Reflector{c.trial.crack}
			flaws := c.trial.read()
			if len(flaws) != 1 {
				t.Fatalf("%d flaws, want 1: %+v", len(flaws), flaws)
			}
			f := flaws[0]
			if f.Method != c.method || f.LengthIs != c.read {
				t.Errorf("%q and %q, want %q and %q", f.Method, f.LengthIs, c.method, c.read)
			}
			check.Within(t, "length, mm", f.Length/mm, c.length, c.within)
			if lean := f.TiltUncertainty >= 0.5; lean != c.lean {
				t.Errorf("uncertainty of the tilt %v, want one above 0.5: %v", f.TiltUncertainty, c.lean)
			}
		})
	}
}
