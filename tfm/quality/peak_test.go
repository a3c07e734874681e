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
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

// TestShift delays the transmitters and the receivers of each scene. It images the delayed capture
// with the times of the capture without delays, and compares the shift of the peak.
func TestShift(t *testing.T) {
	for i, s := range scenes() {
		if s.events != nil || testing.Short() && i%2 == 1 {
			continue
		}
		rng := rand.New(rand.NewPCG(7, uint64(i)))
		at := r3.Vec{X: (s.x[0] + s.x[1]) / 2, Z: (s.z[0] + s.z[1]) / 2}
		c := check.Must(synth.Synthesise(t.Context(), &synth.Scene{
			Setup: *s.setup, Array: s.array, Dimension: wedge.Section,
			Reflectors: []synth.Reflector{synth.Point{Position: at, Strength: 1e-3}},
			Views:      []wedge.View{check.Must(wedge.ParseView(s.view))},
		}, synth.Recording{Pairs: s.pairs, Samples: 4000, SampleRate: 100e6}))
		spot := check.Must(check.Must(quality.NewSpread(c, s.setup, s.view, &quality.Options{Dimension: wedge.Section})).At(at))
		// Whole samples: a tilt and a bend of the delays over the array, and a constant.
		n := float64(len(s.array.Elements) - 1)
		delays := make([]int, len(s.array.Elements))
		tilt, bend, constant := 4*rng.Float64()-2, 2*rng.Float64()-1, 6*rng.Float64()-3
		for e := range delays {
			u := 2*float64(e)/n - 1
			delays[e] = int(math.Round(tilt*u + bend*u*u + constant))
		}
		delayed := *c
		delayed.Data = make([]float32, len(c.Data))
		for p, pair := range c.Pairs {
			lag := delays[pair.Tx] + delays[pair.Rx]
			trace := c.Trace(p)
			for k := max(lag, 0); k < c.Samples+min(lag, 0); k++ {
				delayed.Data[p*c.Samples+k] = trace[k-lag]
			}
		}
		peak := check.Must(spot.Peak())
		want := peak.Shift(func(tx, rx int) float64 { return float64(delays[tx]+delays[rx]) / c.SampleRate })
		m := check.Must(spot.Measure(sizing.SixDB))
		check.Within(t, s.name+": x of the peak", at.X+peak.Offset.X, m.X, 0.005*m.Length)
		check.Within(t, s.name+": z of the peak", at.Z+peak.Offset.Z, m.Z, 0.005*m.Length)
		half, step := 1.2*m.Length+0.3e-3, m.Width/10
		before := measure(t, c, s.setup, s.view, at, half, step)
		after := measure(t, &delayed, s.setup, s.view, at, half, step)
		t.Logf("%s: shift (%.3f, %.3f) mm, predicted (%.3f, %.3f) mm", s.name, (after.X-before.X)*1e3, (after.Z-before.Z)*1e3, want.X*1e3, want.Z*1e3)
		if s.view == "L-L" || s.view == "T-T" { // both directions of a pair take the same time
			opposite := peak.Shift(func(tx, rx int) float64 { return 1e-9 * float64(tx-rx) })
			if s.pairs == nil || len(s.pairs) == len(fmc.HalfPairs(24)) {
				check.Within(t, s.name+": shift by opposite delays", r3.Norm(opposite), 0, 1e-15)
			}
		}
		tolerance := 0.05*r3.Norm(want) + 0.01*m.Length
		check.Within(t, s.name+": shift along x", after.X-before.X, want.X, tolerance)
		check.Within(t, s.name+": shift along z", after.Z-before.Z, want.Z, tolerance)
	}
}

// TestScatter compares the predicted scatter of a peak in noise with captures of different noise.
func TestScatter(t *testing.T) {
	array := check.Must(fmc.LinearArray(10, 0.8e-3, fmc.Array{Width: 0.6e-3, CentreFrequency: 4e6, Bandwidth: 0.6}))
	plate := check.Must(wedge.NewPlate(nil, steel, 25e-3))
	at := r3.Vec{X: 3e-3, Z: 10e-3}
	for _, pairs := range [][]fmc.Pair{fmc.FullPairs(10), fmc.HalfPairs(10)} {
		clean := check.Must(synth.Synthesise(t.Context(), &synth.Scene{
			Setup: *plate, Array: array, Dimension: wedge.Section,
			Reflectors: []synth.Reflector{synth.Point{Position: at, Strength: 1e-3}},
			Views:      []wedge.View{check.Must(wedge.ParseView("L-L"))},
		}, synth.Recording{Pairs: pairs, Samples: 200, SampleRate: 40e6, FirstSample: 2e-6}))
		spot := check.Must(check.Must(quality.NewSpread(clean, plate, "L-L", &quality.Options{Dimension: wedge.Section})).At(at))
		m := check.Must(spot.Measure(sizing.SixDB))
		g := check.Must(tfm.NewSection(at.X-0.6*m.Length, at.X+0.6*m.Length, at.Z-0.6*m.Length, at.Z+0.6*m.Length, m.Width/8))
		plan := check.Must(tfm.PlanView(t.Context(), clean, plate, "L-L", g, nil))
		image := func(c *fmc.Capture) *tfm.Envelope { return check.Must(plan.Image(t.Context(), c)).Envelope(nil) }
		top := check.Must(sizing.Find(image(clean), &sizing.Options{Floor: -3}))[0]

		trials := 100
		if testing.Short() {
			trials = 40
		}
		var power, xx, xz, zz float64
		level := 0.0
		for seed := range trials {
			noisy := check.Must(synth.Receiver{Noise: 0.3, Seed: uint64(seed)}.Record(clean))
			for k, v := range noisy.Data {
				noisy.Data[k] = v - clean.Data[k]
			}
			for _, v := range image(noisy).Data {
				power += float64(v) * float64(v) / float64(len(g.Points())*trials)
			}
			for k, v := range clean.Data {
				noisy.Data[k] += v
			}
			in := check.Must(sizing.Find(image(noisy), &sizing.Options{Floor: -3}))[0]
			dx, dz := in.X-top.X, in.Z-top.Z
			xx, xz, zz = xx+dx*dx/float64(trials), xz+dx*dz/float64(trials), zz+dz*dz/float64(trials)
			level = top.Amplitude / math.Sqrt(power/float64(seed+1)*float64(trials))
		}
		wantXX, wantXZ, wantZZ := check.Must(spot.Peak()).Scatter(sizing.LevelDB(level, 1))
		name := fmt.Sprintf("%d pairs, SNR %.1f dB", len(pairs), sizing.LevelDB(level, 1))
		t.Logf("%s: %.3g %.3g %.3g, predicted %.3g %.3g %.3g m²", name, xx, xz, zz, wantXX, wantXZ, wantZZ)
		// The standard deviation of a variance over n trials is its √(2/n).
		relative := 3 * math.Sqrt(2/float64(trials))
		check.Within(t, name+": variance along x", xx/wantXX, 1, relative)
		check.Within(t, name+": variance along z", zz/wantZZ, 1, relative)
		check.Within(t, name+": correlation", xz/math.Sqrt(xx*zz), wantXZ/math.Sqrt(wantXX*wantZZ), relative/1.4)
	}
}

// TestScatterBound compares with the Cramér-Rao bound of a place, from the bound of a delay:
//
//	σ_t ≥ 1/(2π·F·√(2E/N₀)),   F² = f² + (B·f/2.35482)²/2
//
// for a Gaussian pulse of the frequency f and the bandwidth B. At 5 MHz and 60 % F is 5.0805035
// MHz, and 20 dB give 3.13266 ns. For a full matrix of 64 elements, 0.6 mm apart, at the depth of
// 30 mm and with 2E/N₀ = 1 in each trace, the bound along x is 0.00554592 mm, in the paraxial
// approximation and with 5920 m/s (closed forms). The bound grows in proportion to the depth. Here
// the depth is 600 mm, where the approximation holds. The filter of the image is not a matched
// filter, so the scatter is 16 % larger.
func TestScatterBound(t *testing.T) {
	const n, pitch, depth, frequency, bandwidth, speed = 64, 0.6e-3, 0.6, 5e6, 0.6, 5920.0
	mean := math.Hypot(frequency, bandwidth*frequency/2.35482/math.Sqrt2)
	check.Printed(t, "F, MHz", mean*1e-6, "5.0805035")
	check.Printed(t, "bound of a delay at 20 dB, ns", 1e9/(2*math.Pi*mean*10), "3.13266")
	bound := 1 / (2 * math.Pi * mean * n * pitch * math.Sqrt((n*n-1)/6.0) / (30e-3 * speed))
	check.Printed(t, "bound along x at 30 mm, mm", bound*1e3, "0.00554592")
	bound *= depth / 30e-3

	array := check.Must(fmc.LinearArray(n, pitch, fmc.Array{Width: 0.5e-3, CentreFrequency: frequency, Bandwidth: bandwidth}))
	c := check.Must(fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(n), Samples: 1, SampleRate: 50e6, Data: make([]float32, n*n)}))
	part := steel
	part.Longitudinal = speed
	plate := check.Must(wedge.NewPlate(nil, part, 1))
	peak := check.Must(check.Must(check.Must(quality.NewSpread(c, plate, "L-L", &quality.Options{Uniform: true})).At(r3.Vec{Z: depth})).Peak())
	// With 2E/N₀ = 1 and the pulse exp(-t²/(2σ²)) the analytic noise of a trace in a band of the
	// width W has the variance 2·N₀·W = 4·E·W, and E = σ·√π/2. The image adds n² traces.
	sigma := math.Sqrt(2*math.Ln2) / (math.Pi * bandwidth * frequency)
	band := tfm.DefaultBand(frequency, bandwidth, 50e6)
	ratio := n * n / (2 * sigma * math.Sqrt(math.Pi) * (band.High - band.Low))
	xx, _, _ := peak.Scatter(10 * math.Log10(ratio))
	// A rectangular filter instead of a matched filter, with the mean squares of the frequencies
	// of its noise, of the amplitude spectrum of the pulse, and of its power spectrum (F²).
	width := band.High - band.Low
	noise, amplitude := frequency*frequency+width*width/12, frequency*frequency+math.Pow(bandwidth*frequency/2.35482, 2)
	excess := math.Sqrt(width * sigma * math.Sqrt(math.Pi) * noise * mean * mean / (amplitude * amplitude))
	check.Within(t, "scatter over the bound", math.Sqrt(xx)/bound, excess, 0.01*excess)
	if !(excess > 1) {
		t.Errorf("the bound is exceeded by a factor of %v, want above 1", excess)
	}
}

// TestPeaks checks that peaks at random places, in views with and without skips, are maxima.
func TestPeaks(t *testing.T) {
	for i, s := range scenes() {
		rng := rand.New(rand.NewPCG(8, uint64(i)))
		pairs := s.pairs
		switch {
		case s.events != nil:
			pairs = fmc.EventPairs(len(s.events), 24)
		case pairs == nil:
			pairs = fmc.FullPairs(24)
		}
		c := check.Must(fmc.New(fmc.Capture{Array: s.array, Events: s.events, Pairs: pairs, Samples: 1, SampleRate: 40e6, Data: make([]float32, len(pairs))}))
		for _, view := range []string{s.view, "TT-T", "L-T", "TT-TT"} {
			spread := check.Must(quality.NewSpread(c, s.setup, view, &quality.Options{Dimension: wedge.Section}))
			for n := range 4 {
				at := r3.Vec{X: s.x[0] + rng.Float64()*(s.x[1]-s.x[0]), Z: s.z[0] + rng.Float64()*(s.z[1]-s.z[0])}
				if s.name == "wedge" && n == 0 { // Newton steps without a limit diverge here
					at = r3.Vec{X: 0.02313901724033913, Z: 0.006807635165547252}
				}
				spot := check.Must(spread.At(at))
				peak, err := spot.Peak()
				if err != nil {
					t.Fatalf("%s, %s: %v", s.name, view, err)
				}
				top := spot.Amplitude(peak.Offset)
				for k := range 8 {
					sin, cos := math.Sincos(float64(k) * math.Pi / 4)
					beside := spot.Amplitude(r3.Add(peak.Offset, r3.Scale(spot.Wavelength/20, r3.Vec{X: cos, Z: sin})))
					if !(beside < top) {
						t.Errorf("%s, %s at (%.4f, %.4f) m: amplitude %v beside a peak of %v", s.name, view, at.X, at.Z, beside, top)
					}
				}
			}
		}
	}
}

// TestNoPeak checks spots without a maximum in the section.
func TestNoPeak(t *testing.T) {
	s := scenes()[0]
	c := check.Must(fmc.New(fmc.Capture{Array: s.array, Pairs: []fmc.Pair{{Tx: 3, Rx: 3}}, Samples: 1, SampleRate: 40e6, Data: make([]float32, 1)}))
	spot := check.Must(check.Must(quality.NewSpread(c, s.setup, s.view, nil)).At(r3.Vec{Z: 12e-3}))
	_, err := spot.Peak()
	check.Error(t, err, "no peak", "0.012")
}
