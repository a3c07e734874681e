// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package stream

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// BenchmarkStream images frames of int16 noise as fast as possible. ns/op is the time of a frame.
// Imaging is the median time in which a frame was imaged. A frame that comes when the stream is
// idle has this latency. Latency is the median latency while the queue is always full.
func BenchmarkStream(b *testing.B) {
	for _, test := range []struct {
		name     string
		elements int
		pairs    []fmc.Pair
		views    []string
	}{
		{"A", 16, fmc.HalfPairs(16), []string{"L-L"}},
		{"A2", 16, fmc.HalfPairs(16), []string{"L-L", "LL-L"}},
		{"32", 32, fmc.FullPairs(32), []string{"L-L"}},
		{"B", 64, fmc.FullPairs(64), []string{"L-L"}},
	} {
		like := fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}
		array := check.Must(fmc.LinearArray(test.elements, 0.6e-3, like))
		c := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: test.pairs, Samples: 2048, SampleRate: 50e6}))
		steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3240}
		setup := check.Must(wedge.NewPlate(nil, steel, 60e-3))
		grid := check.Must(tfm.NewSection(-25.5e-3, 25.5e-3, 3e-3, 54e-3, 0.2e-3))
		var plans []*tfm.Plan
		for _, view := range test.views {
			plans = append(plans, check.Must(tfm.PlanView(background, c, setup, view, grid, &tfm.Options{Precision: tfm.Fixed16})))
		}
		rng := rand.New(rand.NewPCG(1, 1))
		frame := make([]int16, len(c.Data))
		for i := range frame {
			frame[i] = int16(rng.IntN(2000) - 1000)
		}
		for _, frames := range []int{1, 2} {
			b.Run(fmt.Sprintf("case=%s/frames=%d", test.name, frames), func(b *testing.B) {
				s := check.Must(New(plans, &Options{Frames: frames}))
				var imaging []float64
				left := b.N
				for r, err := range s.Images(background, endless(frame)) {
					if err != nil {
						b.Fatal(err)
					}
					imaging = append(imaging, float64(r.Imaging)/1e6)
					if left--; left == 0 {
						break
					}
				}
				b.ReportMetric(number.Median(imaging), "ms-imaging")
				b.ReportMetric(float64(s.Latency().Median)/float64(time.Millisecond), "ms-latency")
			})
		}
	}
}
