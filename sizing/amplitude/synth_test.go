// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package amplitude

import (
	"context"
	"fmt"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/material/beam"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ascan"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestLawsOfSynthesis compares the laws with echoes of synthetic captures. Their holes scatter by
// the exact solution of elastic waves in their far field, their discs by Kirchhoff's integral, and
// their walls are mirrors. A small element in contact with steel sends longitudinal pulses of 4
// MHz.
func TestLawsOfSynthesis(t *testing.T) {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	probe := beam.Disc{Diameter: 1e-3, Wavelength: 1.48e-3}
	peak := func(thickness float64, walls bool, r synth.Reflector) float64 {
		plate := check.Must(wedge.NewPlate(nil, steel, thickness))
		scene := &synth.Scene{
			Setup:     *plate,
			Array:     check.Must(fmc.LinearArray(1, 1e-3, fmc.Array{Width: 0.3e-3, CentreFrequency: 4e6, Bandwidth: 0.3})),
			Dimension: wedge.Space,
			Length:    0.3e-3,
		}
		if walls {
			scene.Walls = [][]material.Mode{{material.L, material.L}}
		} else {
			scene.Reflectors, scene.Views = []synth.Reflector{r}, []wedge.View{check.Must(wedge.ParseView("L-L"))}
		}
		c := check.Must(synth.Synthesise(context.Background(), scene, synth.Recording{Samples: 2048, SampleRate: 40e6}))
		trace := check.Must(ascan.NewPair(c, c.Pairs[0], tfm.Band{}))
		return slices.Max(trace.Envelope(nil))
	}
	for _, s := range []float64{40e-3, 80e-3} {
		wall := peak(s, true, nil)
		for _, test := range []struct {
			r         Reflector
			synthetic synth.Reflector
			behind    float64 // of the face, where the waves start that a synthetic hole scatters, m
		}{
			{SideHole{3e-3}, synth.Hole{Z: s + 1.5e-3, Diameter: 3e-3}, 1.5e-3},
			{SideHole{6e-3}, synth.Hole{Z: s + 3e-3, Diameter: 6e-3}, 3e-3},
			{FlatHole{2e-3}, synth.FlatBottomHole{Position: r3.Vec{Z: s}, Normal: r3.Vec{Z: -1}, Diameter: 2e-3}, 0},
		} {
			got := sizing.LevelDB(peak(120e-3, false, test.synthetic), wall)
			// The amplitude of the far field at the distance R from the axis is (R - r)/R of the
			// amplitude of the waves that the face reflects (derived).
			got += sizing.LevelDB(s+test.behind, s)
			want := sizing.LevelDB(check.Must(Echo(probe, test.r, s)), check.Must(Echo(probe, Wall{}, s)))
			check.Within(t, fmt.Sprintf("level of %T%v at %v m over the wall", test.r, test.r, s), got, want, 0.1)
		}
	}
}
