// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

// qualities checks resolution, grating lobes, the step of the grid and contrast: arrays of 5 MHz,
// 0.6 mm apart, in contact with steel of 5920 m/s.
func qualities() []check {
	const sum = "NumPy, sum of all pairs on a grid of 0.02 mm"
	lateral := func(s *quality.Spot) (float64, error) { return s.Width(r3.Vec{X: 1}, sizing.SixDB) * 1e3, nil }
	axial := func(s *quality.Spot) (float64, error) { return s.Width(r3.Vec{Z: 1}, sizing.SixDB) * 1e3, nil }
	indicator := (*quality.Spot).Indicator
	step := func(loss float64) func(s *quality.Spot) (float64, error) {
		return func(s *quality.Spot) (float64, error) { return s.CoarsestStep(loss) / s.Wavelength, nil }
	}
	return []check{
		{"lateral 6 dB width, 64 elements, (0, 30) mm", calculated, sum, "0.911", "mm", 0.012, spot(64, 0, 30, 0.6, lateral)},
		{"lateral 6 dB width, 16 elements, (0, 30) mm", calculated, sum, "3.310", "mm", 0.012, spot(16, 0, 30, 0.6, lateral)},
		{"lateral 6 dB width, 64 elements, (15, 30) mm", calculated, sum, "1.012", "mm", 0.012, spot(64, 15, 30, 0.6, lateral)},
		{"axial 6 dB width, 64 elements, (0, 30) mm", calculated, sum, "0.915", "mm", 0.006, spot(64, 0, 30, 0.6, axial)},
		{"array performance indicator, 32 elements, (0, 30) mm", calculated, sum, "0.848", "", 0.01, spot(32, 0, 30, 0.6, indicator)},
		{"lateral 6 dB width, narrow aperture", closedForm, "algebra, 0.885893·λz/D", "10.9260", "mm", 0.11, spot(16, 0, 100, 0.6, lateral)},
		{"axial 6 dB width, narrow aperture", closedForm, "algebra, 2·ln 2·λ/πB", "0.870775", "mm", 0.003, spot(16, 0, 100, 0.6, axial)},
		{"32 elements at 30 mm over 64 elements at 60 mm", identity, "algebra, scaling", "1", "", 1e-3, func() (float64, error) {
			near, err := spot(32, 0, 30, 0.6, lateral)()
			if err != nil {
				return 0, err
			}
			far, err := spot(64, 0, 60, 0.6, lateral)()
			return near / far, err
		}},
		{"pixel for 2 dB, bandwidth 60 %, in wavelengths", calculated, "mpmath, Gaussian envelope", "0.4239", "", 0.004, spot(2, 0, 150, 0.6, step(2))},
		{"pixel for 1 dB, bandwidth 60 %, in wavelengths", calculated, "mpmath, Gaussian envelope", "0.2997", "", 0.003, spot(2, 0, 150, 0.6, step(1))},
		{"grating lobe, pitch λ, 64 elements, full matrix", calculated, "NumPy, sum of pulses", "-32.01", "dB", 0.03, lobe(64, 0.6)},
		{"grating lobe, pitch λ, 16 elements, bandwidth 30 %", calculated, "NumPy, sum of pulses", "-14.63", "dB", 0.03, lobe(16, 0.3)},
		{"contrast of intensities 1 : 4, without overlap", closedForm, "Rodriguez 2020, C^(−1/(C−1)) − C^(−C/(C−1))", "0.472470394", "", 0.007, contrast(4)},
		{"contrast of intensities 1 : 10, without overlap", closedForm, "Rodriguez 2020, C^(−1/(C−1)) − C^(−C/(C−1))", "0.696837314", "", 0.007, contrast(10)},
	}
}

// contact returns a capture without samples of n elements on a thick plate.
func contact(n int, bandwidth, speed float64) (*fmc.Capture, *wedge.Setup, error) {
	array, err := line(n)
	if err != nil {
		return nil, nil, err
	}
	array.Bandwidth = bandwidth
	c, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(n), Samples: 1, SampleRate: 50e6})
	if err != nil {
		return nil, nil, err
	}
	part := blockSteel
	part.Longitudinal = speed
	setup, err := wedge.NewPlate(nil, part, 0.2)
	return c, setup, err
}

// unfiltered is a pass band that keeps the whole spectrum.
var unfiltered = tfm.Band{Low: 0.1e6, High: 22.5e6}

// spot returns a result of the picture of a point at (x, z) in mm.
func spot(n int, x, z, bandwidth float64, of func(*quality.Spot) (float64, error)) func() (float64, error) {
	return func() (float64, error) {
		c, setup, err := contact(n, bandwidth, 5920)
		if err != nil {
			return 0, err
		}
		spread, err := quality.NewSpread(c, setup, "L-L", &quality.Options{Uniform: true, Band: unfiltered})
		if err != nil {
			return 0, err
		}
		s, err := spread.At(mm(x, z))
		if err != nil {
			return 0, err
		}
		return of(s)
	}
}

// lobe returns the level in dB of the grating lobe along the surface, for a pitch of one
// wavelength.
func lobe(n int, bandwidth float64) func() (float64, error) {
	return func() (float64, error) {
		c, _, err := contact(n, bandwidth, 5920)
		if err != nil {
			return 0, err
		}
		lobes, err := quality.GratingLobes(c, 2999.9999, 0, unfiltered)
		if err == nil && len(lobes) == 0 {
			err = errors.New("no grating lobe")
		}
		if err != nil {
			return 0, err
		}
		return lobes[0].LevelDB, nil
	}
}

// contrast returns the contrast of Rayleigh amplitudes at equal steps of their distribution, for a
// ratio of mean intensities.
func contrast(ratio float64) func() (float64, error) {
	return func() (float64, error) {
		const n = 20000
		var regions [2][]float32
		for i := range n {
			a := math.Sqrt(-math.Log(1 - (float64(i)+0.5)/n))
			regions[0] = append(regions[0], float32(a*math.Sqrt(ratio)))
			regions[1] = append(regions[1], float32(a))
		}
		c, err := quality.NewContrast(regions[0], regions[1])
		return c.GCNR, err
	}
}
