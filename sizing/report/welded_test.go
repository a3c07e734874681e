// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report_test

import (
	"context"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing/report"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/graded"
)

// TestWelded compares the images of a record with a weld, for five elements of the capture, with
// images that the test makes from tables of wedge/graded.
func TestWelded(t *testing.T) {
	record := capture("austenitic/grain32")
	full := record.Capture
	c := *full
	c.Array.Elements, c.Data, c.Pairs = full.Array.Elements[11:14], nil, fmc.HalfPairs(3)
	for _, p := range c.Pairs {
		trace, _ := full.Between(p.Tx+11, p.Rx+11)
		c.Data = append(c.Data, trace...)
	}
	record.Capture = &c
	s := settings(-6, 6, 8, 22, 0.5, "L-L", "LL-L")
	s.Coarse = true
	m := check.Must(report.Measure(context.Background(), "welded", record, s, nil))
	part := check.Must(record.Welded())
	grid := m.Envelopes[0].Grid
	direct := check.Must(part.Interpolate(context.Background(), graded.QuasiLongitudinal, c.Array.Elements, grid, nil))
	skipped := check.Must(part.Interpolate(context.Background(), graded.QuasiLongitudinal, c.Array.Elements, grid,
		&graded.Options{Skips: []graded.Polarisation{graded.QuasiLongitudinal}}))
	for i, there := range []*wedge.Times{direct, skipped} {
		plan := check.Must(tfm.NewPlan(&c, grid, there, direct, nil))
		want := check.Must(plan.Image(context.Background(), &c)).Envelope(nil)
		peak, _ := want.Peak()
		for k, v := range want.Data {
			if got := m.Envelopes[i].Data[k]; !(v-got <= 1e-5*peak && got-v <= 1e-5*peak) {
				t.Fatalf("view %d, pixel %d: level %v, want %v", i, k, got, v)
			}
		}
	}
	record.Capture.Events = []fmc.Event{{Delays: make([]float64, 3), Weights: []float64{1, 1, 1}}}
	record.Capture.Pairs = fmc.EventPairs(1, 3)
	record.Capture.Data = record.Capture.Data[:3*c.Samples]
	_, err := report.Measure(context.Background(), "welded", record, s, nil)
	check.Error(t, err, "events through a weld")
}
