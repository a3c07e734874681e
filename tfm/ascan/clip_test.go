// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.
package ascan

import (
	"math"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestClipped clips one sample of one trace. Exactly those samples of the A-scan are marked whose
// place in the trace, by the delays of the plan, is less than one sample from the clipped one.
func TestClipped(t *testing.T) {
	setup := check.Must(wedge.NewPlate(nil, steel, 30*mm))
	for _, beam := range []Beam{
		{Mode: material.L}, {Mode: material.L, Angle: 10 * degree, Transmit: Focus{SoundPath: 20 * mm}, Receive: Focus{SoundPath: 20 * mm}},
		{Mode: material.L, Transmit: Focus{Dynamic: true}, Receive: Focus{Dynamic: true}},
	} {
		c := empty(contactArray(6), fmc.HalfPairs(6))
		plan := check.Must(NewPlan(ctx, c, setup, []Beam{beam}, &Options{FullScale: 5}))
		scratch := plan.NewScratch()
		const pair, sample = 4, 300 // elements 0 and 4
		data := make([]float32, len(c.Pairs)*c.Samples)
		data[pair*c.Samples+sample] = -5
		data[2*c.Samples+100] = 4.99
		got := check.Must(scratch.Traces(ctx, data))[0].Clipped
		want := make([]bool, c.Samples)
		for _, term := range plan.beams[0].terms {
			if term.trace != pair {
				continue
			}
			b := plan.beams[0]
			tx, rx := b.transmit.delays[term.tx], b.receive.delays[term.rx]
			for k := range want {
				at := float64(k) - tx[k&b.transmit.mask] - rx[k&b.receive.mask]
				want[k] = want[k] || math.Abs(at-sample) < 1
			}
		}
		ranges := markedRanges(want)
		if len(ranges) == 0 || len(got) != len(ranges) {
			t.Fatalf("clipped %v, want %v", got, ranges)
		}
		for i := range got {
			if got[i] != ranges[i] {
				t.Errorf("clipped %v, want %v", got, ranges)
			}
		}
		// The next frame has no clipped sample.
		data[pair*c.Samples+sample] = 1
		if got := check.Must(scratch.Traces(ctx, data))[0].Clipped; got != nil {
			t.Errorf("clipped %v without a clipped sample", got)
		}
	}
	_, err := NewPlan(ctx, empty(contactArray(2), fmc.HalfPairs(2)), setup, []Beam{{Mode: material.L}}, &Options{FullScale: -1})
	check.Error(t, err, "full scale", "-1")
}
