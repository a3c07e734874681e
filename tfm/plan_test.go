// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"context"
	"errors"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

var background = context.Background()

// randomCapture returns a capture of n elements, 0.6 mm apart, of noise.
func randomCapture(seed uint64, n, samples int, pairs []fmc.Pair) *fmc.Capture {
	rng := rand.New(rand.NewPCG(seed, 9))
	var elements []r3.Vec
	for i := range n {
		elements = append(elements, r3.Vec{X: (float64(i) - float64(n-1)/2) * 0.6e-3})
	}
	c := check.Must(fmc.New(fmc.Capture{
		Array:       fmc.Array{Elements: elements, Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6},
		Pairs:       pairs,
		Samples:     samples,
		SampleRate:  50e6,
		FirstSample: 1.234e-6,
	}))
	for i := range c.Data {
		c.Data[i] = float32(rng.NormFloat64())
	}
	return c
}

// plate is a steel plate in contact.
func plate() *wedge.Setup {
	return check.Must(wedge.NewPlate(nil, material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3240}, 30e-3))
}

// tables returns the tables of a view of s.
func tables(s *wedge.Setup, view string, c *fmc.Capture, g Grid) (tx, rx *wedge.Times) {
	transmit, receive, err := s.Paths(check.Must(wedge.ParseView(view)))
	if err != nil {
		panic(err)
	}
	tx = check.Must(transmit.Times(background, c.Array.Elements, g.Points(), nil))
	if rx = tx; receive != transmit {
		rx = check.Must(receive.Times(background, c.Array.Elements, g.Points(), nil))
	}
	return tx, rx
}

// doubleLoop is delay-and-sum as the textbook writes it, in double precision:
// for every pixel, over all pairs, the analytic signal of the trace interpolated at
// its time. A half matrix is read as the full one that it stands for.
func doubleLoop(t *testing.T, c *fmc.Capture, g Grid, tx, rx *wedge.Times, o Options) []complex128 {
	t.Helper()
	band := o.Band
	if band == (Band{}) {
		band = DefaultBand(c.Array.CentreFrequency, c.Array.Bandwidth, c.SampleRate)
	}
	a := check.Must(NewAnalytic(c.Samples, c.SampleRate, band))
	sum := make([]complex128, g.Len())
	add := func(pair fmc.Pair, signal []complex128, weight float64) {
		for p := range sum {
			seconds := float64(tx.Seconds[pair.Tx*tx.Points+p]) + float64(rx.Seconds[pair.Rx*rx.Points+p])
			at := (seconds - c.FirstSample) * c.SampleRate
			if !(at >= 0 && at < float64(c.Samples-1)) {
				continue
			}
			k := int(at)
			f := complex(at-float64(k), 0)
			sum[p] += complex(weight, 0) * ((1-f)*signal[k] + f*signal[k+1])
		}
	}
	half := c.Layout() == fmc.Half
	for i, pair := range c.Pairs {
		x := make([]float64, c.Samples)
		for k, v := range c.Trace(i) {
			x[k] = float64(v)
		}
		signal, weight := analyticOf(t, a, x), 1.0
		if o.Weights != nil {
			weight = float64(o.Weights[i])
		}
		add(pair, signal, weight)
		if half && pair.Tx != pair.Rx {
			add(pair.Reciprocal(), signal, weight)
		}
	}
	return sum
}

// wantImage fails unless got is want to within tolerance of its peak.
func wantImage(t *testing.T, got []complex64, want []complex128, tolerance float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Fatalf("%d pixels, want %d", len(got), len(want))
	}
	peak, worst := 0.0, 0.0
	for i, v := range want {
		peak = max(peak, cmplx.Abs(v))
		if d := cmplx.Abs(complex128(got[i]) - v); !(d <= worst) {
			worst = d
		}
	}
	if !(peak > 0) {
		t.Fatal("the image to compare with is empty")
	}
	if !(worst <= tolerance*peak) {
		t.Errorf("off by %g of the peak, want %g at most", worst/peak, tolerance)
	}
}

// TestAgainstDoubleLoop is the reference test of the kernel: all layouts, views
// with one table and with two, grids of odd sizes, images that leave the record.
func TestAgainstDoubleLoop(t *testing.T) {
	list := []fmc.Pair{{Tx: 0, Rx: 4}, {Tx: 2, Rx: 2}, {Tx: 4, Rx: 0}, {Tx: 1, Rx: 3}, {Tx: 3, Rx: 2}}
	weights := []float32{1, 0, -2, 0.5, 3}
	section := func(x0, x1, z0, z1, step float64) Grid { return check.Must(NewSection(x0, x1, z0, z1, step)) }
	small := section(-5e-3, 5e-3, 1e-3, 12e-3, 0.37e-3)
	for _, test := range []struct {
		name, reason string
		elements     int
		samples      int
		pairs        []fmc.Pair
		grid         Grid
		view         string
		options      Options
	}{
		{"full", "i→j and j→i are summed beforehand", 6, 500, fmc.FullPairs(6), small, "L-L", Options{}},
		{"half", "off-diagonal pairs count twice", 6, 500, fmc.HalfPairs(6), small, "L-L", Options{}},
		{"list", "each pair counts as it stands", 5, 500, list, small, "L-L", Options{}},
		{"list, weighted", "a weight a pair", 5, 500, list, small, "L-L", Options{Weights: weights}},
		{"full, two tables", "transmit and receive differ", 6, 900, fmc.FullPairs(6), small, "TT-T", Options{}},
		{"half, two tables", "a trace serves both directions", 6, 900, fmc.HalfPairs(6), small, "TT-T", Options{}},
		{"half, two tables, weighted", "", 2, 900, fmc.HalfPairs(2), small, "LT-T", Options{Weights: []float32{1, 2, 3}}},
		{"one element", "one pair", 1, 500, fmc.FullPairs(1), small, "L-L", Options{}},
		{"17 elements", "remainders of the unrolled kernel", 17, 400, fmc.HalfPairs(17), small, "L-L", Options{}},
		{"band", "a pass band of the caller's", 4, 500, fmc.FullPairs(4), small, "L-L", Options{Band: Band{3e6, 9e6}}},
		{"short record", "most of the image lies outside it", 6, 60, fmc.FullPairs(6), small, "L-L", Options{}},
		{"two samples", "the shortest that can be interpolated", 2, 2, fmc.FullPairs(2), section(-5e-3, 5e-3, 3.6e-3, 3.9e-3, 1e-5), "L-L", Options{}},
		{"above the surface", "no rays in the upper rows", 4, 500, fmc.FullPairs(4), section(-2e-3, 2e-3, -3e-3, 5e-3, 0.2e-3), "L-L", Options{}},
		{"volume", "three slices", 4, 500, fmc.FullPairs(4), check.Must(NewVolume(r3.Vec{X: -4e-3, Y: -1e-3, Z: 3e-3}, r3.Vec{X: 4e-3, Y: 1e-3, Z: 9e-3}, r3.Vec{X: 0.3e-3, Y: 1e-3, Z: 0.4e-3})), "L-L", Options{}},
	} {
		t.Run(test.name, func(t *testing.T) {
			c := randomCapture(1, test.elements, test.samples, test.pairs)
			tx, rx := tables(plate(), test.view, c, test.grid)
			want := doubleLoop(t, c, test.grid, tx, rx, test.options)
			eachKernel(t, func(t *testing.T, o Options, tolerance float64) {
				o.Band, o.Weights = test.options.Band, test.options.Weights
				p, err := NewPlan(c, test.grid, tx, rx, &o)
				if err != nil {
					t.Fatal(err)
				}
				got, err := p.Image(background, c)
				if err != nil {
					t.Fatal(err)
				}
				wantImage(t, got.Data, want, tolerance)
			})
		})
	}
}

// TestTileRemainders runs every size around the size of a tile.
func TestTileRemainders(t *testing.T) {
	c := randomCapture(2, 3, 300, fmc.FullPairs(3))
	for i := range c.Data {
		// The tone keeps the peak of small images high, because the tolerance is a share of the
		// peak.
		c.Data[i] = 0.3*c.Data[i] + 4*float32(math.Cos(0.6*float64(i%c.Samples)))
	}
	sizes := func(n int) []int { return []int{1, 2, n - 1, n, n + 1, 2*n + 1} }
	for _, rows := range sizes(tileRows) {
		for _, cols := range sizes(tileCols) {
			g := Grid{Origin: r3.Vec{X: -1e-3, Z: 6e-3}, Step: r3.Vec{X: 1e-4, Y: 1e-4, Z: 1e-4}, Cols: cols, Rows: rows, Slices: 1}
			tx, rx := tables(plate(), "L-L", c, g)
			want := doubleLoop(t, c, g, tx, rx, Options{})
			eachKernel(t, func(t *testing.T, o Options, tolerance float64) {
				got := check.Must(check.Must(NewPlan(c, g, tx, rx, &o)).Image(background, c))
				wantImage(t, got.Data, want, tolerance)
			})
		}
	}
}

// TestTileCols checks which plans have wide tiles, and that the image of wide tiles has the same
// bits.
func TestTileCols(t *testing.T) {
	const samples = 1024 // of each trace: 16 MiB in 16 bits
	c := randomCapture(4, 64, 1, fmc.FullPairs(64))
	c.Samples = samples + 1
	c.Data = make([]float32, len(c.Pairs)*c.Samples)
	rng := rand.New(rand.NewPCG(4, 4))
	for i := range c.Data {
		c.Data[i] = rng.Float32() - 0.5
	}
	g := Grid{Origin: r3.Vec{X: -20e-3, Z: 6e-3}, Step: r3.Vec{X: 4e-4, Y: 4e-4, Z: 2e-4}, Cols: 3*wideCols + tileCols + 3, Rows: 13, Slices: 1}
	times := contact(c.Array, g.Points(), 5900)
	for _, test := range []struct {
		name    string
		options Options
		samples int
		want    int // tiles in assembly
	}{
		{"large traces, enough tiles for one worker", Options{Workers: 1, Precision: Fixed16}, samples + 1, 4},
		{"too few tiles", Options{Workers: 2, Precision: Fixed16}, samples + 1, 8},
		{"small traces", Options{Workers: 1, Precision: Fixed16}, samples, 8},
		{"delays of single precision", Options{Workers: 1}, samples + 1, 8},
		{"a base for each tile", Options{Workers: 1, Precision: Fixed16, kernel: "portable"}, samples + 1, 8},
	} {
		c.Samples = test.samples
		p := check.Must(NewPlan(c, g, times, times, &test.options))
		want := test.want
		if p.name == "portable" {
			want = 8
		}
		if len(p.tiles) != want {
			t.Errorf("%s: %d tiles, want %d", test.name, len(p.tiles), want)
		}
	}
	c.Samples = samples + 1
	images := make([]*Image, 2)
	for i := range images {
		o := &Options{Workers: 1 + i, Precision: Fixed16}
		images[i] = check.Must(check.Must(NewPlan(c, g, times, times, o)).Image(background, c))
	}
	if !slices.Equal(images[0].Data, images[1].Data) {
		t.Error("another image with wide tiles")
	}
}

// TestWorkers checks that an image does not depend on the number of cores, nor on
// what the scratch was used for before, bit for bit.
func TestWorkers(t *testing.T) {
	c := randomCapture(3, 8, 600, fmc.HalfPairs(8))
	g := check.Must(NewSection(-6e-3, 6e-3, 2e-3, 14e-3, 0.21e-3))
	tx, rx := tables(plate(), "TT-T", c, g)
	eachKernel(t, func(t *testing.T, o Options, _ float64) {
		o.Workers = 1
		want := check.Must(check.Must(NewPlan(c, g, tx, rx, &o)).Image(background, c))
		for _, n := range []int{0, 1, 2, 3, 7} {
			o.Workers = n
			s, got := check.Must(NewPlan(c, g, tx, rx, &o)).NewScratch(), NewImage(g)
			if n > 0 && len(s.workers) != n {
				t.Errorf("%d workers, want %d", len(s.workers), n)
			}
			for range 2 {
				if err := s.Reconstruct(background, got, c.Data); err != nil {
					t.Fatal(err)
				}
				if !cmp.Equal(got.Data, want.Data) {
					t.Fatalf("%d workers give another image than one", n)
				}
			}
		}
	})
}

// TestSharedPlan lets goroutines, with a scratch each, image different frames by one plan
// at once.
func TestSharedPlan(t *testing.T) {
	frames := []*fmc.Capture{randomCapture(3, 5, 400, fmc.HalfPairs(5)), randomCapture(4, 5, 400, fmc.HalfPairs(5))}
	g := check.Must(NewSection(-4e-3, 4e-3, 2e-3, 10e-3, 0.2e-3))
	tx, rx := tables(plate(), "L-L", frames[0], g)
	eachKernel(t, func(t *testing.T, o Options, _ float64) {
		p := check.Must(NewPlan(frames[0], g, tx, rx, &o))
		var want [2]*Image
		for i, c := range frames {
			want[i] = check.Must(p.Image(background, c))
		}
		var group sync.WaitGroup
		for w := range 4 {
			group.Go(func() {
				s, got := p.NewScratch(), NewImage(g)
				for i := range 4 {
					frame := (w + i) % 2
					if err := s.Reconstruct(background, got, frames[frame].Data); err != nil {
						t.Error(err)
					}
					if !cmp.Equal(got.Data, want[frame].Data) {
						t.Errorf("goroutine %d: image %d is another than alone", w, i)
					}
				}
			})
		}
		group.Wait()
	})
}

// TestInt16 checks that samples as they come off a digitiser give the image of
// the same samples as float32.
func TestInt16(t *testing.T) {
	c := randomCapture(4, 6, 400, fmc.FullPairs(6))
	samples := make([]int16, len(c.Data))
	for i, v := range c.Data {
		samples[i] = int16(max(-32768, min(32767, 20000*v)))
		c.Data[i] = float32(samples[i])
	}
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.2e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	p := check.Must(NewPlan(c, g, tx, rx, nil))
	want, got := check.Must(p.Image(background, c)), NewImage(g)
	if err := p.NewScratch().ReconstructInt16(background, got, samples); err != nil {
		t.Fatal(err)
	}
	if !cmp.Equal(got.Data, want.Data) {
		t.Error("the images differ")
	}
}

// TestSuperposition checks that the image of a sum is the sum of the images.
func TestSuperposition(t *testing.T) {
	a, b := randomCapture(5, 6, 400, fmc.FullPairs(6)), randomCapture(6, 6, 400, fmc.FullPairs(6))
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.2e-3))
	tx, rx := tables(plate(), "L-L", a, g)
	p := check.Must(NewPlan(a, g, tx, rx, nil))
	ia, ib := check.Must(p.Image(background, a)), check.Must(p.Image(background, b))
	want := make([]complex128, g.Len())
	for i := range want {
		want[i] = 2*complex128(ia.Data[i]) - complex128(ib.Data[i])
	}
	for i := range a.Data {
		a.Data[i] = 2*a.Data[i] - b.Data[i]
	}
	wantImage(t, check.Must(p.Image(background, a)).Data, want, 1e-5)
}

// TestTranslation checks that an array and a grid moved along a plate together
// give the same image.
func TestTranslation(t *testing.T) {
	c := randomCapture(7, 6, 400, fmc.FullPairs(6))
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.2e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	want := check.Must(check.Must(NewPlan(c, g, tx, rx, nil)).Image(background, c))
	for i := range c.Array.Elements {
		c.Array.Elements[i].X += 0.125
	}
	g.Origin.X += 0.125
	tx, rx = tables(plate(), "L-L", c, g)
	got := check.Must(check.Must(NewPlan(c, g, tx, rx, nil)).Image(background, c))
	wide := make([]complex128, len(want.Data))
	for i, v := range want.Data {
		wide[i] = complex128(v)
	}
	// The times are rounded elsewhere by 2^-24 of themselves, a part in 10^4 of a
	// sample here.
	wantImage(t, got.Data, wide, 1e-4)
}

// TestSubsetsAdd checks that the images of the two halves of a list of pairs add up to the image
// of the list.
func TestSubsetsAdd(t *testing.T) {
	c := randomCapture(8, 6, 900, fmc.FullPairs(6))
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.2e-3))
	tx, rx := tables(plate(), "TT-T", c, g)
	want := make([]complex128, g.Len())
	for _, part := range [][2]int{{0, 17}, {17, 36}} {
		sub := *c
		sub.Pairs, sub.Data = c.Pairs[part[0]:part[1]], c.Data[part[0]*c.Samples:part[1]*c.Samples]
		for i, v := range check.Must(check.Must(NewPlan(&sub, g, tx, rx, nil)).Image(background, &sub)).Data {
			want[i] += complex128(v)
		}
	}
	wantImage(t, check.Must(check.Must(NewPlan(c, g, tx, rx, nil)).Image(background, c)).Data, want, 1e-5)
}

func TestReconstructAllocatesNothing(t *testing.T) {
	c := randomCapture(9, 6, 400, fmc.FullPairs(6))
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.1e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	eachKernel(t, func(t *testing.T, o Options, _ float64) {
		p := check.Must(NewPlan(c, g, tx, rx, &o))
		s, image := p.NewScratch(), NewImage(g)
		var envelope *Envelope
		var levels *Decibels
		frame := func() {
			if err := s.Reconstruct(background, image, c.Data); err != nil {
				t.Fatal(err)
			}
			envelope = image.Envelope(envelope)
			peak, _ := envelope.Peak()
			levels = check.Must(envelope.Decibels(levels, peak, -40))
		}
		if n := testing.AllocsPerRun(20, frame); n != 0 {
			t.Errorf("%v allocations a frame, want none", n)
		}
	})
}

func TestBadPlan(t *testing.T) {
	c := randomCapture(10, 3, 100, fmc.FullPairs(3))
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.5e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	with := func(change func(*fmc.Capture)) *fmc.Capture {
		bad := *c
		bad.Array.Elements = append([]r3.Vec(nil), c.Array.Elements...)
		change(&bad)
		return &bad
	}
	other := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.4e-3))
	above := check.Must(NewSection(-3e-3, 3e-3, -9e-3, -3e-3, 0.5e-3))
	noRay, _ := tables(plate(), "L-L", c, above)
	for _, test := range []struct {
		name    string
		capture *fmc.Capture
		grid    Grid
		tx, rx  *wedge.Times
		options *Options
		words   []string
	}{
		{"no capture", nil, g, tx, rx, nil, []string{"no capture"}},
		{"no table", c, g, nil, rx, nil, []string{"table of times"}},
		{"empty capture", new(fmc.Capture), g, tx, rx, nil, []string{"fmc"}},
		{"no rate", with(func(c *fmc.Capture) { c.SampleRate = 0 }), g, tx, rx, nil, []string{"sample rate 0"}},
		{"grid of no rows", c, Grid{Step: r3.Vec{X: 1, Y: 1, Z: 1}, Cols: 1, Slices: 1}, tx, rx, nil, []string{"0 pixels along z"}},
		{"another grid", c, other, tx, rx, nil, []string{"transmitting table", "points"}},
		{"one table of another grid", c, other, check.Must(check.Must(plate().Path([]material.Mode{material.L})).Times(background, c.Array.Elements, other.Points(), nil)), rx, nil, []string{"receiving table"}},
		{"no ray at all", c, above, noRay, noRay, nil, []string{"without a single ray"}},
		{"too few weights", c, g, tx, rx, &Options{Weights: make([]float32, 8)}, []string{"8 weights", "want 9"}},
		{"infinite weight", c, g, tx, rx, &Options{Weights: []float32{1, 1, 1, 1, float32(math.Inf(1)), 1, 1, 1, 1}}, []string{"weight 4", "finite"}},
		{"unknown precision", c, g, tx, rx, &Options{Precision: 2}, []string{"Precision(2)", "Single or Fixed16"}},
		{"band beyond half the rate", c, g, tx, rx, &Options{Band: Band{1e6, 30e6}}, []string{"pass band"}},
		{"record far from time 0", with(func(c *fmc.Capture) { c.FirstSample = 1 }), g, tx, rx, nil, []string{"samples from time 0"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			_, err := NewPlan(test.capture, test.grid, test.tx, test.rx, test.options)
			check.Error(t, err, test.words...)
		})
	}
}

func TestBadFrames(t *testing.T) {
	c := randomCapture(11, 3, 100, fmc.FullPairs(3))
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.5e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	p := check.Must(NewPlan(c, g, tx, rx, nil))
	s, image := p.NewScratch(), NewImage(g)
	check.Error(t, s.Reconstruct(background, image, c.Data[1:]), "899 samples", "want 900")
	check.Error(t, s.ReconstructInt16(background, image, make([]int16, 901)), "901 samples", "want 900")
	check.Error(t, s.Reconstruct(background, nil, c.Data), "image")
	check.Error(t, s.Reconstruct(background, NewImage(Grid{Cols: 1, Rows: 1, Slices: 1}), c.Data), "image")
	_, err := p.Image(background, nil)
	check.Error(t, err, "no capture")
	for _, bad := range []float64{math.NaN(), math.Inf(1)} {
		data := append([]float32(nil), c.Data...)
		data[5*100+17] = float32(bad)
		data[7*100+3] = float32(bad)
		err := s.Reconstruct(background, image, data)
		var sample *fmc.SampleError
		if !errors.As(err, &sample) || sample.Index != 5 || sample.Sample != 17 || sample.Pair != c.Pairs[5] {
			t.Errorf("error %v, want sample 17 of pair 5", err)
		}
	}
	eachKernel(t, func(t *testing.T, o Options, _ float64) {
		p := check.Must(NewPlan(c, g, tx, rx, &o))
		data := make([]float32, len(c.Data))
		// The samples have opposite signs, so that no sum of them is too large.
		data[4*100+1], data[4*100+2] = 1e29, -1e29
		check.Error(t, p.NewScratch().Reconstruct(background, image, data), "sample 1 is 1e+29", "1e+28 at most")
		o.Weights = make([]float32, 9)
		o.Weights[4] = 1e30
		heavy := check.Must(NewPlan(c, g, tx, rx, &o)).NewScratch()
		samples := make([]int16, len(c.Data))
		samples[4*100+1], samples[4*100+2] = math.MaxInt16, -math.MaxInt16
		check.Error(t, heavy.ReconstructInt16(background, image, samples), "sample 1 is 3.27", "1e+28 at most")
	})
	ctx, cancel := context.WithCancel(background)
	cancel()
	if err := s.Reconstruct(ctx, image, c.Data); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v of a cancelled context, want context.Canceled", err)
	}
	if err := s.Reconstruct(background, image, c.Data); err != nil {
		t.Errorf("a good frame after bad ones: %v", err)
	}
}

func TestProgress(t *testing.T) {
	c := randomCapture(12, 3, 100, fmc.FullPairs(3))
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 9e-3, 0.1e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	var shares []float64
	p := check.Must(NewPlan(c, g, tx, rx, &Options{Progress: func(s float64) { shares = append(shares, s) }}))
	check.Must(p.Image(background, c))
	if len(shares) != len(p.tiles) || shares[len(shares)-1] != 1 {
		t.Errorf("progress %v, want %d shares up to 1", shares, len(p.tiles))
	}
}

// TestSpent checks the times of the stages of a frame against the clock. The sum calls Progress,
// which waits here.
func TestSpent(t *testing.T) {
	const wait = 3 * time.Millisecond
	s := benchmarkCase{elements: 4, pixels: 40, samples: 600}.setup(5900)
	p := check.Must(NewPlan(s.capture, s.grid, s.times, s.times, &Options{Progress: func(float64) { time.Sleep(wait) }}))
	scratch := p.NewScratch()
	if filter, sum := scratch.Spent(); filter != 0 || sum != 0 {
		t.Errorf("%v and %v before the first frame, want 0", filter, sum)
	}
	start := time.Now()
	if err := scratch.Reconstruct(background, NewImage(s.grid), s.capture.Data); err != nil {
		t.Fatal(err)
	}
	all := time.Since(start)
	if filter, sum := scratch.Spent(); !(filter > 0 && sum >= wait && filter+sum <= all) {
		t.Errorf("filter %v, sum %v of %v in all, want at least %v in the sum", filter, sum, all, wait)
	}
}

// TestEarlyTimes images with a path whose times are negative, beside a path whose times are longer
// than the record: the sums lie in the record.
func TestEarlyTimes(t *testing.T) {
	c := randomCapture(31, 3, 400, fmc.FullPairs(3))
	c.FirstSample = 0
	g := Grid{Step: r3.Vec{X: 1e-3, Y: 1e-3, Z: 1e-3}, Cols: 20, Rows: 10, Slices: 1}
	times := func(first float64) *wedge.Times {
		var seconds []float32
		for e := range 3 {
			for p := range g.Len() {
				seconds = append(seconds, float32((first+10*float64(e)+float64(p))/c.SampleRate))
			}
		}
		return check.Must(wedge.NewTimes(nil, c.Array.Elements, g.Points(), seconds))
	}
	for _, early := range []float64{-500, 500} { // of the transmitting path
		tx, rx := times(early), times(20-early)
		want := doubleLoop(t, c, g, tx, rx, Options{})
		eachKernel(t, func(t *testing.T, o Options, tolerance float64) {
			wantImage(t, check.Must(check.Must(NewPlan(c, g, tx, rx, &o)).Image(background, c)).Data, want, tolerance)
		})
	}
}
