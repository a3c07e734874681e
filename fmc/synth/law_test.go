// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth_test

import (
	"context"
	"math"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

var (
	steel = material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	water = material.Isotropic{Density: 998, Longitudinal: 1482}
)

const degree = math.Pi / 180

// small returns an array of n elements that are small against the wavelength.
func small(t *testing.T, n int, pitch, frequency, bandwidth float64) fmc.Array {
	t.Helper()
	a, err := fmc.LinearArray(n, pitch, fmc.Array{Width: 1e-6, CentreFrequency: frequency, Bandwidth: bandwidth})
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func plate(t *testing.T, coupling *material.Isotropic, thickness float64) wedge.Setup {
	t.Helper()
	s, err := wedge.NewPlate(coupling, steel, thickness)
	if err != nil {
		t.Fatal(err)
	}
	return *s
}

func synthesise(t *testing.T, s synth.Scene, r synth.Recording) *fmc.Capture {
	t.Helper()
	c, err := synth.Synthesise(context.Background(), &s, r)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func peak(trace []float32) float64 {
	largest := 0.0
	for _, v := range trace {
		largest = max(largest, math.Abs(float64(v)))
	}
	return largest
}

func decibels(ratio float64) float64 { return 20 * math.Log10(ratio) }

var backWall = [][]material.Mode{{material.L, material.L}}

// TestWallTrace compares whole traces with their closed form: a plane back wall
// at T echoes at 2T/c with the amplitude 1/(2T), 1/√(2T) in a section, and a free
// surface turns the sign of the displacement along the ray.
func TestWallTrace(t *testing.T) {
	const thickness = 30e-3
	for _, row := range []struct {
		name      string
		dimension wedge.Dimension
		amplitude float64
	}{
		{"space", wedge.Space, 1 / (2 * thickness)},
		{"section", wedge.Section, 1 / math.Sqrt(2*thickness)},
	} {
		s := synth.Scene{Setup: plate(t, nil, thickness), Array: small(t, 1, 1e-3, 5e6, 0.4), Dimension: row.dimension, Walls: backWall}
		// The first sample is no multiple of the spacing, and within the pulse.
		c := synthesise(t, s, synth.Recording{Samples: 300, SampleRate: 50e6, FirstSample: 10.0137e-6})
		pulse := synth.PulseOf(s.Array)
		for k, got := range c.Trace(0) {
			want := -row.amplitude * pulse.At(c.Time(k)-2*thickness/steel.Longitudinal)
			if !(math.Abs(float64(got)-want) <= 3e-5*row.amplitude) {
				t.Fatalf("%s: sample %d: %v, want %v", row.name, k, got, want)
			}
		}
	}
}

// TestFrontTrace: water on steel reflects the displacement (Z₂ - Z₁)/(Z₂ + Z₁), by
// its sign along the ray, of impedances Z = ρc (ISO 16810, from memory).
func TestFrontTrace(t *testing.T) {
	array := small(t, 1, 1e-3, 5e6, 0.4)
	array.Elements[0].Z = -20e-3
	s := synth.Scene{Setup: plate(t, &water, 30e-3), Array: array, Front: true}
	c := synthesise(t, s, synth.Recording{Samples: 200, SampleRate: 50e6, FirstSample: 25e-6})
	z1, z2 := water.Density*water.Longitudinal, steel.Density*steel.Longitudinal
	pulse := synth.PulseOf(array)
	for k, got := range c.Trace(0) {
		want := (z2 - z1) / (z2 + z1) / 40e-3 * pulse.At(c.Time(k)-40e-3/water.Longitudinal)
		if !(math.Abs(float64(got)-want) <= 3e-5/40e-3) {
			t.Fatalf("sample %d: %v, want %v", k, got, want)
		}
	}
}

// TestEchoLaws compares with the far-field laws of echoes that DGS diagrams rest
// on, evaluated independently with mpmath 1.2.1: a disc of diameter d at depth s
// against the back wall at T has π·d²·T/(2λs²), a side-drilled hole √(d/(2s)) at
// s = T, and a sphere equals the disc of d² = λ·d_sphere/π. The band is narrow,
// because the disc's law goes with the frequency.
func TestEchoLaws(t *testing.T) {
	const frequency = 4e6 // λ = 1.48 mm
	array := small(t, 1, 1e-3, frequency, 0.05)
	down := r3.Vec{Z: -1}
	backWallAt := func(depth float64) float64 {
		s := synth.Scene{Setup: plate(t, nil, depth), Array: array, Walls: backWall}
		return peak(synthesise(t, s, synth.Recording{Samples: 9000, SampleRate: 100e6}).Data)
	}
	echo := func(r synth.Reflector) float64 {
		s := synth.Scene{Setup: plate(t, nil, 300e-3), Array: array, Reflectors: []synth.Reflector{r}, Views: parseViews(t, "L-L")}
		return peak(synthesise(t, s, synth.Recording{Samples: 9000, SampleRate: 100e6}).Data)
	}
	wall := backWallAt(100e-3)
	flat := func(depth, diameter float64) float64 {
		return echo(synth.FlatBottomHole{Position: r3.Vec{Z: depth}, Normal: down, Diameter: diameter})
	}
	hole := func(depth, diameter float64) float64 {
		return echo(synth.Hole{Z: depth, Diameter: diameter})
	}
	ball := func(depth, diameter float64) float64 {
		return echo(synth.Sphere{Position: r3.Vec{Z: depth}, Diameter: diameter})
	}
	for _, row := range []struct {
		name              string
		got, want, within float64 // dB
		reason            string
	}{
		{"disc 3 mm against the wall, both at 100 mm", flat(100e-3, 3e-3) / wall, -20.39799, 0.05, "closed form"},
		{"disc 2 mm against the wall, both at 100 mm", flat(100e-3, 2e-3) / wall, -27.44164, 0.05, "closed form"},
		{"disc 3 mm at 50 mm against the wall at 100 mm", flat(50e-3, 3e-3) / wall, -8.35679, 0.05, "closed form"},
		{"hole 3 mm against the wall, both at 100 mm", hole(100e-3, 3e-3) / wall, -18.2391, 0.6, "waves round the hole make the exact echo ripple by 6 %"},
		{"hole, twice the distance", hole(200e-3, 3e-3) / hole(100e-3, 3e-3), -9.0309, 0.04, "s^-1.5; the peak is that of samples, 25 a period"},
		{"disc, twice the distance", flat(200e-3, 3e-3) / flat(100e-3, 3e-3), -12.0412, 0.04, "s^-2"},
		{"wall, twice the distance", backWallAt(200e-3) / wall, -6.0206, 0.04, "s^-1"},
		{"hole, twice the diameter", hole(100e-3, 12e-3) / hole(100e-3, 6e-3), 3.0103, 0.3, "√d, with the ripple"},
		{"disc, twice the diameter", flat(100e-3, 2e-3) / flat(100e-3, 1e-3), 12.0412, 0.04, "d²"},
		{"sphere 6 mm against its disc", ball(100e-3, 6e-3) / flat(100e-3, math.Sqrt(1.48e-3*6e-3/math.Pi)), 0, 0.05, "d² = λ·d_sphere/π"},
	} {
		if got := decibels(row.got); !(math.Abs(got-row.want) <= row.within) {
			t.Errorf("%s: %.3f dB, want %.3f within %v (%s)", row.name, got, row.want, row.within, row.reason)
		}
	}
}

// TestDiscHasOneSide: a disc that stands upright echoes between elements on the side of its
// normal, and in no pair with an element behind it.
func TestDiscHasOneSide(t *testing.T) {
	array := small(t, 2, 40e-3, 4e6, 0.4) // at x = -20 mm and 20 mm
	s := synth.Scene{Setup: plate(t, nil, 50e-3), Array: array, Views: parseViews(t, "L-L")}
	s.Reflectors = []synth.Reflector{synth.FlatBottomHole{Position: r3.Vec{Z: 20e-3}, Normal: r3.Vec{X: -1}, Diameter: 1e-3}}
	c := synthesise(t, s, synth.Recording{Samples: 500, SampleRate: 100e6, FirstSample: 7e-6})
	for pair, trace := range c.Traces() {
		if front := pair.Tx == 0 && pair.Rx == 0; front != (peak(trace) > 0) {
			t.Errorf("pair %v: peak %v, want an echo only between elements before the disc", pair, peak(trace))
		}
	}
}

// TestCrackIsWall: a crack across the beam that is long against it echoes as a
// back wall there does, in time, amplitude and sign.
func TestCrackIsWall(t *testing.T) {
	for _, dimension := range []wedge.Dimension{wedge.Section, wedge.Space} {
		array := small(t, 2, 12e-3, 5e6, 0.5)
		recording := synth.Recording{Samples: 400, SampleRate: 50e6, FirstSample: 5e-6}
		s := synth.Scene{Setup: plate(t, nil, 20e-3), Array: array, Dimension: dimension, Walls: backWall}
		want := synthesise(t, s, recording)
		s.Setup, s.Walls = plate(t, nil, 50e-3), nil
		s.Reflectors = []synth.Reflector{synth.Crack{From: r3.Vec{X: -60e-3, Z: 20e-3}, To: r3.Vec{X: 60e-3, Z: 20e-3}}}
		s.Views = parseViews(t, "L-L")
		got := synthesise(t, s, recording)
		largest := peak(want.Data)
		for i := range want.Data {
			if diff := math.Abs(float64(got.Data[i] - want.Data[i])); !(diff <= 0.03*largest) {
				t.Fatalf("dimension %d: sample %d: crack %v, wall %v", dimension, i, got.Data[i], want.Data[i])
			}
		}
	}
}

// TestSlitHasWidth: the face of a slit lies half a width before its middle, so that its echo comes
// earlier by the width over c, and looks the same.
func TestSlitHasWidth(t *testing.T) {
	const width, depth = 0.5e-3, 20e-3
	s := synth.Scene{Setup: plate(t, nil, 50e-3), Array: small(t, 2, 12e-3, 5e6, 0.5), Views: parseViews(t, "L-L")}
	echo := func(depth, width float64) *fmc.Capture {
		s.Reflectors = []synth.Reflector{synth.Crack{From: r3.Vec{X: -60e-3, Z: depth}, To: r3.Vec{X: 60e-3, Z: depth}, Width: width}}
		return synthesise(t, s, synth.Recording{Samples: 400, SampleRate: 50e6, FirstSample: 5e-6})
	}
	want, got := echo(depth-width/2, 0), echo(depth, width)
	largest := peak(want.Data)
	for i := range want.Data {
		if diff := math.Abs(float64(got.Data[i] - want.Data[i])); !(diff <= 0.03*largest) {
			t.Fatalf("sample %d: slit %v, crack at its face %v", i, got.Data[i], want.Data[i])
		}
	}
}

// TestTips compares the times of the tips of a vertical crack, between two
// elements 100 mm apart, with 2·√(S² + d²)/c (the relation of time-of-flight
// diffraction, ISO 10863, from memory), and the phases: the tips echo with
// opposite signs.
func TestTips(t *testing.T) {
	medium := material.Isotropic{Density: 7850, Longitudinal: 5950, Transverse: 3240}
	setup, err := wedge.NewPlate(nil, medium, 40e-3)
	if err != nil {
		t.Fatal(err)
	}
	s := synth.Scene{Setup: *setup, Array: small(t, 2, 100e-3, 5e6, 0.6), Dimension: wedge.Section, Views: parseViews(t, "L-L")}
	s.Reflectors = []synth.Reflector{synth.Crack{From: r3.Vec{Z: 15e-3}, To: r3.Vec{Z: 30e-3}}}
	c := synthesise(t, s, synth.Recording{Pairs: []fmc.Pair{{Tx: 0, Rx: 1}}, Samples: 600, SampleRate: 100e6, FirstSample: 16e-6})
	signal := analytic(t, c)[0]
	phase := map[float64]float64{}
	for depth, want := range map[float64]float64{15e-3: 17.54673363e-6, 30e-3: 19.59983830e-6} { // mpmath 1.2.1
		best := int((want - 0.3e-6 - c.FirstSample) * c.SampleRate)
		for k := best; c.Time(k) <= want+0.3e-6; k++ {
			if cabs(signal[k]) > cabs(signal[best]) {
				best = k
			}
		}
		if got := c.Time(best); !(math.Abs(got-want) <= 1/c.SampleRate) {
			t.Errorf("tip at %v m: echo at %.4f µs, want %.4f", depth, got*1e6, want*1e6)
		}
		at := int(math.Round((want - c.FirstSample) * c.SampleRate))
		phase[depth] = math.Atan2(float64(imag(signal[at])), float64(real(signal[at]))) - 2*math.Pi*5e6*(c.Time(at)-want)
	}
	if cos := math.Cos(phase[15e-3] - phase[30e-3]); !(cos <= -0.9) {
		t.Errorf("cosine of the phase between the tips %.2f, want -1", cos)
	}
}

func cabs(z complex64) float64 { return math.Hypot(float64(real(z)), float64(imag(z))) }

// TestLosses: attenuation of a path falls on each of its legs, by its mode, as
// exp(-α·path) at the frequency of a narrow band.
func TestLosses(t *testing.T) {
	law := func(alpha float64) material.Attenuation {
		return material.Attenuation{{Alpha: alpha, Frequency: 5e6, Exponent: 0}}
	}
	array := small(t, 1, 1e-3, 5e6, 0.3)
	array.Elements[0].Z = -10e-3
	s := synth.Scene{Setup: plate(t, &water, 20e-3), Array: array, Walls: backWall}
	r := synth.Recording{Samples: 400, SampleRate: 50e6, FirstSample: 17e-6}
	lossless := peak(synthesise(t, s, r).Data)
	s.Losses = synth.Losses{Coupling: law(7), Longitudinal: law(11), Transverse: law(1000)}
	got := peak(synthesise(t, s, r).Data) / lossless
	if want := math.Exp(-7*20e-3 - 11*40e-3); !(math.Abs(got-want) <= 1e-5) {
		t.Errorf("losses leave %.6f, want %.6f", got, want)
	}
}

// TestSlantOfConversion: where the wave returns in another mode, the echo of a thin hole comes
// by the point of the hole's line that makes the way shortest (Fermat's principle), found here by
// a fine scan. The hole is small against both wavelengths, so that its echo is no mirror's.
func TestSlantOfConversion(t *testing.T) {
	array, err := fmc.MatrixArray(1, 2, 1e-3, 16e-3, fmc.Array{Width: 1e-6, CentreFrequency: 2e6, Bandwidth: 0.6})
	if err != nil {
		t.Fatal(err)
	}
	const depth, aside = 20e-3, 12e-3
	s := synth.Scene{Setup: plate(t, nil, 50e-3), Array: array, Axis: r3.Vec{X: 1}, Views: parseViews(t, "L-T")}
	s.Reflectors = []synth.Reflector{synth.Hole{X: aside, Z: depth, Diameter: 0.02e-3}}
	c := synthesise(t, s, synth.Recording{Samples: 1200, SampleRate: 100e6, FirstSample: 6e-6})
	want := math.Inf(1)
	far := math.Hypot(depth, aside)
	for y := 0.; y <= 16e-3; y += 1e-6 {
		want = min(want, math.Hypot(far, y)/steel.Longitudinal+math.Hypot(far, 16e-3-y)/steel.Transverse)
	}
	signals := analytic(t, c)
	for p, pair := range c.Pairs {
		if pair.Tx == pair.Rx {
			continue
		}
		best := 0
		for k := range signals[p] {
			if cabs(signals[p][k]) > cabs(signals[p][best]) {
				best = k
			}
		}
		if got := c.Time(best); !(math.Abs(got-want) <= 40e-9) {
			t.Errorf("pair %v: echo at %.1f ns, want %.1f", pair, got*1e9, want*1e9)
		}
	}
}

// TestSlant: between elements of a matrix array that lie Δ apart along y, a thin
// hole at depth h under them echoes √(4h² + Δ²)/c after the pulse, the way by
// the point between them, less twice its radius over c.
func TestSlant(t *testing.T) {
	array, err := fmc.MatrixArray(1, 3, 1e-3, 4e-3, fmc.Array{Width: 1e-6, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		t.Fatal(err)
	}
	const depth, radius = 20e-3, 0.4e-3
	s := synth.Scene{Setup: plate(t, nil, 50e-3), Array: array, Axis: r3.Vec{X: 1}, Views: parseViews(t, "L-L")}
	s.Reflectors = []synth.Reflector{synth.Hole{Z: depth, Diameter: 2 * radius}}
	c := synthesise(t, s, synth.Recording{Samples: 800, SampleRate: 100e6, FirstSample: 4e-6})
	signals := analytic(t, c)
	for p, pair := range c.Pairs {
		apart := array.Elements[pair.Tx].Y - array.Elements[pair.Rx].Y
		want := (math.Sqrt(4*depth*depth+apart*apart) - 2*radius) / steel.Longitudinal
		best := 0
		for k := range signals[p] {
			if cabs(signals[p][k]) > cabs(signals[p][best]) {
				best = k
			}
		}
		// The top of the envelope within two samples of 10 ns, since the hole's echo
		// is not quite that of a mirror; from 0 to 8 mm apart the time differs by 130 ns.
		if got := c.Time(best); !(math.Abs(got-want) <= 20e-9) {
			t.Errorf("pair %v: echo at %.1f ns, want %.1f", pair, got*1e9, want*1e9)
		}
	}
}
