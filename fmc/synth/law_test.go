// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth_test

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

var (
	steel = material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	water = material.Isotropic{Density: 998, Longitudinal: 1482}
)

const degree = math.Pi / 180

// small returns an array of n elements that are small against the wavelength.
func small(n int, pitch, frequency, bandwidth float64) fmc.Array {
	like := fmc.Array{Width: 1e-6, CentreFrequency: frequency, Bandwidth: bandwidth}
	return check.Must(fmc.LinearArray(n, pitch, like))
}

func plate(coupling *material.Isotropic, thickness float64) wedge.Setup {
	return *check.Must(wedge.NewPlate(coupling, steel, thickness))
}

// pulse returns the echo of a plane reflector at time t in s, from the formula of the package
// documentation.
func pulse(a fmc.Array, t float64) float64 {
	sigma := a.Bandwidth * a.CentreFrequency / math.Sqrt(8*math.Ln2)
	envelope := math.Exp(-2 * math.Pow(math.Pi*sigma*t, 2))
	return envelope * math.Cos(2*math.Pi*a.CentreFrequency*t)
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

// TestWallTrace compares whole traces with their closed form. A plane back wall at the depth T
// echoes at 2T/c with the amplitude 1/(2T), or 1/√(2T) in a section. A free surface reverses the
// sign of the displacement along the ray.
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
		s := synth.Scene{Setup: plate(nil, thickness), Array: small(1, 1e-3, 5e6, 0.4), Dimension: row.dimension, Walls: backWall}
		// The first sample is no multiple of the spacing, and within the pulse.
		c := synthesise(t, s, synth.Recording{Samples: 300, SampleRate: 50e6, FirstSample: 10.0137e-6})
		for k, got := range c.Trace(0) {
			want := -row.amplitude * pulse(s.Array, c.Time(k)-2*thickness/steel.Longitudinal)
			if !(math.Abs(float64(got)-want) <= 3e-5*row.amplitude) {
				t.Fatalf("%s: sample %d: %v, want %v", row.name, k, got, want)
			}
		}
	}
}

// TestFrontTrace compares the echo of steel in water with its closed form. The displacement along
// the ray is reflected with the coefficient (Z₂ - Z₁)/(Z₂ + Z₁), for impedances Z = ρc (ISO 16810,
// from memory). The echo does not depend on the back wall, which a thick part may lack.
func TestFrontTrace(t *testing.T) {
	array := small(1, 1e-3, 5e6, 0.4)
	array.Elements[0].Z = -20e-3
	z1, z2 := water.Density*water.Longitudinal, steel.Density*steel.Longitudinal
	amplitude := (z2 - z1) / (z2 + z1) / 40e-3
	withBack := plate(&water, 30e-3)
	without := withBack
	without.Back = nil
	for name, setup := range map[string]wedge.Setup{"plate": withBack, "no back wall": without} {
		s := synth.Scene{Setup: setup, Array: array, Front: true}
		c := synthesise(t, s, synth.Recording{Samples: 200, SampleRate: 50e6, FirstSample: 25e-6})
		for k, got := range c.Trace(0) {
			want := amplitude * pulse(array, c.Time(k)-40e-3/water.Longitudinal)
			if !(math.Abs(float64(got)-want) <= 3e-5/40e-3) {
				t.Fatalf("%s: sample %d: %v, want %v", name, k, got, want)
			}
		}
	}
}

// TestEchoLaws compares echoes with the far-field laws of DGS diagrams, evaluated independently
// with mpmath 1.2.1. Relative to the back wall at the depth T, a disc of diameter d at the depth s
// echoes with π·d²·T/(2λs²). A side-drilled hole at s = T echoes with √(d/(2s)). A sphere equals
// the disc of d² = λ·d_sphere/π. The band is narrow, because the law of the disc depends on the
// frequency.
func TestEchoLaws(t *testing.T) {
	const frequency = 4e6 // λ = 1.48 mm
	array := small(1, 1e-3, frequency, 0.05)
	down := r3.Vec{Z: -1}
	backWallAt := func(depth float64) float64 {
		s := synth.Scene{Setup: plate(nil, depth), Array: array, Walls: backWall}
		return peak(synthesise(t, s, synth.Recording{Samples: 9000, SampleRate: 100e6}).Data)
	}
	echo := func(r synth.Reflector) float64 {
		s := synth.Scene{Setup: plate(nil, 300e-3), Array: array, Views: parseViews("L-L")}
		s.Reflectors = []synth.Reflector{r}
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
		{"hole 3 mm against the wall, both at 100 mm", hole(100e-3, 3e-3) / wall, -18.2391, 0.6,
			"waves round the hole make the exact echo ripple by 6 %"},
		{"hole, twice the distance", hole(200e-3, 3e-3) / hole(100e-3, 3e-3), -9.0309, 0.04,
			"s^-1.5; the peak is the largest sample, of 25 a period"},
		{"disc, twice the distance", flat(200e-3, 3e-3) / flat(100e-3, 3e-3), -12.0412, 0.04, "s^-2"},
		{"wall, twice the distance", backWallAt(200e-3) / wall, -6.0206, 0.04, "s^-1"},
		{"hole, twice the diameter", hole(100e-3, 12e-3) / hole(100e-3, 6e-3), 3.0103, 0.3, "√d, with the ripple"},
		{"disc, twice the diameter", flat(100e-3, 2e-3) / flat(100e-3, 1e-3), 12.0412, 0.04, "d²"},
		{"sphere 6 mm against its disc", ball(100e-3, 6e-3) / flat(100e-3, math.Sqrt(1.48e-3*6e-3/math.Pi)),
			0, 0.05, "d² = λ·d_sphere/π"},
	} {
		if got := decibels(row.got); !(math.Abs(got-row.want) <= row.within) {
			t.Errorf("%s: %.3f dB, want %.3f within %v (%s)",
				row.name, got, row.want, row.within, row.reason)
		}
	}
}

// TestDiscHasOneSide checks an upright disc. It echoes between elements on the side of its normal.
// It does not echo in a pair with an element behind it.
func TestDiscHasOneSide(t *testing.T) {
	array := small(2, 40e-3, 4e6, 0.4) // at x = -20 mm and 20 mm
	s := synth.Scene{Setup: plate(nil, 50e-3), Array: array, Views: parseViews("L-L")}
	s.Reflectors = []synth.Reflector{synth.FlatBottomHole{Position: r3.Vec{Z: 20e-3}, Normal: r3.Vec{X: -1}, Diameter: 1e-3}}
	c := synthesise(t, s, synth.Recording{Samples: 500, SampleRate: 100e6, FirstSample: 7e-6})
	for pair, trace := range c.Traces() {
		if front := pair.Tx == 0 && pair.Rx == 0; front != (peak(trace) > 0) {
			t.Errorf("pair %v: peak %v, want an echo only between elements before the disc",
				pair, peak(trace))
		}
	}
}

// TestCrackIsWall checks that a crack across the beam, longer than the beam is wide, has the same
// echo as a back wall at its depth, in time, amplitude and sign.
func TestCrackIsWall(t *testing.T) {
	for _, dimension := range []wedge.Dimension{wedge.Section, wedge.Space} {
		array := small(2, 12e-3, 5e6, 0.5)
		recording := synth.Recording{Samples: 400, SampleRate: 50e6, FirstSample: 5e-6}
		s := synth.Scene{Setup: plate(nil, 20e-3), Array: array, Dimension: dimension, Walls: backWall}
		want := synthesise(t, s, recording)
		s.Setup, s.Walls = plate(nil, 50e-3), nil
		s.Reflectors = []synth.Reflector{level(20e-3, 0)}
		s.Views = parseViews("L-L")
		got := synthesise(t, s, recording)
		largest := peak(want.Data)
		for i := range want.Data {
			if diff := math.Abs(float64(got.Data[i] - want.Data[i])); !(diff <= 0.03*largest) {
				t.Fatalf("dimension %d: sample %d: crack %v, wall %v",
					dimension, i, got.Data[i], want.Data[i])
			}
		}
	}
}

// level returns a horizontal crack at a depth.
func level(depth, width float64) synth.Crack {
	return synth.Crack{From: r3.Vec{X: -60e-3, Z: depth}, To: r3.Vec{X: 60e-3, Z: depth}, Width: width}
}

// TestSlitHasWidth checks that the face of a slit lies half a width before its middle. The echo is
// earlier by the width over c, and has the same form.
func TestSlitHasWidth(t *testing.T) {
	const width, depth = 0.5e-3, 20e-3
	s := synth.Scene{Setup: plate(nil, 50e-3), Array: small(2, 12e-3, 5e6, 0.5), Views: parseViews("L-L")}
	echo := func(depth, width float64) *fmc.Capture {
		s.Reflectors = []synth.Reflector{level(depth, width)}
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

// TestTips compares the times of the tips of a vertical crack with 2·√(S² + d²)/c, for tips at the
// depth d between two elements 2S = 100 mm apart (the relation of time-of-flight diffraction,
// ISO 10863, from memory). It also checks that both tips echo with opposite signs.
func TestTips(t *testing.T) {
	medium := material.Isotropic{Density: 7850, Longitudinal: 5950, Transverse: 3240}
	setup := check.Must(wedge.NewPlate(nil, medium, 40e-3))
	s := synth.Scene{Setup: *setup, Array: small(2, 100e-3, 5e6, 0.6), Dimension: wedge.Section}
	s.Views = parseViews("L-L")
	s.Reflectors = []synth.Reflector{synth.Crack{From: r3.Vec{Z: 15e-3}, To: r3.Vec{Z: 30e-3}}}
	c := synthesise(t, s, synth.Recording{
		Pairs: []fmc.Pair{{Tx: 0, Rx: 1}}, Samples: 600, SampleRate: 100e6, FirstSample: 16e-6,
	})
	signal := analytic(t, c)[0]
	phase := map[float64]float64{}
	for depth, want := range map[float64]float64{15e-3: 17.54673363e-6, 30e-3: 19.59983830e-6} { // mpmath 1.2.1
		from := int((want - 0.3e-6 - c.FirstSample) * c.SampleRate)
		got := c.Time(from + highest(signal[from:from+60])) // 0.3 µs before to 0.3 µs after
		check.Within(t, fmt.Sprintf("time of the tip at %v m", depth), got, want, 1/c.SampleRate)
		at := int(math.Round((want - c.FirstSample) * c.SampleRate))
		phase[depth] = cmplx.Phase(complex128(signal[at])) - 2*math.Pi*5e6*(c.Time(at)-want)
	}
	if cos := math.Cos(phase[15e-3] - phase[30e-3]); !(cos <= -0.9) {
		t.Errorf("cosine of the phase between the tips %.2f, want -1", cos)
	}
}

// highest returns the index of the sample with the largest magnitude.
func highest(signal []complex64) (best int) {
	for k, v := range signal {
		if cmplx.Abs(complex128(v)) > cmplx.Abs(complex128(signal[best])) {
			best = k
		}
	}
	return best
}

// TestLosses checks that each leg loses amplitude by the law of its mode: by the factor exp(-α·s),
// with the length s of the leg and an attenuation α that does not depend on the frequency.
func TestLosses(t *testing.T) {
	law := func(alpha float64) material.Attenuation {
		return material.Attenuation{{Alpha: alpha, Frequency: 5e6, Exponent: 0}}
	}
	array := small(1, 1e-3, 5e6, 0.3)
	array.Elements[0].Z = -10e-3
	s := synth.Scene{Setup: plate(&water, 20e-3), Array: array, Walls: backWall}
	r := synth.Recording{Samples: 400, SampleRate: 50e6, FirstSample: 17e-6}
	lossless := peak(synthesise(t, s, r).Data)
	s.Losses = synth.Losses{Coupling: law(7), Longitudinal: law(11), Transverse: law(1000)}
	got := peak(synthesise(t, s, r).Data) / lossless
	check.Within(t, "fraction that remains", got, math.Exp(-7*20e-3-11*40e-3), 1e-5)
}

// TestSlantOfConversion checks the time of an echo that returns in another mode. A thin hole echoes
// from the point on its axis that makes the path shortest (Fermat's principle). A fine scan finds
// this point. The hole is small against both wavelengths. So its near face does not count.
func TestSlantOfConversion(t *testing.T) {
	like := fmc.Array{Width: 1e-6, CentreFrequency: 2e6, Bandwidth: 0.6}
	array := check.Must(fmc.MatrixArray(1, 2, 1e-3, 16e-3, like))
	const depth, aside = 20e-3, 12e-3
	s := synth.Scene{Setup: plate(nil, 50e-3), Array: array, Axis: r3.Vec{X: 1}, Views: parseViews("L-T")}
	s.Reflectors = []synth.Reflector{synth.Hole{X: aside, Z: depth, Diameter: 0.02e-3}}
	c := synthesise(t, s, synth.Recording{Samples: 1200, SampleRate: 100e6, FirstSample: 6e-6})
	want := math.Inf(1)
	far := math.Hypot(depth, aside)
	for y := 0.; y <= 16e-3; y += 1e-6 {
		there, back := math.Hypot(far, y), math.Hypot(far, 16e-3-y)
		want = min(want, there/steel.Longitudinal+back/steel.Transverse)
	}
	signals := analytic(t, c)
	for p, pair := range c.Pairs {
		if pair.Tx != pair.Rx {
			check.Within(t, fmt.Sprintf("time in s of pair %v", pair), c.Time(highest(signals[p])), want, 40e-9)
		}
	}
}

// TestSlant checks the time of a thin hole between elements of a matrix array. The elements lie Δ
// apart along y, the hole at the depth h below them. The path leads through the point between both
// elements. So the echo arrives at √(4h² + Δ²)/c, less twice the radius of the hole over c.
func TestSlant(t *testing.T) {
	like := fmc.Array{Width: 1e-6, CentreFrequency: 5e6, Bandwidth: 0.6}
	array := check.Must(fmc.MatrixArray(1, 3, 1e-3, 4e-3, like))
	const depth, radius = 20e-3, 0.4e-3
	s := synth.Scene{Setup: plate(nil, 50e-3), Array: array, Axis: r3.Vec{X: 1}, Views: parseViews("L-L")}
	s.Reflectors = []synth.Reflector{synth.Hole{Z: depth, Diameter: 2 * radius}}
	c := synthesise(t, s, synth.Recording{Samples: 800, SampleRate: 100e6, FirstSample: 4e-6})
	signals := analytic(t, c)
	for p, pair := range c.Pairs {
		apart := array.Elements[pair.Tx].Y - array.Elements[pair.Rx].Y
		want := (math.Sqrt(4*depth*depth+apart*apart) - 2*radius) / steel.Longitudinal
		// The tolerance is two samples of 10 ns, because the hole is not exactly a mirror. Between
		// Δ = 0 and Δ = 8 mm the time differs by 130 ns.
		check.Within(t, fmt.Sprintf("time in s of pair %v", pair), c.Time(highest(signals[p])), want, 20e-9)
	}
}
