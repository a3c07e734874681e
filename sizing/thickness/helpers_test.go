// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package thickness

import (
	"context"
	"math"
	"math/cmplx"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/ascan"
)

const mm = 1e-3

var ctx = context.Background()

// The pulse of the invented A-scans: a carrier under a Gaussian envelope, as in package synth.
const (
	speed     = 5920. // m/s
	frequency = 5e6   // Hz
	rate      = 50e6  // Hz
	sigma     = 0.125e-6
)

// rung is an echo of an invented A-scan.
type rung struct {
	time   float64 // s
	height complex128
}

// at returns an echo whose sound path is a thickness in mm.
func at(thickness float64, height complex128) rung {
	return rung{2 * thickness * mm / speed, height}
}

// traced returns the A-scan of a beam in contact with the given echoes, of 1000 samples.
func traced(echoes ...rung) *ascan.Trace {
	t := blank()
	for _, e := range echoes {
		for k := range t.Analytic {
			if d := t.Time(float64(k)) - e.time; math.Abs(d) < 7*sigma {
				t.Analytic[k] += complex64(e.height * cmplx.Exp(complex(-d*d/(2*sigma*sigma), 2*math.Pi*frequency*d)))
			}
		}
	}
	return t
}

// blank returns an A-scan without echoes.
func blank() *ascan.Trace {
	leg := ascan.Leg{To: r3.Vec{Z: 1}}
	return &ascan.Trace{
		Beam: new(ascan.Beam), Line: &ascan.Line{Speed: speed, Legs: []ascan.Leg{leg}},
		Band: tfm.DefaultBand(frequency, 0.6, rate), SampleRate: rate, Analytic: make([]complex64, 1000),
	}
}

// noisy adds white noise in the band of an A-scan. Its standard deviation after the filter is sd.
func noisy(t *ascan.Trace, sd float64, random *rand.Rand) {
	analytic := check.Must(tfm.NewAnalytic(len(t.Analytic), t.SampleRate, t.Band))
	white := make([]float32, len(t.Analytic))
	scale := sd / math.Sqrt(2*(t.Band.High-t.Band.Low)/t.SampleRate)
	for k := range white {
		white[k] = float32(scale * random.NormFloat64())
	}
	filtered := make([]complex64, len(white))
	if err := analytic.Transform(filtered, white); err != nil {
		panic(err)
	}
	for k, v := range filtered {
		t.Analytic[k] += v
	}
}

// plain returns a reader of walls from 3 to 20 mm.
func plain() *Reader {
	return &Reader{Least: 3 * mm, Most: 20 * mm, Reference: 1, Threshold: -30}
}
