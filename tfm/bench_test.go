// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/condition"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// benchmarkCase is a capture and a grid. Arrays have 5 MHz and a pitch of 0.6 mm,
// traces are sampled at 50 MHz, pixels are 0.2 mm apart and the first row is 3 mm
// deep. The samples are noise.
type benchmarkCase struct {
	name     string
	elements int
	matrix   bool // elements × elements of them
	full     bool
	pixels   int // along each axis
	samples  int
	wedge    bool // through a wedge of 36° in place of contact
}

var benchmarkCases = []benchmarkCase{
	{name: "A", elements: 16, pixels: 256, samples: 2048},
	{name: "A-wedge", elements: 16, pixels: 256, samples: 4096, wedge: true},
	{name: "B", elements: 64, full: true, pixels: 256, samples: 2048},
	{name: "B-wedge", elements: 64, full: true, pixels: 256, samples: 4096, wedge: true},
	{name: "C", elements: 64, pixels: 512, samples: 4096},
	{name: "C-wedge", elements: 64, pixels: 512, samples: 8192, wedge: true},
	{name: "D", elements: 128, full: true, pixels: 512, samples: 4096},
	{name: "D-wedge", elements: 128, full: true, pixels: 512, samples: 8192, wedge: true},
	{name: "E", elements: 16, matrix: true, pixels: 64, samples: 512},
	{name: "E-wedge", elements: 16, matrix: true, pixels: 64, samples: 2048, wedge: true},
}

// pairs returns the pairs of the case.
func (bc benchmarkCase) pairs() []fmc.Pair {
	n := bc.elements
	if bc.matrix {
		n *= n
	}
	if bc.full {
		return fmc.FullPairs(n)
	}
	return fmc.HalfPairs(n)
}

// setup is a case at one speed.
type setup struct {
	capture *fmc.Capture
	grid    Grid
	times   *wedge.Times
}

// setup returns the case at a speed in the part (m/s).
func (bc benchmarkCase) setup(speed float64) setup {
	c := randomCapture(1, bc.elements, 2, fmc.HalfPairs(bc.elements))
	c.Samples = bc.samples
	if bc.matrix {
		c.Array = check.Must(fmc.MatrixArray(bc.elements, bc.elements, 0.6e-3, 0.6e-3, c.Array))
	}
	c.FirstSample = 0
	c.Pairs = bc.pairs()
	c.Data = make([]float32, len(c.Pairs)*bc.samples)
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range c.Data {
		// As a digitiser of 14 bits delivers them.
		c.Data[i] = float32(rng.IntN(1<<14) - 1<<13)
	}
	half := float64(bc.pixels) / 2 * 0.2e-3
	last := 0.2e-3 * float64(bc.pixels-1)
	g := check.Must(NewSection(-half, last-half, 3e-3, 3e-3+last, 0.2e-3))
	if bc.matrix {
		step := r3.Vec{X: 0.2e-3, Y: 0.2e-3, Z: 0.2e-3}
		g = check.Must(NewVolume(r3.Vec{X: -half, Y: -half, Z: 3e-3}, r3.Vec{X: last - half, Y: last - half, Z: 3e-3 + last}, step))
	}
	path := check.Must(wedge.NewPath([]wedge.Leg{{Speed: speed}}, nil))
	if bc.wedge {
		// A plastic wedge of 2,330 m/s with the array's middle 18 mm above the part, more
		// where its lower end would be less than 7 mm above; the scenario is invented.
		height := max(18e-3, 7e-3+0.6e-3/2*float64(bc.elements-1)*math.Sin(0.6))
		for i := range c.Array.Elements {
			at := c.Array.Elements[i]
			c.Array.Elements[i] = r3.Vec{X: -12e-3 + at.X*math.Cos(0.6), Y: at.Y, Z: -height - at.X*math.Sin(0.6)}
		}
		g.Origin.X = 0
		plate := check.Must(wedge.NewPlate(&material.Isotropic{Density: 1050, Longitudinal: 2330, Transverse: 1150}, material.Isotropic{Density: 7850, Longitudinal: 2 * speed, Transverse: speed}, 1))
		path = check.Must(plate.Path([]material.Mode{material.T}))
	}
	return setup{c, g, check.Must(path.Times(background, c.Array.Elements, g.Points(), nil))}
}

// eachSetup runs a benchmark for every case and speed that its name may select.
func eachSetup(b *testing.B, benchmark func(b *testing.B, s setup)) {
	for _, bc := range benchmarkCases {
		for _, speed := range []float64{5900, 3240} {
			var made *setup // when the first benchmark of the case is run, not before
			b.Run(fmt.Sprintf("case=%s/speed=%v", bc.name, speed), func(b *testing.B) {
				if made == nil {
					s := bc.setup(speed)
					made = &s
				}
				benchmark(b, *made)
			})
		}
	}
}

// baseline is the loop that one would write first: for every pair, over all pixels,
// add the interpolated sample, in complex64, on all cores. Its traces have
// padding between them, without which a stride of a power of two makes it
// slower still.
type baseline struct {
	setup
	stride  int
	signals []complex64
	samples []float32 // delays, element after element
	dst     []complex64
}

func newBaseline(s setup) *baseline {
	c := s.capture
	b := &baseline{setup: s, stride: c.Samples + 8, samples: make([]float32, len(s.times.Seconds)), dst: make([]complex64, s.grid.Len())}
	for i, seconds := range s.times.Seconds {
		b.samples[i] = seconds * float32(c.SampleRate)
	}
	a := check.Must(NewAnalytic(c.Samples, c.SampleRate, DefaultBand(c.Array.CentreFrequency, c.Array.Bandwidth, c.SampleRate)))
	b.signals = make([]complex64, b.stride*len(c.Pairs))
	for i, pair := range c.Pairs {
		signal := b.signals[i*b.stride:][:c.Samples]
		if err := a.Transform(signal, c.Trace(i)); err != nil {
			panic(err)
		}
		if c.Layout() == fmc.Half && pair.Tx != pair.Rx {
			for k := range signal {
				signal[k] *= 2
			}
		}
	}
	return b
}

func (b *baseline) reconstruct() {
	workers := runtime.GOMAXPROCS(0)
	var group sync.WaitGroup
	for w := range workers {
		group.Go(func() { b.sum(w*len(b.dst)/workers, (w+1)*len(b.dst)/workers) })
	}
	group.Wait()
}

func (b *baseline) sum(from, to int) {
	dst := b.dst[from:to]
	clear(dst)
	points := b.times.Points
	for i, pair := range b.capture.Pairs {
		signal := b.signals[i*b.stride:][:b.capture.Samples]
		tx := b.samples[pair.Tx*points:][from:to]
		rx := b.samples[pair.Rx*points:][from:to]
		for p := range dst {
			at := tx[p] + rx[p]
			k := int(at)
			if k >= 0 && k < len(signal)-1 {
				f := at - float32(k)
				s0, s1 := signal[k], signal[k+1]
				dst[p] += complex(real(s0)+f*(real(s1)-real(s0)), imag(s0)+f*(imag(s1)-imag(s0)))
			}
		}
	}
}

// TestBaseline checks that the baseline computes the image.
func TestBaseline(t *testing.T) {
	s := benchmarkCase{elements: 8, pixels: 40, samples: 600}.setup(5900)
	b := newBaseline(s)
	b.reconstruct()
	wantImage(t, b.dst, doubleLoop(t, s.capture, s.grid, s.times, s.times, Options{}), 1e-3)
}

// summer returns delay-and-sum alone of one frame, from packed traces.
func (s setup) summer(kernel string, precision Precision) func() {
	p := check.Must(NewPlan(s.capture, s.grid, s.times, s.times, &Options{kernel: kernel, Precision: precision}))
	scratch, image := p.NewScratch(), NewImage(s.grid)
	if err := scratch.Reconstruct(background, image, s.capture.Data); err != nil {
		panic(err)
	}
	return func() {
		scratch.ctx, scratch.views[0].dst, scratch.views[0].sums[0] = background, image, image.Data
		scratch.crew.Do(len(p.tiles), scratch.delayAndSum)
	}
}

// BenchmarkKernel times delay-and-sum alone, on all cores. For one core set GOMAXPROCS=1 in the
// environment, because the first count of b.Loop runs before -cpu takes effect. A lookup is one
// pair at one pixel, counted as the layout names them, also where two directions of a pair are
// summed beforehand.
func BenchmarkKernel(b *testing.B) {
	eachSetup(b, func(b *testing.B, s setup) {
		run := func(name string, newSum func() func()) {
			b.Run(name, func(b *testing.B) {
				sum := newSum()
				b.ReportAllocs()
				for b.Loop() {
					sum()
				}
				images := float64(b.N) / b.Elapsed().Seconds()
				b.ReportMetric(images, "images/s")
				b.ReportMetric(images*float64(len(s.capture.Pairs)*s.grid.Len()), "lookups/s")
			})
		}
		run("kernel=baseline/precision=f32", func() func() { return newBaseline(s).reconstruct })
		for _, kernel := range append([]string{"best"}, kernelNames()...) {
			name := strings.TrimPrefix(kernel, "best")
			run(fmt.Sprintf("kernel=%s/precision=f32", kernel), func() func() { return s.summer(name, Single) })
			run(fmt.Sprintf("kernel=%s/precision=i16", kernel), func() func() { return s.summer(name, Fixed16) })
		}
	})
}

// BenchmarkRatio runs the kernels in turn, once an iteration, and reports the medians
// of their rates as multiples of the baseline's: with -benchtime 10x, of ten turns.
// So the ratios hold also where other work slows the machine down now and then. The shares are the
// rates of the chains as shares of the rates of their kernels. With GOMAXPROCS=1 in the
// environment the time is the time of the processor (Linux).
func BenchmarkRatio(b *testing.B) {
	eachSetup(b, func(b *testing.B, s setup) {
		ways := []struct {
			unit string
			sum  func()
		}{
			{"", newBaseline(s).reconstruct},
			{"x-i16", s.summer("", Fixed16)},
			{"x-f32", s.summer("", Single)},
			{"x-chain-i16", s.chain(b, Fixed16)},
			{"x-chain-f32", s.chain(b, Single)},
			{"x-portable-i16", s.summer("portable", Fixed16)},
			{"x-portable-f32", s.summer("portable", Single)},
		}
		now := time.Now
		if runtime.GOMAXPROCS(0) == 1 {
			now = clock
		}
		seconds := make([][]float64, len(ways))
		for b.Loop() {
			for i, way := range ways {
				way.sum() // what the caches hold is then its own, as from frame to frame
				start, n := now(), 0
				for n == 0 || now().Sub(start) < 20*time.Millisecond {
					way.sum()
					n++
				}
				seconds[i] = append(seconds[i], now().Sub(start).Seconds()/float64(n))
			}
		}
		for i, way := range ways[1:] {
			b.ReportMetric(number.Median(seconds[0])/number.Median(seconds[i+1]), way.unit)
			b.ReportMetric(1/number.Median(seconds[i+1]), strings.Replace(way.unit, "x-", "images/s-", 1))
		}
		b.ReportMetric(1/number.Median(seconds[0]), "images/s-baseline")
		b.ReportMetric(number.Median(seconds[1])/number.Median(seconds[3]), "share-i16")
		b.ReportMetric(number.Median(seconds[2])/number.Median(seconds[4]), "share-f32")
		b.ReportMetric(0, "ns/op")
	})
}

// chain returns the whole way of a frame, from int16 samples to levels in dB, relative to the peak
// of the first frame.
func (s setup) chain(b *testing.B, precision Precision) func() {
	samples := make([]int16, len(s.capture.Data))
	for i, v := range s.capture.Data {
		samples[i] = int16(v)
	}
	p := check.Must(NewPlan(s.capture, s.grid, s.times, s.times, &Options{Precision: precision}))
	scratch, envelope, levels := p.NewScratch(), new(Envelope), &Decibels{Floor: -40}
	frame := func(dst Output) {
		if err := scratch.ReconstructInt16(background, dst, samples); err != nil {
			b.Fatal(err)
		}
	}
	frame(envelope)
	levels.Reference, _ = envelope.Peak()
	frame(levels) // allocates the levels
	return func() { frame(levels) }
}

// BenchmarkFrame times the whole chain, from int16 samples to levels in dB.
func BenchmarkFrame(b *testing.B) {
	eachSetup(b, func(b *testing.B, s setup) {
		for _, precision := range []Precision{Single, Fixed16} {
			b.Run("precision="+map[Precision]string{Single: "f32", Fixed16: "i16"}[precision], func(b *testing.B) {
				frame := s.chain(b, precision)
				b.ReportAllocs()
				for b.Loop() {
					frame()
				}
				b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "images/s")
			})
		}
	})
}

// BenchmarkConditioned times the usual conditioning and the analytic signals of whole records of
// case A, 136 traces of 2,048 samples, in single precision.
func BenchmarkConditioned(b *testing.B) {
	s := benchmarkCases[0].setup(5900)
	p := check.Must(NewPlan(s.capture, s.grid, s.times, s.times, nil))
	chain := check.Must(condition.NewChain(s.capture,
		condition.OffsetRemoval{From: math.Inf(-1), To: math.Inf(1)},
		condition.Gain{Start: 2e-6, Spreading: 1, DecibelsPerSecond: 3e5},
		condition.Window{From: 1e-6, Rise: 0.5e-6, To: math.Inf(1), Fall: 1e-6}))
	conditioned := *s.capture
	conditioned.Data = slices.Clone(s.capture.Data)
	w := p.NewScratchOf(1).workers[0]
	w.float32s = conditioned.Data
	for b.Loop() {
		if err := chain.Apply(&conditioned, s.capture); err != nil {
			b.Fatal(err)
		}
		for i, t := range p.traces {
			if _, err := w.transformTrace(w.total, i, t, [2]int{0, p.samples}); err != nil {
				b.Fatal(err)
			}
		}
	}
}

// BenchmarkFirst times what comes before the frames of a geometry: the plan of given
// tables of times, and a scratch with its first frame, whose memory is yet to be
// touched.
func BenchmarkFirst(b *testing.B) {
	eachSetup(b, func(b *testing.B, s setup) {
		for _, precision := range []Precision{Single, Fixed16} {
			options := &Options{Precision: precision}
			b.Run("stage=plan/precision="+precision.String(), func(b *testing.B) {
				for b.Loop() {
					check.Must(NewPlan(s.capture, s.grid, s.times, s.times, options))
				}
			})
			b.Run("stage=frame/precision="+precision.String(), func(b *testing.B) {
				p := check.Must(NewPlan(s.capture, s.grid, s.times, s.times, options))
				for b.Loop() {
					check.Must(p.Image(background, s.capture))
				}
			})
		}
	})
}

// BenchmarkCompound images 21 plane waves of 64 elements, with weights of 1 and compounded, and
// makes the plan of each. It works on one core.
func BenchmarkCompound(b *testing.B) {
	c := randomCapture(1, 64, 2048, fmc.EventPairs(21, 64))
	c.FirstSample = 0
	c.Events = fan(c.Array, -40, 40, 21, 5900, 5900)
	g := check.Must(NewSection(-25.6e-3, 25.5e-3, 3e-3, 54.1e-3, 0.2e-3))
	table := contact(c.Array, g.Points(), 5900)
	tx := check.Must(EventTimes(background, c, table, nil))
	for _, precision := range []Precision{Single, Fixed16} {
		one := &Options{Workers: 1, Precision: precision}
		all := &Options{Workers: 1, Precision: precision, Compound: &CompoundOptions{}}
		for _, plan := range []struct {
			name string
			make func() (*Plan, error)
		}{
			{"ones", func() (*Plan, error) { return NewPlan(c, g, tx, table, one) }},
			{"compounded", func() (*Plan, error) { return NewPlan(c, g, table, table, all) }},
		} {
			p := check.Must(plan.make())
			s, image := p.NewScratch(), NewImage(g)
			b.Run(fmt.Sprintf("image/%v/%s", precision, plan.name), func(b *testing.B) {
				for b.Loop() {
					if err := s.Reconstruct(background, image, c.Data); err != nil {
						b.Fatal(err)
					}
				}
			})
			b.Run(fmt.Sprintf("plan/%v/%s", precision, plan.name), func(b *testing.B) {
				for b.Loop() {
					check.Must(plan.make())
				}
			})
		}
	}
}
