// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"context"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

var (
	steel       = material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	polystyrene = material.Isotropic{Density: 1050, Longitudinal: 2330, Transverse: 1150}
)

// bench is an invented set-up: 16 elements of 4 MHz on 25 mm of steel, in contact or on a wedge.
type bench struct {
	setup     *wedge.Setup
	array     fmc.Array
	dimension wedge.Dimension
	losses    synth.Losses
}

func newBench(onWedge bool) *bench {
	b := &bench{dimension: wedge.Section}
	like := fmc.Array{Width: 0.55e-3, CentreFrequency: 4e6, Bandwidth: 0.6}
	b.array = check.Must(fmc.LinearArray(16, 0.65e-3, like))
	b.setup = check.Must(wedge.NewPlate(nil, steel, 25e-3))
	if onWedge {
		b.setup = check.Must(wedge.NewPlate(&polystyrene, steel, 25e-3))
		// An angle of incidence of 30° gives transverse waves of 44°.
		sin, cos := math.Sincos(30 * math.Pi / 180)
		for i, e := range b.array.Elements {
			b.array.Elements[i] = r3.Vec{X: -12e-3*sin + e.X*cos, Z: -12e-3*cos - e.X*sin}
		}
	}
	return b
}

// capture returns the capture of reflectors in one view.
func (b *bench) capture(t *testing.T, view string, reflectors ...synth.Reflector) *fmc.Capture {
	t.Helper()
	scene := &synth.Scene{
		Setup: *b.setup, Array: b.array, Dimension: b.dimension, Losses: b.losses,
		Reflectors: reflectors, Views: []wedge.View{check.Must(wedge.ParseView(view))},
	}
	recording := synth.Recording{Pairs: fmc.HalfPairs(len(b.array.Elements)), Samples: 1400, SampleRate: 50e6}
	if b.setup.Coupling != nil {
		recording.FirstSample, recording.Samples = 8e-6, 2500
	}
	c, err := synth.Synthesise(context.Background(), scene, recording)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// options returns the options of maps of b.
func (b *bench) options() *Options { return &Options{Dimension: b.dimension, Losses: b.losses} }

// image returns the envelope of a capture over a grid.
func (b *bench) image(t *testing.T, c *fmc.Capture, view string, g tfm.Grid) *tfm.Envelope {
	t.Helper()
	plan, err := tfm.PlanView(context.Background(), c, b.setup, view, g, nil)
	if err != nil {
		t.Fatal(err)
	}
	return check.Must(plan.Image(context.Background(), c)).Envelope(nil)
}

// newMap returns a map of b.
func (b *bench) newMap(t *testing.T, c *fmc.Capture, view string, g tfm.Grid, of Reflector, o *Options) *Map {
	t.Helper()
	m, err := New(context.Background(), c, b.setup, view, g, of, o)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// window returns the pixels of g within a distance (m) of a point along each axis.
func window(g tfm.Grid, p r3.Vec, distance float64) tfm.Grid {
	reach := int(math.Round(distance / g.Step.X))
	middle := g.Point(pixelAt(g, p))
	w := g
	w.Origin = r3.Sub(middle, r3.Scale(float64(reach), r3.Vec{X: g.Step.X, Z: g.Step.Z}))
	w.Cols, w.Rows = 2*reach+1, 2*reach+1
	return w
}

// pixelAt returns the pixel of g next to a point.
func pixelAt(g tfm.Grid, p r3.Vec) int {
	c, r := math.Round((p.X-g.Origin.X)/g.Step.X), math.Round((p.Z-g.Origin.Z)/g.Step.Z)
	return int(r)*g.Cols + int(c)
}

// decibels returns 20·log10 of a ratio.
func decibels(ratio float64) float64 { return 20 * math.Log10(ratio) }

// losing returns a law of attenuation of 40 dB/m at 4 MHz, in proportion to a power of the
// frequency.
func losing(exponent float64) material.Attenuation {
	return material.Attenuation{{Alpha: 40 / material.DecibelsPerNeper, Frequency: 4e6, Exponent: exponent}}
}
