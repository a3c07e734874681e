// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/transmit"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/wedge"
)

// withEcho adds the echo of a point at pixel at to c, with the given amplitude.
func withEcho(c *fmc.Capture, tx, rx *wedge.Times, at int, amplitude float64) *fmc.Capture {
	for i, pair := range c.Pairs {
		arrival := float64(tx.Seconds[pair.Tx*tx.Points+at]) + float64(rx.Seconds[pair.Rx*rx.Points+at])
		if math.IsNaN(arrival) {
			continue
		}
		trace := c.Trace(i)
		for k := range trace {
			s := c.Time(k) - arrival
			trace[k] += float32(amplitude * math.Exp(-s*s*2e13) * math.Cos(2*math.Pi*5e6*s+0.7))
		}
	}
	return c
}

// differences returns the largest and the root-mean-square difference from a measure, at pixels of
// at least 24 channels.
func differences(got []float32, channels [][]complex128, want []float64) (worst, rms float64) {
	for p, v := range got {
		if len(channels[p]) < 24 {
			continue
		}
		d := math.Abs(float64(v) - want[p])
		if !(d <= worst) {
			worst = d
		}
		rms += d * d / float64(len(want))
	}
	return worst, math.Sqrt(rms)
}

// coherenceOf returns the measure of each pixel by its definition.
func coherenceOf(channels [][]complex128, m Coherence, gamma float64) []float64 {
	want := make([]float64, len(channels))
	for p, c := range channels {
		want[p] = m.Of(c, gamma)
	}
	return want
}

// coherenceBounds holds the documented differences from the definition for 8 elements and 10
// samples a period: the largest and the root mean square. The largest difference is not bounded
// where a coherent echo has the phase of a jump of the function.
var coherenceBounds = map[Coherence][2]float64{
	CoherenceFactor:         {0.02, 0.003},
	SignCoherence:           {1, 0.08},
	PhaseCoherence:          {1, 0.08},
	AuxiliaryPhaseCoherence: {0.25, 0.02},
	VectorCoherence:         {0.06, 0.01},
	CircularCoherence:       {0.1, 0.01},
}

// TestCoherenceOfImages compares each measure of images with its definition, for all layouts and
// kernels.
func TestCoherenceOfImages(t *testing.T) {
	g := check.Must(NewSection(-3e-3, 3e-3, 8e-3, 14e-3, 0.35e-3))
	array := randomCapture(1, 8, 4, fmc.FullPairs(8)).Array
	waves := check.Must(transmit.PlaneWaves(array, 5920, []r3.Vec{{X: -0.3, Z: math.Sqrt(0.91)}, {X: -0.1, Z: math.Sqrt(0.99)}, {Z: 1}, {X: 0.2, Z: math.Sqrt(0.96)}, {X: 0.1, Z: math.Sqrt(0.99)}, {X: 0.3, Z: math.Sqrt(0.91)}}))
	list := fmc.FullPairs(8)[10:55]
	for _, test := range []struct {
		name, reason string
		pairs        []fmc.Pair
		view         string
		events       bool
		samples      int
		first        float64 // s
	}{
		{"full", "both directions are two channels of one trace", fmc.FullPairs(8), "L-L", false, 500, 1.2e-6},
		{"half", "a trace is two channels", fmc.HalfPairs(8), "L-L", false, 500, 1.2e-6},
		{"list", "some traces have two directions", list, "L-L", false, 500, 1.2e-6},
		{"two paths", "each direction has its own delays", fmc.FullPairs(8), "L-T", false, 800, 1.2e-6},
		{"half, two paths", "a trace is read at two delays", fmc.HalfPairs(8), "L-T", false, 800, 1.2e-6},
		{"events", "a channel is an event and a receiver", nil, "L-L", true, 500, 1.2e-6},
		{"ends of the record", "pixels have fewer channels", fmc.FullPairs(8), "L-L", false, 90, 2.9e-6},
	} {
		if testing.Short() && test.name != "full" && test.name != "half, two paths" && test.name != "ends of the record" {
			continue
		}
		t.Run(test.name, func(t *testing.T) {
			pairs := test.pairs
			if test.events {
				pairs = fmc.EventPairs(len(waves), 8)
			}
			c := randomCapture(80, 8, test.samples, fmc.FullPairs(8))
			c.FirstSample = test.first
			c.Pairs, c.Data = pairs, c.Data[:len(pairs)*test.samples]
			tx, rx := tables(plate(), test.view, c, g)
			if test.events {
				c.Events = waves
				tx = check.Must(EventTimes(background, c, tx, nil))
			}
			withEcho(c, tx, rx, 8*g.Cols+9, 4)
			options := Options{Weights: make([]float32, len(pairs))}
			for i := range options.Weights {
				options.Weights[i] = []float32{1, 1, 1, 0.7, 0, 2, -1}[i%7]
			}
			if test.name != "list" {
				options.Weights = nil
			}
			want := channels(t, c, g, tx, rx, options)
			plain := doubleLoop(t, c, g, tx, rx, options)
			for _, m := range measures {
				t.Run(m.String(), func(t *testing.T) {
					eachKernel(t, func(t *testing.T, o Options, tolerance float64) {
						o.Weights, o.Coherence = options.Weights, m
						got := check.Must(check.Must(NewPlan(c, g, tx, rx, &o)).Image(background, c))
						bound := coherenceBounds[m]
						if worst, rms := differences(got.Coherence, want, coherenceOf(want, m, 1)); !(worst <= bound[0] && rms <= bound[1]) {
							t.Errorf("differs by %.4f, %.4f in the mean square; want %v", worst, rms, bound)
						}
						if test.name != "ends of the record" { // where rounding moves a channel across the end
							wantImage(t, got.Data, plain, 2*tolerance)
						}
					})
				})
			}
		})
	}
}

// TestCoherenceFloor checks the mean of each measure over images of noise. A half matrix has each
// channel twice, so its floor is almost the floor of half as many channels.
func TestCoherenceFloor(t *testing.T) {
	const n = 12
	m := float64(n * n)
	for _, test := range []struct {
		measure Coherence
		law     float64 // of the mean, for m channels
		within  float64 // share of the law: interpolation lowers the floor
	}{
		{CoherenceFactor, 1 / m, 0.1},
		{SignCoherence, 1 / (2 * m), 0.2},
		{CircularCoherence, 1 / (2 * m), 0.12},
		{VectorCoherence, math.Sqrt(math.Pi / (4 * m)), 0.07},
		{PhaseCoherence, 0.2078 / math.Sqrt(m), 0.16},          // 0.02758 at 64, 0.01836 at 128: 0.2207 and 0.2077 of 1/√M
		{AuxiliaryPhaseCoherence, 0.4035 / math.Sqrt(m), 0.12}, // 0.03564 at 128
	} {
		mean := func(pairs []fmc.Pair) float64 {
			c := randomCapture(90, n, 1500, pairs)
			// Pixels a wavelength apart are almost independent.
			g := check.Must(NewSection(-8e-3, 8e-3, 8e-3, 68e-3, 0.8e-3))
			tx, rx := tables(plate(), "L-L", c, g)
			plan := check.Must(NewPlan(c, g, tx, rx, &Options{Coherence: test.measure}))
			sum := 0.0
			for _, v := range check.Must(plan.Image(background, c)).Coherence {
				sum += float64(v) / float64(g.Len())
			}
			return sum
		}
		check.Within(t, fmt.Sprintf("floor of %v, share of the law", test.measure), mean(fmc.FullPairs(n))/test.law, 1, test.within)
		if test.measure == CoherenceFactor {
			// E Σ|s|² has M terms, E|Σ|² has 4 for each of n(n-1)/2 pairs and 1 for n others.
			check.Within(t, "floor of the factor of a half matrix", mean(fmc.HalfPairs(n))*m, (2*float64(n*n-n)+n)/m, 0.15)
		}
	}
}

// TestCoherenceInvariance checks what changes of a capture leave the coherence as it is.
func TestCoherenceInvariance(t *testing.T) {
	g := check.Must(NewSection(-3e-3, 3e-3, 8e-3, 12e-3, 0.2e-3))
	frame := func() *fmc.Capture { return randomCapture(91, 6, 800, fmc.FullPairs(6)) }
	image := func(c *fmc.Capture, g Grid, view string, o Options) *Image {
		tx, rx := tables(plate(), view, c, g)
		return check.Must(check.Must(NewPlan(c, g, tx, rx, &o)).Image(background, c))
	}
	for _, m := range measures {
		for _, precision := range []Precision{Single, Fixed16} {
			o := Options{Coherence: m, Precision: precision}
			want := image(frame(), g, "L-T", o)
			for _, test := range []struct {
				name   string
				change func(c *fmc.Capture, g *Grid, view *string)
				within float64
			}{
				{"amplification", func(c *fmc.Capture, _ *Grid, _ *string) { scale(c, 1e6) }, 2e-3},
				{"attenuation", func(c *fmc.Capture, _ *Grid, _ *string) { scale(c, 1e-6) }, 2e-3},
				{"translation", func(c *fmc.Capture, g *Grid, _ *string) {
					for i := range c.Array.Elements {
						c.Array.Elements[i].X += 0.125
					}
					g.Origin.X += 0.125
				}, 5e-3},
				{"reciprocity: pairs and view reversed", func(c *fmc.Capture, _ *Grid, view *string) {
					*view = "T-L"
					for i, pair := range c.Pairs {
						c.Pairs[i] = pair.Reciprocal()
					}
				}, 2e-3},
			} {
				c, moved, view := frame(), g, "L-T"
				test.change(c, &moved, &view)
				got := image(c, moved, view, o)
				for p, v := range want.Coherence {
					check.Within(t, fmt.Sprintf("%v, %v, %s, pixel %d", m, precision, test.name, p), float64(got.Coherence[p]), float64(v), test.within)
				}
			}
			// A change of sign leaves all but the wrapped phases exactly as they are.
			c := frame()
			scale(c, -1)
			for p, v := range image(c, g, "L-T", o).Coherence {
				if m != PhaseCoherence {
					check.Within(t, fmt.Sprintf("%v, %v, inverted, pixel %d", m, precision, p), float64(v), float64(want.Coherence[p]), 2e-3)
				}
			}
			// The amplitudes stay linear.
			plain := image(frame(), g, "L-T", Options{Precision: precision})
			if precision == Single && !slices.Equal(plain.Data, want.Data) {
				t.Errorf("%v changes the amplitudes of a view of two paths", m)
			}
		}
	}
}

// scale multiplies the samples of c.
func scale(c *fmc.Capture, by float32) {
	for i := range c.Data {
		c.Data[i] *= by
	}
}

// TestFaintCoherence checks that a strong echo elsewhere in the image does not spoil the coherence
// factor of a weak echo in 16 bits.
func TestFaintCoherence(t *testing.T) {
	c := randomCapture(92, 8, 700, fmc.FullPairs(8))
	scale(c, 1e-2)
	g := check.Must(NewSection(-4e-3, 4e-3, 6e-3, 20e-3, 0.2e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	weak, strong := 10*g.Cols+20, 60*g.Cols+20
	withEcho(withEcho(c, tx, rx, weak, 1), tx, rx, strong, 1e3) // 60 dB apart
	want := coherenceOf(channels(t, c, g, tx, rx, Options{}), CoherenceFactor, 1)
	eachKernel(t, func(t *testing.T, o Options, _ float64) {
		o.Coherence = CoherenceFactor
		got := check.Must(check.Must(NewPlan(c, g, tx, rx, &o)).Image(background, c))
		check.Within(t, "factor at the weak echo", float64(got.Coherence[weak]), want[weak], 0.03)
	})
	if !(want[weak] > 0.9) {
		t.Errorf("the weak echo has the factor %v, want a coherent echo", want[weak])
	}
}

// TestCoherenceWorkers checks that coherences have the same bits for any number of workers, in
// bands and in a second frame, and that frames allocate nothing.
func TestCoherenceWorkers(t *testing.T) {
	c := randomCapture(93, 6, 700, fmc.FullPairs(6))
	g := check.Must(NewSection(-3e-3, 3e-3, 1e-3, 9.1e-3, 0.3e-3))
	transmit, receive, err := steelTimer(c)(background, g.Points())
	if err != nil {
		t.Fatal(err)
	}
	for _, m := range measures {
		if testing.Short() && m != CoherenceFactor && m != AuxiliaryPhaseCoherence {
			continue
		}
		eachKernel(t, func(t *testing.T, o Options, _ float64) {
			o.Coherence, o.Workers = m, 1
			want := check.Must(check.Must(NewPlan(c, g, transmit, receive, &o)).Image(background, c))
			o.Workers = 3
			s, got := check.Must(NewPlan(c, g, transmit, receive, &o)).NewScratch(), NewImage(g)
			frame := func() {
				if err := s.Reconstruct(background, got, c.Data); err != nil {
					t.Fatal(err)
				}
			}
			frame()
			if n := testing.AllocsPerRun(5, frame); n != 0 {
				t.Errorf("%v: %v allocations a frame, want none", m, n)
			}
			if !slices.Equal(got.Coherence, want.Coherence) || !slices.Equal(got.Data, want.Data) {
				t.Errorf("%v: three workers give another image than one", m)
			}
			if o.Precision == Single {
				fixed, row := check.Must(NewBands(c, g, steelTimer(c), 1e9, &o)).bytes()
				bands := check.Must(NewBands(c, g, steelTimer(c), fixed+11*row, &o))
				if part := check.Must(bands.Images(background, c))[0]; !slices.Equal(part.Coherence, want.Coherence) {
					t.Errorf("%v: bands give another coherence than one plan", m)
				}
			}
		})
	}
}

func TestCoherenceEnvelopes(t *testing.T) {
	g := check.Must(NewSection(0, 1e-3, 1e-3, 1e-3, 1e-3))
	im := &Image{Grid: g, Data: []complex64{3 + 4i, 2}, Coherence: []float32{0.25, 1}, States: []State{Clipped, 0}}
	weighted := check.Must(im.WeightedEnvelope(nil, 1))
	root := check.Must(im.WeightedEnvelope(nil, 0.5))
	alone := check.Must(im.CoherenceEnvelope(nil))
	for _, test := range []struct {
		name     string
		got      *Envelope
		data     []float32
		quantity Quantity
	}{
		{"plain", im.Envelope(nil), []float32{5, 2}, Amplitude},
		{"weighted", weighted, []float32{1.25, 2}, WeightedAmplitude},
		{"root of the weight", root, []float32{2.5, 2}, WeightedAmplitude},
		{"alone", alone, []float32{0.25, 1}, CoherenceAlone},
		{"reused", im.Envelope(check.Must(im.CoherenceEnvelope(nil))), []float32{5, 2}, Amplitude},
		{"section", weighted.Section(0), []float32{1.25, 2}, WeightedAmplitude},
	} {
		if !slices.Equal(test.got.Data, test.data) || test.got.Quantity != test.quantity || test.got.States[0] != Clipped {
			t.Errorf("%s: %v, %v, states %v; want %v, %v", test.name, test.got.Data, test.got.Quantity, test.got.States, test.data, test.quantity)
		}
	}
	for _, exponent := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err := im.WeightedEnvelope(nil, exponent)
		check.Error(t, err, "exponent", "above 0")
	}
	im.Coherence = nil
	_, err := im.WeightedEnvelope(nil, 1)
	check.Error(t, err, "0 coherences", "Options.Coherence")
	_, err = im.CoherenceEnvelope(nil)
	check.Error(t, err, "0 coherences", "Options.Coherence")
}

func TestBadCoherence(t *testing.T) {
	c := randomCapture(94, 3, 100, fmc.FullPairs(3))
	g := check.Must(NewSection(-3e-3, 3e-3, 3e-3, 5e-3, 0.5e-3))
	tx, rx := tables(plate(), "L-L", c, g)
	for _, test := range []struct {
		name    string
		options Options
		words   []string
	}{
		{"unknown measure", Options{Coherence: 7}, []string{"Coherence(7)"}},
		{"gamma below 0", Options{Coherence: PhaseCoherence, PhaseGamma: -1}, []string{"gamma", "-1", "above 0"}},
		{"gamma NaN", Options{PhaseGamma: math.NaN()}, []string{"gamma", "NaN"}},
	} {
		_, err := NewPlan(c, g, tx, rx, &test.options)
		check.Error(t, err, test.words...)
	}
	p := check.Must(NewPlan(c, g, tx, rx, &Options{Coherence: CoherenceFactor}))
	scale(c, 1e18)
	_, err := p.Image(background, c)
	check.Error(t, err, "1e+15", "coherence")
	scale(c, 1e-18)
	c.Data[450] = float32(math.NaN())
	_, err = p.Image(background, c)
	check.Error(t, err, "sample")
}

// TestCoherenceAlongBeam: along the beam all channels of one point agree, so no measure shortens
// its echo. The narrow aperture is the worst case of interpolation, because all channels lie midway
// between samples at the same pixels (COHERENCE.md).
func TestCoherenceAlongBeam(t *testing.T) {
	c := randomCapture(95, 4, 800, fmc.FullPairs(4))
	scale(c, 0)
	c.FirstSample = 10e-6
	g := check.Must(NewSection(0, 0, 50e-3, 52e-3, 0.05e-3))
	tx, rx := tables(check.Must(wedge.NewPlate(nil, plate().Part, 80e-3)), "L-L", c, g)
	withEcho(c, tx, rx, 20, 1000)
	for _, m := range []Coherence{CoherenceFactor, VectorCoherence} {
		im := check.Must(check.Must(NewPlan(c, g, tx, rx, &Options{Coherence: m})).Image(background, c))
		e := im.Envelope(nil)
		peak, _ := e.Peak()
		within := 0
		for p, v := range e.Data {
			if v >= peak/2 {
				within++
				check.Within(t, fmt.Sprintf("%v, pixel %d", m, p), float64(im.Coherence[p]), 1, 0.04)
			}
		}
		if within < 8 {
			t.Errorf("%d pixels within 6 dB", within)
		}
	}
}
