// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
)

// TestClipped compares the pixels that are clipped with the definition, for each kernel, on
// captures of all sorts with some samples at full scale, of either sign.
func TestClipped(t *testing.T) {
	const fullScale = 32767
	count, marked := 12, 0
	if long {
		count = 40
	}
	for seed := range count {
		rng := rand.New(rand.NewPCG(uint64(seed), 31))
		c, samples := anyCapture(rng)
		g := anyGrid(rng)
		tx := anyTimes(rng, c, g, c.Events != nil)
		rx := tx
		if c.Events != nil || rng.IntN(2) == 0 {
			rx = anyTimes(rng, c, g, false)
		}
		weights := anyWeights(rng, len(c.Pairs))
		for i := range samples {
			samples[i] = int16(max(-30000, min(30000, int(samples[i]))))
			if rng.IntN(c.Samples) == 0 {
				samples[i] = []int16{math.MaxInt16, math.MinInt16}[rng.IntN(2)]
			}
			c.Data[i] = float32(samples[i])
		}
		band := DefaultBand(c.Array.CentreFrequency, c.Array.Bandwidth, c.SampleRate)
		spread := int(math.Ceil(c.SampleRate / (band.High - band.Low)))
		want := make([]bool, g.Len())
		for i, pair := range c.Pairs {
			if weights != nil && weights[i] == 0 {
				continue
			}
			bad := make([]bool, c.Samples)
			for k, v := range c.Trace(i) {
				if v >= fullScale || v <= -fullScale {
					for j := max(0, k-spread); j <= min(c.Samples-1, k+spread); j++ {
						bad[j] = true
					}
				}
			}
			directions := []fmc.Pair{pair}
			if c.Layout() == fmc.Half {
				directions = append(directions, pair.Reciprocal())
			}
			for _, d := range directions {
				for p := range want {
					at := (float64(tx.Seconds[d.Tx*tx.Points+p]) + float64(rx.Seconds[d.Rx*rx.Points+p]) - c.FirstSample) * c.SampleRate
					if at >= 0 && at < float64(c.Samples-1) && (bad[int(at)] || bad[int(at)+1]) {
						want[p] = true
						marked++
					}
				}
			}
		}
		eachKernel(t, func(t *testing.T, o Options, _ float64) {
			o.Weights, o.FullScale = weights, fullScale
			s, image := check.Must(NewPlan(c, g, tx, rx, &o)).NewScratch(), NewImage(g)
			check := func(name string, err error) {
				t.Helper()
				if err != nil {
					t.Fatal(err)
				}
				for p, want := range want {
					if got := image.Envelope(nil).State(p)&Clipped != 0; got != want {
						t.Fatalf("seed %d, %s: pixel %d clipped %v, want %v", seed, name, p, got, want)
					}
				}
			}
			// A frame before it that is clipped everywhere must leave nothing behind.
			full := slices.Repeat([]int16{math.MinInt16}, len(samples))
			if err := s.ReconstructInt16(background, image, full); err != nil {
				t.Fatal(err)
			}
			check("int16", s.ReconstructInt16(background, image, samples))
			check("float32", s.Reconstruct(background, image, c.Data))
		})
	}
	if marked < 1000 {
		t.Errorf("%d lookups of clipped samples: the test has not met its case", marked)
	}
}

// TestClippingCostsNothingElse: looking for clipping changes no pixel, and nobody looks
// unless asked.
func TestClippingCostsNothingElse(t *testing.T) {
	c := randomCapture(70, 4, 500, fmc.HalfPairs(4))
	g := check.Must(NewSection(-3e-3, 3e-3, 4e-3, 9e-3, 0.2e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	c.Data[3*500+180] = 1e4
	image := func(o *Options) *Image { return check.Must(check.Must(NewPlan(c, g, tx, rx, o)).Image(background, c)) }
	without, with := image(nil), image(&Options{FullScale: 1e4})
	if !slices.Equal(without.Data, with.Data) {
		t.Error("another image")
	}
	for p := range without.Data {
		if e := without.Envelope(nil); e.State(p)&Clipped != 0 {
			t.Fatalf("pixel %d is clipped, and nobody asked", p)
		}
	}
	for _, bad := range []float32{-1, float32(math.NaN()), float32(math.Inf(1))} {
		_, err := NewPlan(c, g, tx, rx, &Options{FullScale: bad})
		check.Error(t, err, "full scale", "above 0")
	}
	p := check.Must(NewPlan(c, g, tx, rx, &Options{FullScale: 1e4}))
	tables, scratch := p.Bytes()
	bareTables, bareScratch := check.Must(NewPlan(c, g, tx, rx, nil)).Bytes()
	// Both paths are one. A time takes 4 bytes and a sample takes 1 bit; what is kept for each tile
	// and each trace adds a little.
	for _, test := range []struct {
		name      string
		got, want int
	}{
		{"tables", tables - bareTables, 4 * len(tx.Seconds)},
		{"scratch", scratch - bareScratch, len(c.Data) / 8},
	} {
		if test.got < test.want || test.got > test.want*11/10 {
			t.Errorf("%d bytes more in the %s, want %d and at most a tenth more", test.got, test.name, test.want)
		}
	}
	s, dst := p.NewScratch(), NewImage(g)
	frame := func() {
		if err := s.Reconstruct(background, dst, c.Data); err != nil {
			t.Fatal(err)
		}
	}
	frame()
	if n := testing.AllocsPerRun(20, frame); n != 0 {
		t.Errorf("%v allocations a frame, want none", n)
	}
}

// BenchmarkClipping times frames of int16 samples without looking for clipping, and with it:
// frames without a clipped sample, and with an echo that clips in a fifth of the traces.
func BenchmarkClipping(b *testing.B) {
	s := benchmarkCases[0].setup(5900)
	samples := make([]int16, len(s.capture.Data))
	for i, v := range s.capture.Data {
		samples[i] = int16(v)
	}
	echo := slices.Clone(samples)
	for p := 0; p < len(s.capture.Pairs); p += 5 {
		for k := 700; k < 706; k++ {
			echo[p*s.capture.Samples+k] = math.MaxInt16
		}
	}
	for _, test := range []struct {
		name      string
		fullScale float32
		samples   []int16
	}{{"off", 0, samples}, {"clean", math.MaxInt16, samples}, {"clipped", math.MaxInt16, echo}} {
		for _, precision := range []Precision{Single, Fixed16} {
			b.Run("frame="+test.name+"/precision="+precision.String(), func(b *testing.B) {
				p := check.Must(NewPlan(s.capture, s.grid, s.times, s.times, &Options{Precision: precision, FullScale: test.fullScale}))
				scratch, image := p.NewScratch(), NewImage(s.grid)
				for b.Loop() {
					if err := scratch.ReconstructInt16(background, image, test.samples); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
