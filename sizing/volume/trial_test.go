// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package volume

import (
	"context"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/tips"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/stack"
	"github.com/isochron-imaging/isochron/tfm/stream"
	"github.com/isochron-imaging/isochron/wedge"
)

// The trials scan an invented plate of steel in contact: full captures of the ray model along the
// scan, their images in a stack, and Find on the stack.
const (
	trialLength = 8e-3 // of the elements along the scan, m
	trialHertz  = 4e6
	trialSpeed  = 5920.0
	trialPlot   = 40e-3 // of the scan for each flaw, m
	trialPitch  = 1e-3
)

// trialBeam is the beam of the elements at a place.
func trialBeam(at r3.Vec) (sizing.Beam, error) {
	return ElementBeam(trialLength, trialHertz, trialSpeed*math.Hypot(at.X, at.Z))
}

// trialKind is a kind of flaws.
type trialKind string

const (
	smoothFace trialKind = "smooth face"
	roughFace  trialKind = "rough face"
	steepFace  trialKind = "upright crack"
	pore       trialKind = "pore"
)

var trialKinds = []trialKind{smoothFace, roughFace, steepFace, pore}

// trialFlaw is a flaw of a trial, with what was measured.
type trialFlaw struct {
	kind     trialKind
	from, to float64 // m
	x, z     float64 // of the middle, m
	width    float64 // of the beam there, m
	found    bool
	in       Indication
	others   int // indications in the plot beside the strongest one
}

// newTrialFlaw draws a flaw of a kind in a plot.
func newTrialFlaw(rng *rand.Rand, kind trialKind, plot int) (trialFlaw, synth.Flaw) {
	f := trialFlaw{kind: kind, x: (rng.Float64() - 0.5) * 6e-3, z: (13 + 10*rng.Float64()) * 1e-3}
	f.width = width(check.Must(trialBeam(r3.Vec{X: f.x, Z: f.z})))
	middle := (float64(plot) + 0.5 + 0.1*(rng.Float64()-0.5)) * trialPlot
	length := rng.Float64() * 20e-3
	if kind == pore {
		length = 0
		f.from, f.to = middle, middle
		d := (0.6 + rng.Float64()) * 1e-3
		return f, synth.Pores{X: f.x, S: middle, Z: f.z, Count: 1, Smallest: d, Largest: d, Seed: rng.Uint64()}
	}
	f.from, f.to = middle-length/2, middle+length/2
	half := [2]float64{1e-3, 0} // of the section, x and z
	if kind == steepFace {
		half = [2]float64{0.3e-3, 1.2e-3}
	}
	n := 2
	if kind == roughFace {
		n = 2 + int(length/0.8e-3)
	}
	var p synth.Planar
	for k := range n {
		z := f.z
		if kind == roughFace {
			z += 0.2e-3 * rng.NormFloat64()
		}
		s := f.from + length*float64(k)/float64(n-1)
		p.Stations = append(p.Stations, synth.Station{S: s, X0: f.x - half[0], Z0: z - half[1], X1: f.x + half[0], Z1: z + half[1]})
	}
	return f, p
}

// trial scans a plate with flaws of all kinds in turn, and returns them with their indications. noise
// is the noise of a sample relative to full scale.
func trial(t *testing.T, seed uint64, flaws int, noise float64) []trialFlaw {
	t.Helper()
	ctx := context.Background()
	rng := rand.New(rand.NewPCG(seed, 20))
	steel := material.Isotropic{Density: 7850, Longitudinal: trialSpeed, Transverse: 3255}
	array := check.Must(fmc.LinearArray(10, 0.9e-3, fmc.Array{Width: 0.7e-3, CentreFrequency: trialHertz, Bandwidth: 0.6}))
	part := &synth.Part{Scene: synth.Scene{
		Setup: *check.Must(wedge.NewPlate(nil, steel, 40e-3)), Array: array, Length: trialLength,
		Views: []wedge.View{check.Must(wedge.ParseView("L-L"))},
	}}
	list := make([]trialFlaw, flaws)
	for i := range list {
		var f synth.Flaw
		list[i], f = newTrialFlaw(rng, trialKinds[i%len(trialKinds)], i)
		part.Flaws = append(part.Flaws, f)
	}
	pass := synth.Pass{Positions: synth.Steps(0, trialPitch, flaws*int(math.Round(trialPlot/trialPitch))), Noise: noise, Bits: 16, Seed: seed}
	line := trialLine(t, check.Must(synth.NewScan(ctx, part, pass, synth.Recording{Samples: 340, SampleRate: 32e6, FirstSample: 2.6e-6})))
	found := check.Must(Find(ctx, line, &Options{Beam: trialBeam}))
	for _, in := range found { // the strongest first
		i := min(max(int((in.Drop.From+in.Drop.To)/2/trialPlot), 0), flaws-1)
		if f := &list[i]; f.found {
			f.others++
		} else {
			f.found, f.in = true, in
		}
	}
	return list
}

// trialLine images a scan into a stack.
func trialLine(t *testing.T, s *synth.Scan) *Line {
	t.Helper()
	ctx := context.Background()
	capture := s.Capture()
	grid := check.Must(tfm.NewSection(-6e-3, 6e-3, 9e-3, 27e-3, 0.4e-3))
	steel := material.Isotropic{Density: 7850, Longitudinal: trialSpeed, Transverse: 3255}
	plan := check.Must(tfm.PlanView(ctx, capture, check.Must(wedge.NewPlate(nil, steel, 40e-3)), "L-L", grid, nil))
	name := filepath.Join(t.TempDir(), "scan.json")
	layout := &stack.Layout{Frames: s.Len(), Pitch: trialPitch, Values: stack.Int16, Views: []stack.View{{Name: "L-L", Reference: 1e5}}}
	check.Must(stack.Image(ctx, name, []*tfm.Plan{plan}, layout, stream.CaptureSource(plan, s.Source(0, s.Len())), nil))
	opened := check.Must(stack.Open(name))
	t.Cleanup(func() { opened.Close() })
	return check.Must(NewLine(opened, 0, nil))
}

// TestTrial is the short form of the trial: two flaws of each kind, or one.
func TestTrial(t *testing.T) {
	flaws := 8
	if testing.Short() {
		flaws = 4
	}
	list := trial(t, 101, flaws, 0.01)
	for _, f := range list {
		length := f.to - f.from
		if !f.found {
			t.Errorf("%s of %v m was not found", f.kind, length)
			continue
		}
		if !(f.in.Least <= length && length <= f.in.Most) {
			t.Errorf("%s of %v m: the interval is %v to %v m", f.kind, length, f.in.Least, f.in.Most)
		}
		if even := f.kind == smoothFace || f.kind == steepFace; even && length >= 2*f.width {
			check.Within(t, "length of a "+string(f.kind), f.in.Drop.Length(), length, trialPitch+0.05*length)
		}
		if f.kind != roughFace {
			check.Within(t, "middle of a "+string(f.kind), (f.in.Drop.From+f.in.Drop.To)/2, (f.from+f.to)/2, 0.5*trialPitch)
		}
		if f.kind == pore && f.in.LengthIs != tips.Unresolved {
			t.Errorf("a pore has the length %v m, %v", f.in.Drop.Length(), f.in.LengthIs)
		}
	}
}
