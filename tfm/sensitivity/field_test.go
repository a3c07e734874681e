// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// reading is the peak of one reflector in an image.
type reading struct {
	at               r3.Vec
	image, corrected float64 // amplitude of the image, and this amplitude over the map
}

// readings returns the peaks of reflectors at the given places, each alone in the part. The grid
// contains all places and the reach (m) around them, in which the peaks are searched. A reflector
// that the map puts more than 20 dB below its best does not count.
func (b *bench) readings(t *testing.T, view string, g tfm.Grid, of Reflector, places []r3.Vec, as func(r3.Vec) synth.Reflector, reach float64) (all []reading) {
	t.Helper()
	m := b.newMap(t, b.capture(t, view), view, g, of, b.options())
	best, _ := m.Peak()
	for _, p := range places {
		near := window(g, p, reach)
		envelope := b.image(t, b.capture(t, view, as(p)), view, near)
		peak := peakNear(envelope, p, reach)
		image, amplitude := envelope.Data[peak], m.Data[pixelAt(g, near.Point(peak))]
		t.Logf("(%4.1f, %4.1f) mm: map %6.2f dB, corrected %6.2f dB",
			p.X*1e3, p.Z*1e3, decibels(float64(amplitude/best)), decibels(float64(image/amplitude)))
		if amplitude >= best/10 {
			all = append(all, reading{p, float64(image), float64(image / amplitude)})
		}
	}
	return all
}

// peakNear returns the pixel of the highest amplitude within a distance (m) of a point.
func peakNear(e *tfm.Envelope, p r3.Vec, distance float64) int {
	best := -1
	for i, v := range e.Data {
		if r3.Norm(r3.Sub(e.Point(i), p)) <= distance && (best < 0 || v > e.Data[best]) {
			best = i
		}
	}
	return best
}

// lattice returns columns × rows places that fill a rectangle (m).
func lattice(x0, x1, z0, z1 float64, columns, rows int) (places []r3.Vec) {
	for i := range columns {
		for j := range rows {
			places = append(places, r3.Vec{
				X: x0 + (x1-x0)*float64(i)/float64(columns-1),
				Z: z0 + (z1-z0)*float64(j)/float64(rows-1),
			})
		}
	}
	return places
}

// TestField images equal reflectors all over the field of a view, and corrects the levels. The
// captures come from package fmc/synth. The map shares with it the amplitudes along rays and the
// scattering of the reflectors. The test covers the rest: the sum over pairs and over the band, the
// place of the peak, the interpolation between nodes. TestFullWave covers the amplitudes.
func TestField(t *testing.T) {
	views := 3
	if testing.Short() {
		views = 1
	}
	testField(t, 3, 2, views)
}

// testField is [TestField] with columns × rows reflectors, for the first few views.
func testField(t *testing.T, columns, rows, views int) {
	hole := func(p r3.Vec) synth.Reflector { return synth.Hole{X: p.X, Z: p.Z, Diameter: 1.5e-3} }
	point := func(p r3.Vec) synth.Reflector { return synth.Point{Position: p, Strength: 1} }
	large := func(p r3.Vec) synth.Reflector { return synth.Hole{X: p.X, Z: p.Z, Diameter: 4e-3} }
	loss := synth.Losses{
		Coupling:     losing(2),
		Longitudinal: losing(2), Transverse: losing(4),
	}
	tests := []struct {
		name      string
		wedge     bool
		dimension wedge.Dimension
		losses    synth.Losses
		view      string
		x0, x1    float64 // of the reflectors, m
		as        func(r3.Vec) synth.Reflector
		of        Reflector
		before    float64 // smallest spread of the levels without correction, dB
		within    float64 // largest deviation from the median with correction, dB
	}{
		{"holes, wedge", true, wedge.Section, synth.Losses{}, "T-T", 5e-3, 25e-3, hole, Hole{1.5e-3}, 14, 0.8},
		{"holes, contact", false, wedge.Section, synth.Losses{}, "L-L", -12e-3, 12e-3, hole, Hole{1.5e-3}, 15, 0.3},
		{"points, contact, beside the array", false, wedge.Section, synth.Losses{}, "T-T", 5e-3, 18e-3, point, Point{}, 8, 1},
		{"holes after a skip", true, wedge.Section, synth.Losses{}, "TT-TT", 34e-3, 50e-3, hole, Hole{1.5e-3}, 3, 1.5},
		{"points in space with losses", true, wedge.Space, loss, "T-T", 5e-3, 25e-3, point, Point{}, 14, 0.8},
		{"holes, wedge", true, wedge.Section, synth.Losses{}, "L-L", -4e-3, 20e-3, hole, Hole{1.5e-3}, 15, 0.5},
		{"points, contact", false, wedge.Section, synth.Losses{}, "L-L", -12e-3, 12e-3, point, Point{}, 15, 0.3},
		{"holes, contact, beside the array", false, wedge.Section, synth.Losses{}, "T-T", 5e-3, 18e-3, hole, Hole{1.5e-3}, 8, 1.5},
		{"points, wedge", true, wedge.Section, synth.Losses{}, "T-T", 5e-3, 25e-3, point, Point{}, 14, 0.8},
		{"large holes, wedge", true, wedge.Section, synth.Losses{}, "T-T", 5e-3, 25e-3, large, Hole{4e-3}, 12, 1},
		{"holes in space", true, wedge.Space, synth.Losses{}, "T-T", 5e-3, 25e-3, hole, Hole{1.5e-3}, 14, 0.8},
	}
	for _, test := range tests[:min(views, len(tests))] {
		t.Run(test.view+" "+test.name, func(t *testing.T) {
			b := newBench(test.wedge)
			b.dimension, b.losses = test.dimension, test.losses
			g := check.Must(tfm.NewSection(test.x0-2e-3, test.x1+2e-3, 4e-3, 23e-3, 0.15e-3))
			places := lattice(test.x0, test.x1, 6e-3, 21e-3, columns, rows)
			var before, after []float64
			for _, r := range b.readings(t, test.view, g, test.of, places, test.as, 2.6e-3) {
				before, after = append(before, decibels(r.image)), append(after, decibels(r.corrected))
			}
			if len(after) < columns*rows*2/3 {
				t.Fatalf("%d reflectors within 20 dB of the best: want two thirds of %d", len(after), columns*rows)
			}
			if got := spread(before); !(got >= test.before) {
				t.Errorf("levels spread over %.2f dB without correction: want %v at least, or the test shows nothing", got, test.before)
			}
			middle := number.Median(after)
			for i, v := range after {
				if !(math.Abs(v-middle) <= test.within) {
					t.Errorf("reflector %d: %.2f dB from the median: want %v at most", i, v-middle, test.within)
				}
			}
			t.Logf("%d reflectors: spread %.2f dB, corrected %.2f dB, median %.2f dB", len(after), spread(before), spread(after), middle)
		})
	}
}

// spread returns the difference of the largest and the smallest value.
func spread(values []float64) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range values {
		low, high = min(low, v), max(high, v)
	}
	return high - low
}
