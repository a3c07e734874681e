// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.
package thickness

import (
	"math"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm/ascan"
	"github.com/isochron-imaging/isochron/wedge"
)

// captured returns a full-wave capture of testdata with its set-up.
func captured(name string) (*npy.Record, *wedge.Setup) {
	record := check.Must(npy.ReadFile("../../testdata/"+name+".json", nil))
	return record, check.Must(record.Geometry())
}

// focused is a beam that is focused at every depth.
var focused = ascan.Beam{Mode: material.L, Transmit: ascan.Focus{Dynamic: true}, Receive: ascan.Focus{Dynamic: true}}

// scanned returns the A-scans of beams.
func scanned(c *fmc.Capture, setup *wedge.Setup, beams []ascan.Beam) []*ascan.Trace {
	plan := check.Must(ascan.NewPlan(ctx, c, setup, beams, nil))
	return check.Must(plan.Traces(ctx, c))
}

// upright turns beams until their axes in the part are vertical. The entry surface may be curved.
func upright(c *fmc.Capture, setup *wedge.Setup, beams []ascan.Beam) []ascan.Beam {
	trial := slices.Clone(beams)
	for range 4 {
		for i := range trial {
			trial[i].Transmit, trial[i].Receive = ascan.Focus{}, ascan.Focus{}
		}
		for i, line := range check.Must(ascan.NewPlan(ctx, c, setup, trial, nil)).Lines() {
			leg := line.Legs[0]
			trial[i].Angle -= math.Atan2(leg.To.X-leg.From.X, leg.To.Z-leg.From.Z)
		}
	}
	for i := range trial {
		trial[i].Transmit, trial[i].Receive = beams[i].Transmit, beams[i].Receive
	}
	return trial
}

// setupIsSlow names the captures through water, whose rays take longer.
var setupIsSlow = map[string]bool{"pipe32": true, "wavy32": true}

// TestWalls reads the back walls of the full-wave captures of testdata, where no flaw shadows them:
// within 3 dB of the highest wall echo. The standard uncertainty of the method is half a sample of
// 20 ns, because the captures agree with straight rays within one sample. This value and the 3 dB
// were chosen on the first three rows. The others judge them. Both surfaces of the captures are
// steps on a grid of 0.020 or 0.025 mm.
func TestWalls(t *testing.T) {
	for _, c := range []struct {
		name   string
		wall   float64 // mm
		step   int     // elements from beam to beam
		method Method
	}{
		{"block16", 40, 2, FirstEcho},
		{"pipe32", 14, 2, FirstEcho},
		{"tips_plate1", 25, 2, FirstEcho},
		{"pipe32", 14, 2, FromInterface},
		{"pipe32", 14, 2, EchoToEcho},
		{"tips_plate2", 25, 2, FirstEcho},
		{"notch32", 25, 2, FirstEcho},
		{"wavy32", 20, 4, FirstEcho},
	} {
		if testing.Short() && setupIsSlow[c.name] {
			continue
		}
		t.Run(c.name+" "+c.method.String(), func(t *testing.T) {
			record, setup := captured(c.name)
			beams := check.Must(ascan.Linear(focused, len(record.Capture.Array.Elements), 12, c.step))
			if c.name == "wavy32" {
				beams = upright(record.Capture, setup, beams)
			}
			traces := scanned(record.Capture, setup, beams)
			r := &Reader{
				Least: 0.9 * c.wall * mm, Most: 1.1 * c.wall * mm, Method: c.method, Interface: 1e-6, Reference: 1, Threshold: -25,
				Errors: Errors{Method: 0.03 * mm},
			}
			for _, trace := range traces {
				s := newSignal(trace, nil)
				top := s.highest(trace.Line.Time(r.Least), trace.Line.Time(r.Most))
				r.Reference = max(r.Reference, s.height[top])
			}
			n, held, bias := 0, 0, 0.0
			for _, trace := range traces {
				x := check.Must(r.Read(trace))
				if !x.State.Counts() || x.Level < -3 {
					continue
				}
				truth := c.wall * mm
				if c.name == "wavy32" {
					truth -= trace.Line.Exit.Z
				}
				t.Logf("x = %.2f mm: %v, %.3f ± %.3f mm, true %.3f mm", trace.Line.Exit.X/mm, x.Method, x.Thickness/mm, 1.96*x.Uncertainty/mm, truth/mm)
				n++
				bias += x.Thickness - truth
				if math.Abs(x.Thickness-truth) <= 1.96*x.Uncertainty {
					held++
				}
			}
			bias /= float64(n)
			t.Logf("%d of %d beams within 3 dB, bias %.3f mm, %d held", n, len(traces), bias/mm, held)
			if n < 3 || float64(held) < 0.95*float64(n) {
				t.Errorf("%d of %d readings within the uncertainty of 95 %%", held, n)
			}
			check.Within(t, "bias in mm", bias/mm, 0, 0.04)
		})
	}
}
