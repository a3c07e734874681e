// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package report

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// TestBackground checks the median of speckle at the depth of an indication. The median of a
// Rayleigh distribution with parameter σ is σ·√(2·ln 2).
func TestBackground(t *testing.T) {
	g := check.Must(tfm.NewSection(0, 40e-3, 0, 10e-3, 0.1e-3))
	const sigma = 3
	e := tfm.NewImage(g).Envelope(nil)
	rng := rand.New(rand.NewPCG(5, 6))
	for i := range e.Data {
		e.Data[i] = float32(sigma * math.Sqrt(2*rng.ExpFloat64()))
		if x := g.Point(i).X; x > 10e-3 && x < 25e-3 {
			e.Data[i] = 1e6 // the indication and its surroundings
		}
	}
	wide := sizing.Indication{X: 17.5e-3, Z: 5e-3, ExtentX: [2]float64{15e-3, 20e-3}, Amplitude: 1e6}
	got, ok := background(e, &wide)
	if want := sigma * math.Sqrt(2*math.Ln2); !ok || !(math.Abs(got-want) < 0.05*want) {
		t.Errorf("background %v, %v; want %v", got, ok, want)
	}
	wide.ExtentX = [2]float64{0, 40e-3}
	if got, ok := background(e, &wide); ok {
		t.Errorf("background %v of an image that is all indication", got)
	}
	r := &reader{measurer: &measurer{settings: &Settings{Background: 12}}, envelope: e}
	if !r.exceedsBackground(&wide) {
		t.Error("an indication without a background is not reported")
	}
	for _, test := range []struct {
		times float64 // the median
		want  bool
	}{{3.9, false}, {4.1, true}} {
		small := sizing.Indication{X: 2e-3, Z: 5e-3, ExtentX: [2]float64{1.9e-3, 2.1e-3}}
		level, _ := background(e, &small)
		small.Amplitude = test.times * level
		if got := r.exceedsBackground(&small); got != test.want {
			t.Errorf("%v times the median stands out: %v", test.times, got)
		}
	}
}
