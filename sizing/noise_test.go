// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/fmc/synth"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// field is complex Gaussian noise of the mean power 1, smoothed by a Gaussian of the standard
// deviation sigma in pixels. The squared correlation at the distance d is exp(-d²/(2·sigma²)), and
// its integral is 2π·sigma².
func field(seed uint64, cols, rows int, sigma float64) []complex128 {
	rng := rand.New(rand.NewPCG(seed, 7))
	k := int(math.Ceil(4 * sigma))
	kernel := make([]complex128, 2*k+1)
	sum := 0.0
	for i := range kernel {
		v := math.Exp(-float64((i-k)*(i-k)) / (2 * sigma * sigma))
		kernel[i] = complex(v, 0)
		sum += v * v
	}
	w, h := cols+2*k, rows+2*k
	white := make([]complex128, w*h)
	for i := range white {
		white[i] = complex(rng.NormFloat64(), rng.NormFloat64()) * complex(math.Sqrt(0.5)/sum, 0)
	}
	smooth := make([]complex128, cols*h)
	for r := range h {
		for c := range cols {
			for i, v := range kernel {
				smooth[r*cols+c] += white[r*w+c+i] * v
			}
		}
	}
	out := make([]complex128, cols*rows)
	for r := range rows {
		for c := range cols {
			for i, v := range kernel {
				out[r*cols+c] += smooth[(r+i)*cols+c] * v
			}
		}
	}
	return out
}

// envelopeOf returns the picture of a field of pixels 0.1 mm apart.
func envelopeOf(t *testing.T, values []complex128, cols int) *tfm.Envelope {
	env := draw(t, cols, len(values)/cols, 1e-4)
	for i, v := range values {
		env.Data[i] = float32(cmplx.Abs(v))
	}
	return env
}

// TestNoiseLevel compares with the level and the correlation of the fields, and with the same
// fields under three hills.
func TestNoiseLevel(t *testing.T) {
	for _, sigma := range []float64{0.7, 1.5, 3} {
		const cols, rows, pictures = 150, 120, 4
		for _, hills := range []bool{false, true} {
			level, cell := 0.0, 0.0
			for i := range pictures {
				env := envelopeOf(t, field(uint64(i), cols, rows, sigma), cols)
				if hills {
					for k := range env.Data {
						p := env.Point(k)
						for _, b := range []blob{
							{x: 3e-3, z: 4e-3, length: 2e-3, width: 1e-3, height: 300},
							{x: 8e-3, z: 8e-3, length: 2e-3, width: 1e-3, tilt: 1, height: 30},
							{x: 12e-3, z: 3e-3, length: 3e-3, width: 1e-3, height: 10},
						} {
							env.Data[k] += float32(b.at(p.X, p.Z))
						}
					}
				}
				n := check.Must(sizing.EstimateNoise(env))
				level += n.Level / pictures
				cell += n.CellArea * 1e8 / pictures
				check.Within(t, "cells × area", n.Cells*n.CellArea, cols*rows*1e-8, 1e-12)
			}
			tolerance := 0.1
			if hills { // a sixth of the picture; their feet below the noise still count
				tolerance = 0.2
			}
			check.Within(t, "level", level, 1, tolerance/2)
			check.Within(t, "area of a cell over 2π·sigma²", cell/(2*math.Pi*sigma*sigma), 1, tolerance)
		}
	}
}

// TestNoiseOblique: a shear of the picture keeps the area of the cells.
func TestNoiseOblique(t *testing.T) {
	const cols, rows, sigma = 150, 120, 2.0
	straight := field(9, cols+rows, rows, sigma)
	oblique := make([]complex128, cols*rows)
	for r := range rows {
		copy(oblique[r*cols:][:cols], straight[r*(cols+rows)+r:])
	}
	n := check.Must(sizing.EstimateNoise(envelopeOf(t, oblique, cols)))
	check.Within(t, "area of a cell over 2π·sigma²", n.CellArea*1e8/(2*math.Pi*sigma*sigma), 1, 0.1)
}

// TestRayleigh compares amplitudes relative to the level with the closed forms of Rayleigh's
// distribution: the share above T dB is exp(-10^(T/10)); the mean is 1.913058 standard deviations;
// in dB the mean is -2.506816, the median -1.591745 and the standard deviation 5.570043.
func TestRayleigh(t *testing.T) {
	env := envelopeOf(t, field(3, 700, 600, 0.7), 700)
	level := check.Must(sizing.EstimateNoise(env)).Level
	n := float64(len(env.Data))
	var sum, square, decibels, spread float64
	above := map[float64]float64{-1.591745390: 0.5, 6: 0.0187, 10: 4.53999e-5}
	shares := map[float64]float64{}
	for _, v := range env.Data {
		amplitude := float64(v) / level
		sum += amplitude / n
		square += amplitude * amplitude / n
		db := sizing.LevelDB(amplitude, 1)
		decibels += db / n
		spread += db * db / n
		for threshold := range above {
			if db > threshold {
				shares[threshold] += 1 / n
			}
		}
	}
	check.Within(t, "mean over standard deviation", sum/math.Sqrt(square-sum*sum), 1.913058380, 0.01)
	check.Within(t, "mean of levels, dB", decibels, -2.506815782, 0.05)
	check.Within(t, "standard deviation of levels, dB", math.Sqrt(spread-decibels*decibels), 5.570043140, 0.05)
	for threshold, want := range above {
		check.Within(t, fmt.Sprintf("share above %v dB", threshold), shares[threshold], want, 0.02*want+5e-5)
	}
}

// TestFloor compares with the closed forms of n independent cells: 1 % of the pictures of 1,000 and
// 10,000 cells have a higher peak. The floor lies above it, because it counts the peaks of a field:
// u - 1/2 times as many, 10 to 13 times as many here.
func TestFloor(t *testing.T) {
	env := envelopeOf(t, field(1, 400, 400, 1), 400)
	n := check.Must(sizing.EstimateNoise(env))
	for _, test := range []struct{ cells, peak float64 }{ // dB above the mean power, 1 % exceed it
		{1e3, 10.610}, {1e4, 11.402},
	} {
		n.Level, n.Cells = 1, test.cells
		above := sizing.LevelDB(n.Floor(0.01), 1) - test.peak
		check.Within(t, "floor above the peak of independent cells, dB", above, 0.75, 0.15)
	}
	for _, expected := range []float64{0, -1, 1.01, math.NaN()} {
		if floor := n.Floor(expected); !math.IsNaN(floor) {
			t.Errorf("floor %v of %v expected peaks, want NaN", floor, expected)
		}
	}
	small := check.Must(sizing.EstimateNoise(envelopeOf(t, field(1, 19, 19, 1), 19)))
	if small.Cells != 0 || small.Floor(0.1) != 0 {
		t.Errorf("%v cells and floor %v of 361 pixels, want no estimate", small.Cells, small.Floor(0.1))
	}
	if _, err := sizing.EstimateNoise(nil); err == nil {
		t.Error("no error for no envelope")
	}
}

// trialNoise counts the pictures of noise alone in which the default floor lists indications. No
// picture may have more than one.
func trialNoise(t *testing.T, pictures int) (listed int) {
	for i := range pictures {
		sigma := [...]float64{1, 2, 4}[i%3]
		cols := [...]int{60, 110, 200}[i/3%3]
		found := find(t, envelopeOf(t, field(uint64(100+i), cols, 80, sigma), cols), nil)
		if len(found) > 1 {
			t.Errorf("%d indications in a picture of noise alone, seed %d, want 1 at most", len(found), 100+i)
		}
		listed += min(len(found), 1)
	}
	return listed
}

// TestWindow: an indication that fills a window is listed although no noise is around it.
func TestWindow(t *testing.T) {
	const width = 30.0
	for _, size := range []float64{1, 1.5, 2, 3, 4} {
		n := int(size * width)
		env := draw(t, n, n, 1e-4, blob{x: size * width / 2 * 1e-4, z: size * width / 2 * 1e-4, length: width * 1e-4, width: width * 1e-4, height: 1})
		if found := find(t, env, nil); len(found) != 1 {
			t.Errorf("%d indications in a window of %v widths, want 1", len(found), size)
		}
	}
}

// TestNoiseAlone: 2 % of the pictures are expected to have a false indication. Few cells make the
// level uncertain, which adds to them.
func TestNoiseAlone(t *testing.T) {
	n := 45
	if testing.Short() {
		n = 18
	}
	if listed := trialNoise(t, n); listed > max(1, n*6/100) {
		t.Errorf("false indications in %d of %d pictures of noise alone, want 6 %% at most", listed, n)
	}
}

// views are the views of the captures of testdata that show reflectors, with a region in mm.
var views = []struct {
	name, view     string
	x0, x1, z0, z1 float64
}{
	{"block16", "L-L", -15, 15, 4, 38},
	{"weld32", "T-T", 8, 32, 2, 15},
	{"weld32", "TT-T", 8, 32, 2, 17},
	{"sdh32", "T-T", 5, 32, 3, 28},
	{"pipe32", "L-L", -12, 12, 2, 13},
	{"wavy32", "L-L", -12, 12, 5, 19},
	{"notch32", "L-L", -12, 12, 4, 27},
}

// floors images captures of testdata in some of the views, as they are, with seeded noise, and with
// nothing but noise, and calls see.
func floors(t *testing.T, some []int, noises []float64, see func(name string, noise float64, env *tfm.Envelope, n sizing.Noise, found []sizing.Indication)) {
	for _, i := range some {
		v := views[i]
		record := check.Must(npy.ReadFile(filepath.Join("..", "testdata", v.name+".json"), nil))
		setup := check.Must(record.Geometry())
		g := check.Must(tfm.NewSection(v.x0*1e-3, v.x1*1e-3, v.z0*1e-3, v.z1*1e-3, 0.1e-3))
		plan := check.Must(tfm.PlanView(t.Context(), record.Capture, setup, v.view, g, nil))
		for _, noise := range noises {
			c := *record.Capture
			switch {
			case noise < 0: // noise alone
				c.Data = make([]float32, len(c.Data))
				rng := rand.New(rand.NewPCG(uint64(i), uint64(-noise)))
				for k := range c.Data {
					c.Data[k] = float32(rng.NormFloat64())
				}
			case noise > 0:
				c = *check.Must(synth.Receiver{Noise: noise, Seed: 1}.Record(&c))
			}
			env := check.Must(plan.Image(t.Context(), &c)).Envelope(nil)
			see(v.name+" "+v.view, noise, env, check.Must(sizing.EstimateNoise(env)), find(t, env, nil))
		}
	}
}

// TestNoiseOfCaptures images white noise in the geometry of captures: at most one false indication
// a picture, also where rays are missing.
func TestNoiseOfCaptures(t *testing.T) {
	some, seeds := []int{0, 2}, []float64{-1, -2, -3}
	if testing.Short() {
		some, seeds = some[:1], seeds[:1]
	}
	trialCaptures(t, some, seeds)
}

func trialCaptures(t *testing.T, some []int, noises []float64) (listed int) {
	floors(t, some, noises, func(name string, _ float64, _ *tfm.Envelope, n sizing.Noise, found []sizing.Indication) {
		if len(found) > 1 {
			t.Errorf("%s: %d indications in noise alone, want 1 at most", name, len(found))
		}
		listed += min(1, len(found))
	})
	return listed
}
