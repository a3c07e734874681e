// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm/internal/portable"
	"github.com/isochron-imaging/isochron/tfm/internal/window"
	"github.com/isochron-imaging/isochron/wedge"
)

// eachKernel runs a test for every kernel of this build and machine and each
// precision, with the options that ask for it and the error that the documentation
// allows for few elements.
func eachKernel(t *testing.T, test func(t *testing.T, o Options, tolerance float64)) {
	t.Helper()
	for _, name := range append(kernelNames(), "window") {
		t.Run(name+"/float32", func(t *testing.T) { test(t, Options{kernel: name}, 5e-6) })
		t.Run(name+"/int16", func(t *testing.T) { test(t, Options{kernel: name, Precision: Fixed16}, 4e-4) })
	}
}

// counts returns by which ways a scratch has summed.
func counts(s *Scratch) (sum window.Counts) {
	for _, w := range s.workers {
		switch a := w.adders[0].(type) {
		case *windowedAdder[int16]:
			sum.Add(a.Counts)
		case *windowedAdder[float32]:
			sum.Add(a.Counts)
		}
	}
	return sum
}

// windowsOf returns the number of windows of the kernel of p.
func windowsOf(p *Plan) int {
	switch w := p.kernel.(type) {
	case *windowed[int16]:
		return len(w.kernel.Sums)
	case *windowed[float32]:
		return len(w.kernel.Sums)
	}
	return 0
}

// TestSteepness makes delays steeper and steeper. First blocks fit into a window, then only halves
// of blocks, then nothing. The image must be right each time, and the counts must show that each
// way was taken.
func TestSteepness(t *testing.T) {
	c := randomCapture(20, 5, 800, fmc.HalfPairs(5))
	c.FirstSample = 0
	g := check.Must(NewSection(-5e-3, 5e-3, 1e-3, 12e-3, 0.2e-3))
	type precise struct {
		kernel    string
		precision Precision
	}
	all, windows := make(map[precise]window.Counts), make(map[precise]int)
	for _, speed := range []float64{12000, 6400, 5900, 5400, 5000, 4500, 4000, 3500, 3240, 3000, 2800, 2500, 2000, 300} {
		path := check.Must(wedge.NewPath([]wedge.Leg{{Speed: speed}}, nil))
		times := check.Must(path.Times(background, c.Array.Elements, g.Points(), nil))
		want := doubleLoop(t, c, g, times, times, Options{})
		t.Run(fmt.Sprintf("speed=%v", speed), func(t *testing.T) {
			eachKernel(t, func(t *testing.T, o Options, tolerance float64) {
				p := check.Must(NewPlan(c, g, times, times, &o))
				s, got := p.NewScratch(), NewImage(g)
				if err := s.Reconstruct(background, got, c.Data); err != nil {
					t.Fatal(err)
				}
				wantImage(t, got.Data, want, tolerance)
				k := precise{p.Kernel(), o.Precision}
				sum := all[k]
				sum.Add(counts(s))
				all[k], windows[k] = sum, windowsOf(p)
			})
		})
	}
	for k, n := range all {
		t.Logf("%v: %+v", k, n)
		switch k.kernel {
		case "portable":
		case "window":
			if n != (window.Counts{General: n.General, Outside: n.Outside}) {
				t.Errorf("%v: ways taken %+v, want the general one alone", k, n)
			}
		default:
			if n.General == 0 || slices.Contains(n.Windows[:windows[k]], 0) {
				t.Errorf("%v: ways taken %+v, want all", k, n)
			}
		}
	}
}

// TestRecordEnds images records whose ends lie within the image, at every place
// relative to a window, and a record shorter than one.
func TestRecordEnds(t *testing.T) {
	g := check.Must(NewSection(-3e-3, 3e-3, 2e-3, 8e-3, 0.15e-3))
	for _, test := range []struct {
		samples int
		first   float64 // s
	}{
		{100, 1.0e-6}, {101, 1.01e-6}, {97, 1.137e-6}, {64, 1.5e-6}, {40, 1.6e-6}, {33, 1.2e-6}, {32, 1.5e-6}, {31, 1.5e-6}, {5, 1.52e-6}, {3, 1.87e-6},
	} {
		t.Run(fmt.Sprintf("samples=%d", test.samples), func(t *testing.T) {
			c := randomCapture(21, 4, test.samples, fmc.FullPairs(4))
			c.FirstSample = test.first
			tx, rx := tables(plate(), "L-L", c, g)
			want := doubleLoop(t, c, g, tx, rx, Options{})
			ends := atEnds(c, tx, rx)
			if len(ends) > len(want)/20 {
				t.Fatalf("%d of %d pixels at an end of the record", len(ends), len(want))
			}
			eachKernel(t, func(t *testing.T, o Options, tolerance float64) {
				got := check.Must(check.Must(NewPlan(c, g, tx, rx, &o)).Image(background, c)).Data
				for _, p := range ends {
					got[p] = complex64(want[p])
				}
				wantImage(t, got, want, tolerance)
			})
		})
	}
}

// atEnds returns the pixels for which the delay of a pair lies near an end of the record. Rounding
// may move such a delay across the end, and then a sample more or less counts.
func atEnds(c *fmc.Capture, tx, rx *wedge.Times) []int {
	var pixels []int
	for p := range tx.Points {
		for _, pair := range c.Pairs {
			seconds := float64(tx.Seconds[pair.Tx*tx.Points+p]) + float64(rx.Seconds[pair.Rx*rx.Points+p])
			at := (seconds - c.FirstSample) * c.SampleRate
			if math.Abs(at) < 1e-3 || math.Abs(at-float64(c.Samples-1)) < 1e-3 {
				pixels = append(pixels, p)
				break
			}
		}
	}
	return pixels
}

// TestMissingRays leaves rays out, one here and one there and whole blocks, for
// single elements and for all.
func TestMissingRays(t *testing.T) {
	c := randomCapture(22, 4, 500, fmc.HalfPairs(4))
	g := check.Must(NewSection(-3e-3, 3e-3, 2e-3, 8e-3, 0.15e-3))
	tx, _ := tables(plate(), "L-L", c, g)
	rng := rand.New(rand.NewPCG(1, 3))
	for e := range tx.Elements {
		for p := range tx.Points {
			row, col := p/g.Cols, p%g.Cols
			if rng.IntN(50) == 0 && col > 20 || row >= 16 && row < 24 && col < 16 || e == 2 && row < 8 {
				tx.Seconds[e*tx.Points+p] = float32(math.NaN())
			}
		}
	}
	want := doubleLoop(t, c, g, tx, tx, Options{})
	eachKernel(t, func(t *testing.T, o Options, tolerance float64) {
		wantImage(t, check.Must(check.Must(NewPlan(c, g, tx, tx, &o)).Image(background, c)).Data, want, tolerance)
	})
}

// TestUnreadSamples checks that an image depends on no sample but those that it
// reads, nor on what the memory held before.
func TestUnreadSamples(t *testing.T) {
	c := randomCapture(23, 4, 500, fmc.FullPairs(4))
	g := check.Must(NewSection(-3e-3, 3e-3, 4e-3, 6e-3, 0.1e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	eachKernel(t, func(t *testing.T, o Options, _ float64) {
		p := check.Must(NewPlan(c, g, tx, rx, &o))
		want := check.Must(p.Image(background, c))
		s, got := p.NewScratch(), NewImage(g)
		spoil(s.views[0].frames[0])
		if err := s.Reconstruct(background, got, c.Data); err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(got.Data, want.Data) {
			t.Error("the image depends on what the memory held before")
		}
	})
}

// spoil fills the packed traces with what no sum would survive.
func spoil(f frame) {
	switch f := f.(type) {
	case *frame16:
		for i := range f.traces.Data {
			f.traces.Data[i] = -0x8000
		}
	case *frame32:
		for i := range f.traces.Data {
			f.traces.Data[i] = float32(math.NaN())
		}
	case *plain16Frame:
		for i := range f.packed {
			f.packed[i] = portable.Line{Base: -1 << 47, Slope: -1 << 47}
		}
	case *plainFrame:
		for i := range f.packed {
			f.packed[i].Re = float32(math.NaN())
		}
	}
}

// TestAccuracy holds each precision to the error that is promised for arrays, at
// delays of all three kinds.
func TestAccuracy(t *testing.T) {
	// The longest record for which the promise holds.
	c := randomCapture(26, 16, 8192, fmc.HalfPairs(16))
	c.FirstSample = 0
	step := 0.4e-3
	if long {
		step = 0.2e-3
	}
	g := check.Must(NewSection(-8e-3, 8e-3, 1e-3, 20e-3, step))
	speeds := []float64{5900, 3240}
	if testing.Short() {
		speeds = speeds[1:]
	}
	for _, speed := range speeds {
		path := check.Must(wedge.NewPath([]wedge.Leg{{Speed: speed}}, nil))
		times := check.Must(path.Times(background, c.Array.Elements, g.Points(), nil))
		want := doubleLoop(t, c, g, times, times, Options{})
		eachKernel(t, func(t *testing.T, o Options, _ float64) {
			tolerance := 5e-6
			if o.Precision == Fixed16 {
				tolerance = 2e-4
			}
			wantImage(t, check.Must(check.Must(NewPlan(c, g, times, times, &o)).Image(background, c)).Data, want, tolerance)
		})
	}
}

// TestRoundingNoise compares the level that is reported with the difference between
// the images of both precisions, where a single sample takes up the scale: what
// differs far from it is rounding.
func TestRoundingNoise(t *testing.T) {
	const n = 12
	c := randomCapture(24, n, 600, fmc.FullPairs(n))
	for i := range c.Data {
		c.Data[i] *= 0.1
	}
	c.Trace(0)[300] = 1e3
	g := check.Must(NewSection(-3e-3, 3e-3, 2e-3, 26e-3, 0.1e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	fine := check.Must(check.Must(NewPlan(c, g, tx, rx, nil)).Image(background, c))
	s, coarse := check.Must(NewPlan(c, g, tx, rx, &Options{Precision: Fixed16})).NewScratch(), NewImage(g)
	if err := s.Reconstruct(background, coarse, c.Data); err != nil {
		t.Fatal(err)
	}
	sum, pixels := 0.0, 0
	for i, v := range fine.Data {
		// The spike is seen from 300 samples before its time on by the filter's
		// length alone.
		if d := g.Point(i).Z; d < 7e-3 || d > 22e-3 && d < 24e-3 {
			e := complex128(v - coarse.Data[i])
			sum += real(e)*real(e) + imag(e)*imag(e)
			pixels++
		}
	}
	level := 20 * math.Log10(math.Sqrt(sum/float64(pixels))/1e3)
	if got := s.RoundingNoise(1e3); !(got >= level-0.5 && got <= level+6) {
		t.Errorf("rounding noise %.1f dB reported, %.1f dB measured", got, level)
	}
	if got := check.Must(NewPlan(c, g, tx, rx, nil)).NewScratch().RoundingNoise(1); !math.IsInf(got, -1) {
		t.Errorf("rounding noise %v dB of single precision, want -Inf", got)
	}
}

// TestFullScale reconstructs captures whose every sample is at the limit of 16 bits:
// neither samples nor sums may overflow.
func TestFullScale(t *testing.T) {
	c := randomCapture(25, 12, 400, fmc.FullPairs(12))
	samples := make([]int16, len(c.Data))
	for i := range samples {
		// A square wave at the centre frequency, the same in all traces.
		samples[i] = math.MaxInt16
		if i%c.Samples/5%2 == 1 {
			samples[i] = math.MinInt16
		}
		c.Data[i] = float32(samples[i])
	}
	c.FirstSample = 0
	// All elements see the one pixel at once, and all pairs add up in phase.
	for i := range c.Array.Elements {
		a := 2 * math.Pi * float64(i) / 12
		c.Array.Elements[i] = r3.Vec{X: 8e-3 * math.Cos(a), Y: 8e-3 * math.Sin(a)}
	}
	g := check.Must(NewSection(-1e-3, 1e-3, 8e-3, 9e-3, 0.1e-3))
	path := check.Must(wedge.NewPath([]wedge.Leg{{Speed: 5900}}, nil))
	times := check.Must(path.Times(background, c.Array.Elements, g.Points(), nil))
	want := doubleLoop(t, c, g, times, times, Options{})
	eachKernel(t, func(t *testing.T, o Options, tolerance float64) {
		s, got := check.Must(NewPlan(c, g, times, times, &o)).NewScratch(), NewImage(g)
		if err := s.ReconstructInt16(background, got, samples); err != nil {
			t.Fatal(err)
		}
		wantImage(t, got.Data, want, tolerance)
	})
}

// TestPrefetched images a capture whose packed traces are larger than the second-level cache. Its
// workers prefetch traces.
func TestPrefetched(t *testing.T) {
	c := randomCapture(5, 16, 8192, fmc.HalfPairs(16))
	g := check.Must(NewSection(-4e-3, 4e-3, 4e-3, 10e-3, 0.5e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	p := check.Must(NewPlan(c, g, tx, rx, nil))
	if _, size := p.kernel.bytes(); size <= prefetched {
		t.Fatalf("traces of %d bytes, want more than %d", size, prefetched)
	}
	image := check.Must(p.Image(background, c))
	wantImage(t, image.Data, doubleLoop(t, c, g, tx, rx, Options{}), 5e-6)
}
