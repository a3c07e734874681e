// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package quality_test

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

// plan returns an invented array of 32 elements on a steel plate, before anything is recorded.
func plan() (*fmc.Capture, *wedge.Setup, error) {
	array, err := fmc.LinearArray(32, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		return nil, nil, err
	}
	capture, err := fmc.New(fmc.Capture{Array: array, Pairs: fmc.FullPairs(32), Samples: 1, SampleRate: 50e6})
	if err != nil {
		return nil, nil, err
	}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5920, Transverse: 3255}
	plate, err := wedge.NewPlate(nil, steel, 50e-3)
	return capture, plate, err
}

func ExampleNewSpread() {
	capture, plate, err := plan()
	if err != nil {
		fmt.Println(err)
		return
	}
	spread, err := quality.NewSpread(capture, plate, "L-L", nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, depth := range []float64{10e-3, 20e-3, 40e-3} {
		spot, err := spread.At(r3.Vec{Z: depth})
		if err != nil {
			fmt.Println(err)
			return
		}
		in, err := spot.Measure(sizing.SixDB)
		if err != nil {
			fmt.Println(err)
			return
		}
		indicator, err := spot.Indicator()
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%.0f mm deep: %.1f mm × %.1f mm, indicator %.1f\n", depth*1e3, in.Length*1e3, in.Width*1e3, indicator)
	}
	// Output:
	// 10 mm deep: 1.0 mm × 0.7 mm, indicator 0.4
	// 20 mm deep: 1.2 mm × 1.0 mm, indicator 0.7
	// 40 mm deep: 2.3 mm × 0.9 mm, indicator 1.2
}

func ExampleSpot_CoarsestStep() {
	capture, plate, err := plan()
	if err != nil {
		fmt.Println(err)
		return
	}
	spread, err := quality.NewSpread(capture, plate, "L-L", nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	spot, err := spread.At(r3.Vec{Z: 20e-3})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, loss := range []float64{0.5, 1, 2} {
		fmt.Printf("at most %.1f dB lost: pixels of %.2f mm\n", loss, spot.CoarsestStep(loss)*1e3)
	}
	// Output:
	// at most 0.5 dB lost: pixels of 0.22 mm
	// at most 1.0 dB lost: pixels of 0.31 mm
	// at most 2.0 dB lost: pixels of 0.44 mm
}

func ExampleGratingLobes() {
	capture, _, err := plan()
	if err != nil {
		fmt.Println(err)
		return
	}
	// Transverse waves of 0.65 mm wavelength, steered to 45°.
	lobes, err := quality.GratingLobes(capture, 3255, 0.7854, tfm.Band{})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, lobe := range lobes {
		fmt.Printf("lobe at %.0f°, %.0f dB\n", lobe.Angle*57.3, lobe.LevelDB)
	}
	// Output:
	// lobe at -22°, -26 dB
}

func ExampleNewContrast() {
	// A region of strong grains on the left, and one of weak grains on the right (invented).
	left := []float32{3, 5, 4, 6, 2, 4, 5, 3}
	right := []float32{1, 2, 1, 1, 0, 2, 1, 3}
	contrast, err := quality.NewContrast(left, right)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f dB, CNR %.2f, GCNR %.2f\n", contrast.RatioDB, contrast.CNR, contrast.GCNR)
	// Output:
	// 9.3 dB, CNR 1.64, GCNR 0.75
}

func ExampleAveragingGain() {
	// 32 frames of an echo that stays and of noise that does not (invented).
	rng := rand.New(rand.NewPCG(1, 1))
	var frames []*fmc.Capture
	for range 32 {
		f := &fmc.Capture{Pairs: fmc.FullPairs(1), Samples: 1000, Data: make([]float32, 1000)}
		for k := range f.Data {
			f.Data[k] = float32(20*rng.NormFloat64() + 500*math.Sin(float64(k)/10))
		}
		frames = append(frames, f)
	}
	gains, err := quality.AveragingGain(frames)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, g := range gains {
		fmt.Printf("average of %2d: noise %4.1f, gain %4.1f of %4.1f dB\n", g.Frames, g.Noise, g.GainDB, g.IdealDB)
	}
	// Output:
	// average of  1: noise 20.1, gain  0.0 of  0.0 dB
	// average of  2: noise 14.1, gain  3.1 of  3.0 dB
	// average of  4: noise 10.0, gain  6.0 of  6.0 dB
	// average of  8: noise  7.0, gain  9.2 of  9.0 dB
	// average of 16: noise  5.0, gain 12.1 of 12.0 dB
}
