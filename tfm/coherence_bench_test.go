// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/isochron-imaging/isochron/internal/check"
)

// turn is one way to do a job, with the unit of its metric.
type turn struct {
	unit string
	run  func()
}

// inTurns runs the ways in turn and reports the medians of their times as multiples of the time of
// the first way. So the ratios also hold while other work slows the machine down.
func inTurns(b *testing.B, ways []turn) {
	seconds := make([][]float64, len(ways))
	for b.Loop() {
		for i, way := range ways {
			way.run()
			start := time.Now()
			n := 0
			for n == 0 || time.Since(start) < 20*time.Millisecond {
				way.run()
				n++
			}
			seconds[i] = append(seconds[i], time.Since(start).Seconds()/float64(n))
		}
	}
	for i, way := range ways[1:] {
		b.ReportMetric(median(seconds[i+1])/median(seconds[0]), way.unit)
	}
	b.ReportMetric(1e3*median(seconds[0]), "ms-"+ways[0].unit)
	b.ReportMetric(0, "ns/op")
}

// reconstruction returns a frame of int16 samples, from the samples to the image.
func (s setup) reconstruction(b *testing.B, options *Options) func() {
	samples := make([]int16, len(s.capture.Data))
	for i, v := range s.capture.Data {
		samples[i] = int16(v)
	}
	scratch, image := check.Must(NewPlan(s.capture, s.grid, s.times, s.times, options)).NewScratch(), NewImage(s.grid)
	return func() {
		if err := scratch.ReconstructInt16(background, image, samples); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkCoherence compares frames with each coherence with plain frames.
func BenchmarkCoherence(b *testing.B) {
	eachSetup(b, func(b *testing.B, s setup) {
		for _, precision := range []Precision{Single, Fixed16} {
			b.Run("precision="+precision.String(), func(b *testing.B) {
				ways := []turn{{"plain", s.reconstruction(b, &Options{Precision: precision})}}
				for _, m := range measures {
					name := fmt.Sprintf("x-%s", strings.ReplaceAll(m.String(), " ", "-"))
					ways = append(ways, turn{name, s.reconstruction(b, &Options{Precision: precision, Coherence: m})})
				}
				inTurns(b, ways)
			})
		}
	})
}
