// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package quality_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

var steel = material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}

// wide is a band that leaves the spectra of the tests as they are.
func wide(centre, rate float64) tfm.Band { return tfm.Band{Low: 0.02 * centre, High: 0.45 * rate} }

// contact returns a capture without samples of n elements 0.6 mm apart, and a thick plate.
func contact(n int, bandwidth float64, pairs []fmc.Pair) (*fmc.Capture, *wedge.Setup) {
	like := fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: bandwidth}
	array := check.Must(fmc.LinearArray(n, 0.6e-3, like))
	if pairs == nil {
		pairs = fmc.FullPairs(n)
	}
	c := &fmc.Capture{Array: array, Pairs: pairs, Samples: 1, SampleRate: 50e6}
	return c, check.Must(wedge.NewPlate(nil, steel, 0.2))
}

// spotAt returns the spot of the view L-L of uniform amplitudes at (x, z) in mm.
func spotAt(t testing.TB, c *fmc.Capture, setup *wedge.Setup, x, z float64) *quality.Spot {
	t.Helper()
	spread, err := quality.NewSpread(c, setup, "L-L", &quality.Options{Uniform: true, Band: wide(5e6, c.SampleRate)})
	if err != nil {
		t.Fatal(err)
	}
	return check.Must(spread.At(r3.Vec{X: x * 1e-3, Z: z * 1e-3}))
}

// TestPointSpread compares with images of a point that were computed independently, as the sum of
// all pairs with exact times, with Gaussian pulses and without directivity and spreading, on a
// grid of 0.02 mm: ±0.005 mm, and 1 % of the indicator.
func TestPointSpread(t *testing.T) {
	for _, test := range []struct {
		n                         int
		x, z, bandwidth           float64 // mm
		lateral, axial, indicator float64 // mm
	}{
		{64, 0, 30, 0.6, 0.911, 0.915, 0.469},
		{32, 0, 30, 0.6, 1.694, 0.885, 0.848},
		{16, 0, 30, 0.6, 3.310, 0.874, 1.643},
		{64, 0, 60, 0.6, 1.694, 0.885, 0.848},
		{64, 15, 30, 0.6, 1.012, 0.940, 0.543},
		{64, 0, 30, 1.0, 0.915, 0.553, 0.282},
	} {
		c, setup := contact(test.n, test.bandwidth, nil)
		s := spotAt(t, c, setup, test.x, test.z)
		name := fmt.Sprintf("%d elements, (%v, %v) mm, %.0f %%", test.n, test.x, test.z, test.bandwidth*100)
		check.Within(t, name+": lateral width, mm", s.Width(r3.Vec{X: 1}, sizing.SixDB)*1e3, test.lateral, 0.012)
		axial, indicator := 0.006, 0.012
		if test.bandwidth == 1 { // the spectrum reaches down to 0 Hz, where the filter of images cuts it
			axial, indicator = 0.02, 0.05
		}
		check.Within(t, name+": axial width, mm", s.Width(r3.Vec{Z: 1}, sizing.SixDB)*1e3, test.axial, axial)
		check.Within(t, name+": indicator", check.Must(s.Indicator())/test.indicator, 1, indicator)
	}
}

// TestScaling holds for any array: twice the depth with twice the elements is the same spot.
func TestScaling(t *testing.T) {
	c32, setup := contact(32, 0.6, nil)
	c64, _ := contact(64, 0.6, nil)
	near, far := spotAt(t, c32, setup, 0, 30), spotAt(t, c64, setup, 0, 60)
	for _, direction := range []r3.Vec{{X: 1}, {Z: 1}, {X: 1, Z: 2}} {
		check.Within(t, "ratio of widths", near.Width(direction, sizing.SixDB)/far.Width(direction, sizing.SixDB), 1, 1e-3)
	}
}

// TestParaxial compares with the closed forms for a narrow aperture: the width 0.885893·λ·z/D of
// the two-way sinc², the axial width 0.4412712·λ/B, and the indicator as the area of an ellipse
// with these axes.
func TestParaxial(t *testing.T) {
	const z, wavelength = 100e-3, 5920 / 5e6
	c, setup := contact(16, 0.6, nil)
	s := spotAt(t, c, setup, 0, z*1e3)
	check.Within(t, "wavelength", s.Wavelength, wavelength, 1e-12)
	lateral := 0.885893 * wavelength * z / (16 * 0.6e-3)
	axial := 2 * math.Ln2 / (math.Pi * 0.6) * wavelength
	check.Within(t, "lateral", s.Width(r3.Vec{X: 1}, sizing.SixDB)/lateral, 1, 0.01)
	check.Within(t, "axial", s.Width(r3.Vec{Z: 1}, sizing.SixDB)/axial, 1, 0.003)
	check.Within(t, "indicator", check.Must(s.Indicator())/(0.3070271*z/(16*0.6e-3)/0.6), 1, 0.03)
}

// TestMatrixArray: a square array has the width of a line along both axes.
func TestMatrixArray(t *testing.T) {
	const z, wavelength = 60e-3, 5920 / 5e6
	like := fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6}
	array := check.Must(fmc.MatrixArray(12, 12, 0.6e-3, 0.6e-3, like))
	c := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(144), Samples: 1, SampleRate: 50e6}))
	setup := check.Must(wedge.NewPlate(nil, steel, 0.2))
	s := spotAt(t, c, setup, 0, z*1e3)
	want := 0.885893 * wavelength * z / (12 * 0.6e-3)
	x, y := s.Width(r3.Vec{X: 1}, sizing.SixDB), s.Width(r3.Vec{Y: 1}, sizing.SixDB)
	check.Within(t, "width along x", x/want, 1, 0.015)
	check.Within(t, "width along y", y/x, 1, 1e-6)
	round := c.Array // the elements within a circle: their area is the area of a circle of 12.0 pitches
	round.Elements = nil
	for _, e := range array.Elements {
		if math.Hypot(e.X, e.Y) <= 6*0.6e-3 {
			round.Elements = append(round.Elements, e)
		}
	}
	n := len(round.Elements)
	c = check.Must(fmc.New(fmc.Capture{Array: round, Pairs: fmc.FullPairs(n), Samples: 1, SampleRate: 50e6}))
	diameter := 2 * 0.6e-3 * math.Sqrt(float64(n)/math.Pi)
	circle := 1.028994 * wavelength * z / diameter // the square of J₁(u)/u has half of its peak there
	check.Within(t, "width of a round array", spotAt(t, c, setup, 0, z*1e3).Width(r3.Vec{X: 1}, sizing.SixDB)/circle, 1, 0.02)
}

// TestSamePairs: a half matrix has the spot of the full matrix, and an event of no strength adds
// nothing.
func TestSamePairs(t *testing.T) {
	full, setup := contact(33, 0.6, nil)
	half, _ := contact(33, 0.6, fmc.HalfPairs(33))
	wave := func(angle, weight float64) fmc.Event {
		e := fmc.Event{Delays: make([]float64, 33), Weights: make([]float64, 33)}
		for i := range e.Delays {
			e.Delays[i] = full.Array.Elements[i].X * math.Sin(angle) / steel.Longitudinal
			e.Weights[i] = weight
		}
		return e
	}
	events := func(list ...fmc.Event) *fmc.Capture {
		c := *full
		c.Events, c.Pairs, c.Data = list, fmc.EventPairs(len(list), 33), nil
		return check.Must(fmc.New(c))
	}
	for _, test := range []struct {
		name string
		view string
		a, b *fmc.Capture
	}{
		{"half matrix", "L-L", full, half},
		{"half matrix, two paths", "LL-L", full, half},
		{"event of no strength", "L-L", events(wave(0.1, 1), wave(-0.1, 1)), events(wave(0.1, 1), wave(0, 1e-9), wave(-0.1, 1))},
	} {
		at := r3.Vec{X: 0.3e-3, Z: 30e-3}
		a := check.Must(check.Must(quality.NewSpread(test.a, setup, test.view, nil)).At(at))
		b := check.Must(check.Must(quality.NewSpread(test.b, setup, test.view, nil)).At(at))
		for _, d := range []r3.Vec{{X: 1e-3}, {X: -2e-3, Z: 0.3e-3}, {Z: 0.5e-3}} {
			check.Within(t, test.name, a.Amplitude(d), b.Amplitude(d), 1e-6)
		}
	}
}

// TestLaterChanges: changes of the arguments do not change a Spread.
func TestLaterChanges(t *testing.T) {
	c, setup := contact(9, 0.6, nil)
	weights := make([]float32, 81)
	for i := range weights {
		weights[i] = 1
	}
	s := check.Must(quality.NewSpread(c, setup, "L-L", &quality.Options{Weights: weights}))
	width := func() float64 { return check.Must(s.At(r3.Vec{Z: 20e-3})).Width(r3.Vec{X: 1}, sizing.SixDB) }
	before := width()
	for i := range 9 {
		c.Array.Elements[i].X *= 2
	}
	clear(weights[9:])
	c.Pairs[0] = fmc.Pair{Tx: 3, Rx: 3}
	check.Within(t, "width after the changes", width(), before, 0)
}

// TestGrid compares with closed forms for narrow apertures: the losses of a reflector midway
// between pixels along the beam, and the steps that keep a loss.
func TestGrid(t *testing.T) {
	const wavelength = 5920 / 5e6
	for _, test := range []struct{ bandwidth, loss, step float64 }{ // step in wavelengths
		{0.6, 0.5, 0.2119}, {0.6, 1, 0.2997}, {0.6, 2, 0.4239}, {0.6, 3, 0.5192},
		{0.8, 2, 0.3179}, {1.0, 2, 0.2543},
	} {
		c, setup := contact(2, test.bandwidth, nil)
		s := spotAt(t, c, setup, 0, 150)
		tolerance := 0.01
		if test.bandwidth == 1 { // see TestPointSpread
			tolerance = 0.05
		}
		check.Within(t, "axial step", s.CoarsestStep(test.loss)/wavelength/test.step, 1, tolerance)
	}
	c, setup := contact(2, 0.6, nil)
	s := spotAt(t, c, setup, 0, 150)
	for _, test := range []struct{ parts, envelope, oscillating float64 }{
		{4, -0.696, math.Inf(-1)}, {5, -0.445, -10.200}, {8, math.NaN(), -3.010}, {10, math.NaN(), -1.841},
	} {
		pixel := wavelength / test.parts
		if test.envelope == test.envelope {
			check.Within(t, "loss of the envelope, dB", -s.GridLoss(0, pixel), test.envelope, 0.01)
		}
		// The picture of the rectified signal: its phase at half a pixel off, at the height of the
		// envelope.
		v := s.Value(r3.Vec{Z: pixel / 2})
		phase := math.Abs(real(v)) / s.Amplitude(r3.Vec{Z: pixel / 2})
		check.Within(t, "loss of the phase", phase, math.Pow(10, test.oscillating/20), 0.003)
	}
	c, setup = contact(16, 0.1, nil) // the closed form is for one frequency
	s = spotAt(t, c, setup, 0, 100)
	for _, test := range []struct{ loss, step float64 }{ // in λ·z/D
		{0.5, 0.2637945}, {1, 0.3719820}, {2, 0.5230004}, {3, 0.6367801},
	} {
		step := test.step * wavelength * 100e-3 / (16 * 0.6e-3)
		check.Within(t, "lateral loss, dB", s.GridLoss(step, 0), test.loss, 0.03*test.loss)
	}
	for _, loss := range []float64{0, -1, 7, math.NaN()} {
		if step := s.CoarsestStep(loss); !math.IsNaN(step) {
			t.Errorf("step %v for a loss of %v dB, want NaN", step, loss)
		}
	}
}

// TestGratingLobes compares with sums of Gaussian pulses that were computed independently, for a
// pitch of one wavelength, and with the places of the closed form.
func TestGratingLobes(t *testing.T) {
	const speed = 2999.9999 // λ is the pitch of 0.6 mm at 5 MHz, but for rounding
	for _, test := range []struct {
		name      string
		n         int
		bandwidth float64
		pairs     []fmc.Pair
		level     float64
	}{
		{"one-way, 64 elements", 64, 0.6, fmc.SparsePairs([]int{0}, 64), -31.96},
		{"full matrix, 64 elements", 64, 0.6, fmc.FullPairs(64), -32.01},
		{"half matrix, 64 elements", 64, 0.6, fmc.HalfPairs(64), -32.01},
		{"one-way, 16 elements", 16, 0.6, fmc.SparsePairs([]int{0}, 16), -19.92},
		{"full matrix, 16 elements", 16, 0.6, fmc.FullPairs(16), -20.13},
		{"one-way, 64 elements, 30 %", 64, 0.3, fmc.SparsePairs([]int{0}, 64), -26.14},
		{"full matrix, 64 elements, 30 %", 64, 0.3, fmc.FullPairs(64), -26.27},
		{"one-way, 16 elements, 30 %", 16, 0.3, fmc.SparsePairs([]int{0}, 16), -14.10},
		{"full matrix, 16 elements, 30 %", 16, 0.3, fmc.FullPairs(16), -14.63},
	} {
		c, _ := contact(test.n, test.bandwidth, test.pairs)
		lobes, err := quality.GratingLobes(c, speed, 0, wide(5e6, c.SampleRate))
		if err != nil {
			t.Fatal(err)
		}
		if len(lobes) != 2 {
			t.Fatalf("%s: %d lobes, want 2, along the surface", test.name, len(lobes))
		}
		for i, angle := range []float64{-math.Pi / 2, math.Pi / 2} {
			check.Within(t, test.name+": angle", lobes[i].Angle, angle, 1e-3)
			deviation := test.bandwidth / math.Sqrt(8*math.Ln2) // of the spectrum, as a share
			check.Within(t, test.name+": peak", math.Abs(math.Sin(lobes[i].Peak)), 1/(1+deviation*deviation), 0.011)
			check.Within(t, test.name+": level", lobes[i].LevelDB, test.level, 0.03)
		}
	}
	own := make([]fmc.Pair, 16)
	for i := range own {
		own[i] = fmc.Pair{Tx: i, Rx: i}
	}
	for _, test := range []struct {
		name                string
		pairs               []fmc.Pair
		speed, steer, first float64 // degrees
		count               int
	}{
		{"own echoes: half of λ/pitch", own, 2999.9999, 0, -90, 4},
		{"pitch 0.6, λ 0.651, 45°", nil, 3255, 45, -22.20324, 1},
		{"no lobe below half a wavelength", nil, 6010, 90, math.NaN(), 0},
	} {
		c, _ := contact(16, 0.6, test.pairs)
		lobes, err := quality.GratingLobes(c, test.speed, test.steer*math.Pi/180, tfm.Band{})
		if err != nil {
			t.Fatal(err)
		}
		if len(lobes) != test.count {
			t.Fatalf("%s: %d lobes, want %d", test.name, len(lobes), test.count)
		}
		if test.count > 0 {
			check.Within(t, test.name, lobes[0].Angle*180/math.Pi, test.first, 0.02)
		}
	}
}

// TestPairs: the numbers of pairs that a square array of 16 × 16 and a row-column array need.
func TestPairs(t *testing.T) {
	for _, test := range []struct{ got, want int }{
		{len(fmc.FullPairs(256)), 65536}, {len(fmc.HalfPairs(256)), 32896}, {len(fmc.EventPairs(128, 256)), 32768},
	} {
		if test.got != test.want {
			t.Errorf("%d pairs, want %d", test.got, test.want)
		}
	}
}

// rayleigh returns n amplitudes at equally spaced levels of the distribution function of Rayleigh
// amplitudes of a mean power.
func rayleigh(n int, power float64) []float32 {
	values := make([]float32, n)
	for i := range values {
		values[i] = float32(math.Sqrt(-power * math.Log(1-(float64(i)+0.5)/float64(n))))
	}
	return values
}

// TestContrast compares with closed forms of Rayleigh amplitudes.
func TestContrast(t *testing.T) {
	const n = 20000
	for _, test := range []struct{ power, gcnr float64 }{ // C^(-1/(C-1)) - C^(-C/(C-1))
		{1.5, 0.148148148}, {2, 0.25}, {4, 0.472470394}, {10, 0.696837314}, {100, 0.945002972},
	} {
		c := check.Must(quality.NewContrast(rayleigh(n, test.power), rayleigh(n, 1)))
		check.Within(t, fmt.Sprintf("GCNR of a power ratio of %v", test.power), c.GCNR, test.gcnr, 0.007)
		check.Within(t, "ratio, dB", c.RatioDB, 10*math.Log10(test.power), 1e-3)
	}
	for _, test := range []struct{ ratio, cnr float64 }{{2, 0.855545717}, {10, 1.713207812}} {
		c := check.Must(quality.NewContrast(rayleigh(n, test.ratio*test.ratio), rayleigh(n, 1)))
		check.Within(t, "CNR of Rayleigh amplitudes", c.CNR, test.cnr, 1e-3)
	}
	first, second := rayleigh(1000, 3), rayleigh(700, 1)
	before := check.Must(quality.NewContrast(first, second))
	for _, region := range [][]float32{first, second} {
		for i, v := range region {
			region[i] = v * v * v
		}
	}
	after := check.Must(quality.NewContrast(first, second))
	if before.GCNR != after.GCNR {
		t.Errorf("GCNR %v, of cubes %v: want no change", before.GCNR, after.GCNR)
	}
	if before.CNR == after.CNR {
		t.Error("CNR of the cubes is the CNR of the amplitudes: want a change")
	}
	rng := rand.New(rand.NewPCG(3, 4))
	const few = 400
	var random [2][]float32
	for i := range random {
		for range few {
			random[i] = append(random[i], float32(rng.ExpFloat64()))
		}
	}
	bias := check.Must(quality.NewContrast(random[0], random[1]))
	check.Within(t, "GCNR of 400 random amplitudes of the same region", bias.GCNR, 0.1, 0.04)
	same := check.Must(quality.NewContrast(first, first))
	check.Within(t, "GCNR of equal regions", same.GCNR, 0, 1e-12)
	apart := check.Must(quality.NewContrast([]float32{1, 2}, []float32{4, 5}))
	check.Within(t, "GCNR of regions without common amplitudes", apart.GCNR, 1, 1e-12)
}

// TestAveragingGain: independent noise falls by √n, drift does not fall.
func TestAveragingGain(t *testing.T) {
	const samples = 4000
	rng := rand.New(rand.NewPCG(1, 2))
	for _, test := range []struct {
		name  string
		drift float64
		gain  func(n float64) float64 // dB
	}{
		{"independent", 0, func(n float64) float64 { return 10 * math.Log10(n) }},
		// Averages of n frames of a ramp of slope d differ by n·d: rms n·d/√2, of a frame d/√2.
		{"drift alone", 1e6, func(n float64) float64 { return -20 * math.Log10(n) }},
	} {
		frames := make([]*fmc.Capture, 16)
		for i := range frames {
			frames[i] = &fmc.Capture{Data: make([]float32, samples), Samples: samples, Pairs: fmc.FullPairs(1), SampleRate: 1}
			for k := range frames[i].Data {
				frames[i].Data[k] = float32(rng.NormFloat64() + 100*math.Sin(float64(k)) + test.drift*float64(i))
			}
		}
		gains, err := quality.AveragingGain(frames)
		if err != nil {
			t.Fatal(err)
		}
		if len(gains) != 4 {
			t.Fatalf("%d averages, want 1, 2, 4 and 8 frames", len(gains))
		}
		for i, g := range gains {
			n := math.Pow(2, float64(i))
			check.Within(t, "frames", float64(g.Frames), n, 0)
			check.Within(t, test.name+": ideal", g.IdealDB, 10*math.Log10(n), 1e-12)
			check.Within(t, fmt.Sprintf("%s: gain of %v", test.name, n), g.GainDB, test.gain(n), 0.2)
		}
		if test.drift == 0 {
			check.Within(t, "noise of a frame", gains[0].Noise, 1, 0.02)
		}
	}
}

// TestNoiseGain compares with closed forms for white noise: the sum of N² traces has N times the
// noise of a trace, so the signal gains 20·log10 N dB over one trace. A half matrix has
// 10·log10(2 - 1/N) dB more noise than a full matrix.
func TestNoiseGain(t *testing.T) {
	const n, samples, rate = 16, 700, 50e6
	full, setup := contact(n, 0.6, nil)
	g := check.Must(tfm.NewSection(-12e-3, 12e-3, 5e-3, 35e-3, 0.3e-3))
	level := make(map[string]float64)
	for name, pairs := range map[string][]fmc.Pair{"full": fmc.FullPairs(n), "half": fmc.HalfPairs(n)} {
		rng := rand.New(rand.NewPCG(5, 6))
		c := check.Must(fmc.New(fmc.Capture{Array: full.Array, Pairs: pairs, Samples: samples, SampleRate: rate}))
		for i := range c.Data {
			c.Data[i] = float32(rng.NormFloat64())
		}
		plan := check.Must(tfm.PlanView(t.Context(), c, setup, "L-L", g, nil))
		image := check.Must(plan.Image(t.Context(), c))
		level[name] = check.Must(sizing.EstimateNoise(image.Envelope(nil))).Level
		if name == "full" {
			filter := check.Must(tfm.NewAnalytic(samples, rate, tfm.DefaultBand(5e6, 0.6, rate)))
			power := 0.0
			signal := make([]complex64, samples)
			for p := range pairs {
				if err := filter.Transform(signal, c.Trace(p)); err != nil {
					t.Fatal(err)
				}
				for _, v := range signal {
					power += (float64(real(v))*float64(real(v)) + float64(imag(v))*float64(imag(v))) / samples / n / n
				}
			}
			level["trace"] = math.Sqrt(power)
		}
	}
	check.Within(t, "noise of the picture over a trace, dB", sizing.LevelDB(level["full"], level["trace"]), 20*math.Log10(n), 0.5)
	check.Within(t, "noise of the half matrix over the full matrix, dB", sizing.LevelDB(level["half"], level["full"]), 10*math.Log10(2-1.0/n), 0.6)
}
