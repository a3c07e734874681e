// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// turn is one way to do a job, with the unit of its metric.
type turn struct {
	unit string
	run  func()
}

// clock returns the time that inTurns measures with.
var clock = time.Now

// inTurns runs the ways in turn and reports the medians of their times as multiples of the time of
// the first way. So the ratios also hold while other work slows the machine down. It returns the
// medians in seconds.
func inTurns(b *testing.B, ways []turn) []float64 {
	seconds := make([][]float64, len(ways))
	for b.Loop() {
		for i, way := range ways {
			way.run()
			start := clock()
			n := 0
			for n == 0 || clock().Sub(start) < 20*time.Millisecond {
				way.run()
				n++
			}
			seconds[i] = append(seconds[i], clock().Sub(start).Seconds()/float64(n))
		}
	}
	medians := make([]float64, len(ways))
	for i, way := range ways {
		medians[i] = number.Median(seconds[i])
		if i > 0 {
			b.ReportMetric(medians[i]/medians[0], way.unit)
		}
	}
	b.ReportMetric(1e3*medians[0], "ms-"+ways[0].unit)
	b.ReportMetric(0, "ns/op")
	return medians
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

// BenchmarkViews compares two views in one pass with each view by itself. The metric "second" is
// the cost of the second view in the pass as a share of its cost by itself.
func BenchmarkViews(b *testing.B) {
	// The plate is deeper than the image. The wedge is the wedge of benchmarkCase.setup.
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	plastic := &material.Isotropic{Density: 1050, Longitudinal: 2330, Transverse: 1150}
	contact := check.Must(wedge.NewPlate(nil, steel, 60e-3))
	inclined := check.Must(wedge.NewPlate(plastic, steel, 60e-3))
	for _, bc := range benchmarkCases[:4:4] {
		views, part := [][]string{{"L-L", "T-T"}, {"T-T", "L-T"}, {"L-T", "T-L"}}, contact
		if bc.wedge {
			views, part = [][]string{{"T-T", "TT-T"}}, inclined
			bc.samples *= 2 // for the longer path
		}
		for _, names := range views {
			for _, precision := range []Precision{Single, Fixed16} {
				b.Run(fmt.Sprintf("case=%s/views=%s,%s/precision=%v", bc.name, names[0], names[1], precision), func(b *testing.B) {
					s := bc.setup(5900)
					frames := func(names ...string) func() { return s.viewsOf(b, part, names, precision) }
					seconds := inTurns(b, []turn{{"first", frames(names[0])}, {"x-second-alone", frames(names[1])}, {"x-both", frames(names...)}})
					b.ReportMetric((seconds[2]-seconds[0])/seconds[1], "second")
				})
			}
		}
	}
}

// BenchmarkManyViews compares all 21 views of six paths in one pass with a plan for each view, one
// after the other. The capture is case A through a wedge, with longer records. In a half matrix
// X-Y and Y-X are the same image.
func BenchmarkManyViews(b *testing.B) {
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}
	plastic := &material.Isotropic{Density: 1050, Longitudinal: 2330, Transverse: 1150}
	part := check.Must(wedge.NewPlate(plastic, steel, 60e-3))
	bc := benchmarkCases[1]
	bc.samples = 8192
	s := bc.setup(5900)
	paths := [][2]string{{"L", "L"}, {"T", "T"}, {"LL", "LL"}, {"LT", "TL"}, {"TL", "LT"}, {"TT", "TT"}} // there, and back
	var names []string
	for i, there := range paths {
		for _, back := range paths[i:] {
			names = append(names, there[0]+"-"+back[1])
		}
	}
	for _, precision := range []Precision{Single, Fixed16} {
		b.Run("precision="+precision.String(), func(b *testing.B) {
			var frames []func()
			for _, name := range names {
				frames = append(frames, s.viewsOf(b, part, []string{name}, precision))
			}
			inTurns(b, []turn{
				{"alone", func() {
					for _, frame := range frames {
						frame()
					}
				}},
				{"x-one-pass", s.viewsOf(b, part, names, precision)},
			})
		})
	}
}

// viewsOf returns a frame of views in one pass, from int16 samples to the images.
func (s setup) viewsOf(b *testing.B, part *wedge.Setup, names []string, precision Precision) func() {
	samples := make([]int16, len(s.capture.Data))
	for i, v := range s.capture.Data {
		samples[i] = int16(v)
	}
	views := check.Must(PlanViews(background, s.capture, part, names, s.grid, &Options{Precision: precision}))
	scratch, images := views.NewScratch(), make([]*Image, len(names))
	for i := range images {
		images[i] = NewImage(s.grid)
	}
	return func() {
		if err := scratch.ReconstructInt16(background, images, samples); err != nil {
			b.Fatal(err)
		}
	}
}
