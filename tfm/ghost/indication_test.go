// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ghost

import (
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// A small reflector is the strongest indication of the view T-T. Given as a reflector, this
// indication explains the strongest indications of the view TT-T: all are ghosts, because the
// capture holds the T-T echo only. Without it nothing explains them.
func TestIndicationOfAnotherView(t *testing.T) {
	s, a := plate(t, nil, 20e-3), row(16, 0.8e-3, 0)
	at := r3.Vec{X: 22e-3, Z: 15e-3}
	c, err := synth.Synthesise(ctx, &synth.Scene{
		Setup: *s, Array: a, Dimension: wedge.Section, Views: []wedge.View{view(t, "T-T")},
		Reflectors: []synth.Reflector{synth.Point{Position: at, Strength: 1e-3}},
	}, synth.Recording{Samples: 1200, SampleRate: 50e6})
	noError(t, err)
	find := func(name string) []sizing.Indication {
		plan, err := tfm.PlanView(ctx, c, s, name, section(t, 4e-3, 28e-3, 4e-3, 20e-3, 0.2e-3), nil)
		noError(t, err)
		image, err := plan.Image(ctx, c)
		noError(t, err)
		found, err := sizing.Find(image.Envelope(nil), &sizing.Options{Floor: -3})
		noError(t, err)
		return found
	}
	strongest := find("T-T")[0]
	known := Reflector{Name: "indication 1", Outline: wedge.Outline{{X: strongest.X, Y: strongest.Z}}}
	with, without := echoes(t, s, a, known), echoes(t, s, a)
	ghosts := find("TT-T")
	if len(ghosts) < 2 {
		t.Errorf("%d ghosts, want at least 2", len(ghosts))
	}
	for _, f := range ghosts {
		for _, test := range []struct {
			echoes *Echoes
			want   string
		}{{with, "T-T echo of indication 1"}, {without, ""}} {
			x, err := test.echoes.Explain(ctx, c, view(t, "TT-T"), []r3.Vec{{X: f.X, Z: f.Z}}, tfm.Band{})
			noError(t, err)
			if x[0].Echo != test.want || x[0].Reflector != "" {
				t.Errorf("ghost at x = %v m, z = %v m: %+v, want the echo %q", f.X, f.Z, x[0], test.want)
			}
		}
	}
}
