// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/google/go-cmp/cmp"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// outputCases are captures and grids whose tiles and blocks are whole, cut, and empty in part.
func outputCases() map[string]*Plan {
	plans := make(map[string]*Plan)
	for _, size := range []struct {
		name        string
		cols, rows  int
		fullScale   float32
		compounding bool
	}{
		{"whole tiles", 128, 32, 0, false},
		{"cut blocks", 77, 23, 0, false},
		{"one pixel", 1, 1, 0, false},
		{"several tiles, clipped", 140, 37, 1.5, false},
		{"compounded", 40, 20, 0, true},
	} {
		c := randomCapture(11, 5, 300, fmc.FullPairs(5))
		options := Options{FullScale: size.fullScale}
		g := check.Must(NewSection(-4e-3, -4e-3+float64(size.cols-1)*0.1e-3, 2e-3, 2e-3+float64(size.rows-1)*0.1e-3, 0.1e-3))
		tx, rx := tables(plate(), "L-L", c, g)
		if size.compounding {
			c = randomCapture(11, 5, 300, fmc.EventPairs(3, 5))
			c.Events = fan(c.Array, -20, 20, 3, 5900, 5900)
			tx = contact(c.Array, g.Points(), 5900)
			rx = tx
			options.Compound = &CompoundOptions{}
		}
		for _, name := range append(kernelNames(), "window") {
			for _, precision := range []Precision{Single, Fixed16} {
				o := options
				o.kernel, o.Precision = name, precision
				what := fmt.Sprintf("%s/%s/%v", size.name, name, precision)
				plans[what] = check.Must(NewPlan(c, g, tx, rx, &o))
			}
		}
	}
	return plans
}

// TestOutputs checks that envelopes and levels have the bits of the envelopes and levels of
// images, also when a scratch makes all kinds in turn, and that they allocate nothing.
func TestOutputs(t *testing.T) {
	for name, p := range outputCases() {
		t.Run(name, func(t *testing.T) {
			samples, rng := make([]float32, len(p.pairs)*p.samples), rand.New(rand.NewPCG(1, 9))
			for i := range samples {
				samples[i] = float32(rng.NormFloat64())
			}
			s, image := p.NewScratch(), NewImage(p.grid)
			reconstruct := func(dst Output) {
				if err := s.Reconstruct(background, dst, samples); err != nil {
					t.Fatal(err)
				}
			}
			reconstruct(image)
			want := image.Envelope(nil)
			peak, _ := want.Peak()
			wantLevels := check.Must(want.Decibels(nil, peak, -30))
			envelope, levels := new(Envelope), &Decibels{Reference: peak, Floor: -30}
			frame := func() {
				reconstruct(levels)
				reconstruct(envelope)
			}
			frame()
			if diff := cmp.Diff(want, envelope); diff != "" {
				t.Errorf("envelope (-of the image +made by tiles):\n%s", diff)
			}
			if diff := cmp.Diff(wantLevels, levels); diff != "" {
				t.Errorf("levels (-of the image +made by tiles):\n%s", diff)
			}
			// Single precision does not hold the ratios to this reference.
			far := &Decibels{Reference: 1e-38, Floor: -30}
			reconstruct(far)
			if diff := cmp.Diff(check.Must(want.Decibels(nil, far.Reference, far.Floor)), far); diff != "" {
				t.Errorf("levels far above the reference (-of the image +made by tiles):\n%s", diff)
			}
			if p.FullScale() > 0 && envelope.States == nil {
				t.Error("no pixel is clipped: the case checks nothing")
			}
			if n := testing.AllocsPerRun(3, frame); n != 0 {
				t.Errorf("%v allocations in two frames, want none", n)
			}
		})
	}
}

func TestBadOutput(t *testing.T) {
	c := randomCapture(10, 3, 100, fmc.FullPairs(3))
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.5e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	p := check.Must(NewPlan(c, g, tx, rx, nil))
	coherent := check.Must(NewPlan(c, g, tx, rx, &Options{Coherence: SignCoherence}))
	for _, test := range []struct {
		name  string
		plan  *Plan
		dst   Output
		words []string
	}{
		{"nothing", p, nil, []string{"no output", "an envelope or levels"}},
		{"no image", p, (*Image)(nil), []string{"image", "plan's grid"}},
		{"image of another grid", p, NewImage(Grid{}), []string{"image", "plan's grid"}},
		{"no envelope", p, (*Envelope)(nil), []string{"no envelope"}},
		{"no levels", p, (*Decibels)(nil), []string{"no levels"}},
		{"levels without a reference", p, &Decibels{Floor: -40}, []string{"reference amplitude 0", "above 0"}},
		{"levels without a floor", p, &Decibels{Reference: 1}, []string{"floor 0 dB", "below 0"}},
		{"envelope with a coherence", coherent, new(Envelope), []string{"envelope", "sign", "want an Image"}},
		{"levels with a coherence", coherent, &Decibels{Reference: 1, Floor: -40}, []string{"levels", "want an Image"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			check.Error(t, test.plan.NewScratch().Reconstruct(background, test.dst, c.Data), test.words...)
		})
	}
}
