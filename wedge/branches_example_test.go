// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge_test

import (
	"context"
	"fmt"
	"log"
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// Several rays lead through a wavy surface to a point. An image of all of them has a stronger echo
// over equal noise than an image of the first rays. All numbers are invented.
func ExamplePath_Branches() {
	var profile []r3.Vec
	for x := -30.0; x <= 30; x += 0.5 {
		profile = append(profile, r3.Vec{X: x * 1e-3, Z: 1e-3 * math.Sin(0.5*x)})
	}
	entry, err := wedge.NewProfile(profile)
	if err != nil {
		log.Fatal(err)
	}
	water := material.Isotropic{Density: 998, Longitudinal: 1480}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230}
	setup := wedge.Setup{Coupling: &water, Part: steel, Entry: entry}
	path, err := setup.Path([]material.Mode{material.L})
	if err != nil {
		log.Fatal(err)
	}
	array := fmc.Array{Width: 0.8e-3, CentreFrequency: 5e6, Bandwidth: 0.6}
	for k := range 8 {
		array.Elements = append(array.Elements, r3.Vec{X: float64(k-3) * 1e-3, Z: -15e-3})
	}
	reflector := r3.Vec{X: 3.5e-3, Z: 14e-3}
	rays, err := path.Branches(context.Background(), array.Elements, []r3.Vec{reflector}, nil)
	if err != nil {
		log.Fatal(err)
	}
	for k, table := range rays.Times {
		fmt.Printf("%.2f µs, amplitude %.0f\n", table.Seconds[4]*1e6, rays.Amplitudes[k][4])
	}

	// The echoes of the reflector along all rays.
	capture, err := fmc.New(fmc.Capture{
		Array: array, Pairs: fmc.FullPairs(len(array.Elements)), Samples: 512, SampleRate: 50e6, FirstSample: 23e-6,
	})
	if err != nil {
		log.Fatal(err)
	}
	for p, pair := range capture.Pairs {
		for k, sends := range rays.Times {
			for l, receives := range rays.Times {
				amplitude := complex128(rays.Amplitudes[k][pair.Tx] * rays.Amplitudes[l][pair.Rx])
				time := float64(sends.Seconds[pair.Tx] + receives.Seconds[pair.Rx])
				for n := range capture.Samples {
					if at := capture.Time(n) - time; math.Abs(at) < 1e-6 {
						wave := amplitude * cmplx.Exp(complex(0, -2*math.Pi*array.CentreFrequency*at))
						capture.Trace(p)[n] += float32(math.Exp(-math.Pow(at/0.15e-6, 2)) * real(wave))
					}
				}
			}
		}
	}

	grid, err := tfm.NewSection(1.5e-3, 5.5e-3, 12e-3, 16e-3, 0.1e-3)
	if err != nil {
		log.Fatal(err)
	}
	all, err := path.Branches(context.Background(), array.Elements, grid.Points(), nil)
	if err != nil {
		log.Fatal(err)
	}
	// peak prints where the image is strongest, and returns its level there.
	peak := func(name string, branches *wedge.Branches) float64 {
		plan, err := tfm.NewBranchPlan(capture, grid, branches, branches, nil)
		if err != nil {
			log.Fatal(err)
		}
		image, err := plan.Image(context.Background(), capture)
		if err != nil {
			log.Fatal(err)
		}
		best, level := 0, 0.0
		for i, v := range image.Data {
			if size := cmplx.Abs(complex128(v)); size > level {
				best, level = i, size
			}
		}
		at := grid.Point(best)
		fmt.Printf("%s: x = %.1f mm, z = %.1f mm\n", name, at.X*1e3, at.Z*1e3)
		return level
	}
	first := &wedge.Branches{Times: all.Times[:1], Amplitudes: all.Amplitudes[:1]}
	gain := peak("all rays", all) / peak("first rays", first)
	fmt.Printf("gain over equal noise: %.0f dB\n", 20*math.Log10(gain))
	// Output:
	// 12.45 µs, amplitude (1+0i)
	// 13.16 µs, amplitude (1+0i)
	// 13.17 µs, amplitude (0-1i)
	// all rays: x = 3.6 mm, z = 14.0 mm
	// first rays: x = 3.5 mm, z = 14.0 mm
	// gain over equal noise: 7 dB
}
