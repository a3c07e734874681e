// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"context"
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/quality"
	"github.com/isochron-imaging/isochron/wedge"
)

// invented returns a section 20 mm wide, from the surface to a depth of 15 mm, with three
// hills in it, the last one cut off by its edge. They are invented, not imaged.
func invented() *tfm.Envelope {
	grid, err := tfm.NewSection(0, 20e-3, 0, 15e-3, 0.1e-3)
	if err != nil {
		panic(err)
	}
	env := &tfm.Envelope{Grid: grid, Data: make([]float32, grid.Len())}
	hills := []blob{
		{x: 12.23e-3, z: 9.08e-3, length: 4.6e-3, width: 1.1e-3, tilt: math.Pi / 6, height: 800},
		{x: 5.17e-3, z: 4.96e-3, length: 1.2e-3, width: 1.2e-3, height: 400},
		{x: 7.00e-3, z: 14.70e-3, length: 3.0e-3, width: 1.0e-3, tilt: 1.2, height: 120},
	}
	for i := range env.Data {
		p := grid.Point(i)
		for _, hill := range hills {
			env.Data[i] += float32(hill.at(p.X, p.Z))
		}
	}
	return env
}

func ExampleFind() {
	indications, err := sizing.Find(invented(), nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println("   x, mm   z, mm  level, dB  length, mm  width, mm  tilt, degrees")
	for _, in := range indications {
		tilt := fmt.Sprintf("%.1f", in.Tilt*180/math.Pi)
		if in.Round {
			tilt = "round"
		}
		edge := ""
		if in.Edge {
			edge = "  touches the edge"
		}
		fmt.Printf("%d  %6.2f  %6.2f  %9.1f  %10.1f  %9.1f  %13s%s\n",
			in.ID, in.X*1e3, in.Z*1e3, in.LevelDB, in.Length*1e3, in.Width*1e3, tilt, edge)
	}
	// Output:
	//    x, mm   z, mm  level, dB  length, mm  width, mm  tilt, degrees
	// 1   12.23    9.08        0.0         4.6        1.1           30.0
	// 2    5.17    4.96       -6.0         1.2        1.2          round
	// 3    7.00   14.70      -16.5         2.9        1.0           73.0  touches the edge
}

func ExampleDrop() {
	// A strip of 4 mm, scanned by a beam of 2 mm: the amplitude is the part of the
	// beam's Gaussian profile that falls on it. By the convolution model a strip of
	// twice the beam's width measures 2.0197 of it by the 6 dB drop.
	const spacing = 0.25 // mm, taken as the unit here
	amplitude := func(x float64) float64 {
		a := 2 * math.Sqrt(math.Ln2) / 2
		return (math.Erf(a*(x+2)) - math.Erf(a*(x-2))) / 2
	}
	profile := make([]float64, 41)
	for i := range profile {
		profile[i] = amplitude(-5 + spacing*float64(i))
	}
	for _, drop := range []float64{sizing.SixDB, 20} {
		extent, err := sizing.Drop(profile, spacing, drop)
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("%.0f dB drop: %.2f mm, from %.2f to %.2f mm\n", drop, extent.Length(), extent.From-5, extent.To-5)
	}
	// Output:
	// 6 dB drop: 4.04 mm, from -2.02 to 2.02 mm
	// 20 dB drop: 6.22 mm, from -3.11 to 3.11 mm
}

func ExampleProfile() {
	// The drop along the long axis of the strongest indication.
	env := invented()
	indications, err := sizing.Find(env, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	in := indications[0]
	sin, cos := math.Sincos(in.Tilt)
	reach := 4e-3
	top := r3.Vec{X: in.X + reach*sin, Z: in.Z - reach*cos}
	foot := r3.Vec{X: in.X - reach*sin, Z: in.Z + reach*cos}
	profile, spacing, err := sizing.Profile(env, top, foot, 81)
	if err != nil {
		fmt.Println(err)
		return
	}
	extent, err := sizing.Drop(profile, spacing, sizing.SixDB)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f mm along its axis\n", extent.Length()*1e3)
	// Output:
	// 4.6 mm along its axis
}

func ExampleProfileAlong() {
	// A drawn flaw follows the wall of a pipe with an outer radius of 40 mm, 6 mm below the surface,
	// over 30° of arc: 17.8 mm. Its ends are 17.6 mm apart.
	const radius, depth = 40e-3, 6e-3
	grid, err := tfm.NewSection(-15e-3, 15e-3, 0, 15e-3, 0.1e-3)
	if err != nil {
		fmt.Println(err)
		return
	}
	env := &tfm.Envelope{Grid: grid, Data: make([]float32, grid.Len())}
	for i := range env.Data {
		p := grid.Point(i)
		across := math.Hypot(p.X, radius-p.Z) - (radius - depth)
		beyond := (radius - depth) * (math.Abs(math.Atan2(p.X, radius-p.Z)) - math.Pi/12)
		env.Data[i] = float32(math.Exp(-across*across/1e-6) * math.Erfc(beyond/0.5e-3))
	}
	axis := r3.Vec{Z: radius}
	outside, err := wedge.NewCylinder(axis, r3.Vec{Y: 1}, radius, wedge.Convex)
	if err != nil {
		fmt.Println(err)
		return
	}
	inside, err := wedge.NewCylinder(axis, r3.Vec{Y: 1}, 28e-3, wedge.Convex)
	if err != nil {
		fmt.Println(err)
		return
	}
	pipe, err := sizing.NewWall(outside, inside)
	if err != nil {
		fmt.Println(err)
		return
	}
	line := pipe.Line(depth, -14e-3, 14e-3, 100)
	profile, spacing, err := sizing.ProfileAlong(env, line, 400)
	if err != nil {
		fmt.Println(err)
		return
	}
	extent, err := sizing.Drop(profile, spacing, sizing.SixDB)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.1f mm along the arc\n", extent.Length()*1e3)
	// Output:
	// 17.8 mm along the arc
}

func ExampleWall_Span() {
	near, err := wedge.HorizontalPlane(0)
	if err != nil {
		fmt.Println(err)
		return
	}
	far, err := wedge.HorizontalPlane(16e-3)
	if err != nil {
		fmt.Println(err)
		return
	}
	plate, err := sizing.NewWall(near, far)
	if err != nil {
		fmt.Println(err)
		return
	}
	indications, err := sizing.Find(invented(), nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, in := range indications {
		span := plate.Span(in)
		fmt.Printf("%d  %5.1f mm along, %4.1f mm deep; ligament %4.1f mm above, %4.1f mm below\n",
			in.ID, span.Peak.Along*1e3, span.Peak.Depth*1e3, span.NearLigament*1e3, span.FarLigament*1e3)
	}
	// Output:
	// 1   12.2 mm along,  9.1 mm deep; ligament  7.1 mm above,  4.9 mm below
	// 2    5.2 mm along,  5.0 mm deep; ligament  4.4 mm above, 10.4 mm below
	// 3    7.0 mm along, 14.7 mm deep; ligament 14.0 mm above,  1.0 mm below
}

func ExampleIndication_Size() {
	// Two captures of testdata: a side-drilled hole, and lack of fusion on the bevel of a weld,
	// which is 4.6 mm long and leans by 30°.
	for _, test := range []struct {
		name           string
		x0, x1, z0, z1 float64
	}{{"sdh32", 10e-3, 17e-3, 4e-3, 11e-3}, {"weld32", 12e-3, 28e-3, 4e-3, 14e-3}} {
		envelope, spread, err := imaged(test.name, "T-T", test.x0, test.x1, test.z0, test.z1)
		if err != nil {
			fmt.Println(err)
			return
		}
		found, err := sizing.Find(envelope, &sizing.Options{Floor: -6, Spread: spread.Picture})
		if err != nil {
			fmt.Println(err)
			return
		}
		for _, in := range found {
			fmt.Printf("%s: contour of %.1f mm, point spread of %.1f mm: ", test.name, in.Length*1e3, in.Resolution.Length*1e3)
			if length, tilt, ok := in.Size(); ok {
				fmt.Printf("%.1f mm long, leans by %.0f°\n", length*1e3, tilt*180/math.Pi)
			} else {
				fmt.Println("neither length nor tilt")
			}
		}
	}
	// Output:
	// sdh32: contour of 1.1 mm, point spread of 1.1 mm: neither length nor tilt
	// weld32: contour of 3.0 mm, point spread of 1.5 mm: 3.0 mm long, leans by 30°
}

// imaged returns the picture of a capture of testdata in a view, and its point spread.
func imaged(name, view string, x0, x1, z0, z1 float64) (*tfm.Envelope, *quality.Spread, error) {
	record, err := npy.ReadFile("../testdata/"+name+".json", nil)
	if err != nil {
		return nil, nil, err
	}
	setup, err := record.Geometry()
	if err != nil {
		return nil, nil, err
	}
	grid, err := tfm.NewSection(x0, x1, z0, z1, 0.1e-3)
	if err != nil {
		return nil, nil, err
	}
	ctx := context.Background()
	plan, err := tfm.PlanView(ctx, record.Capture, setup, view, grid, nil)
	if err != nil {
		return nil, nil, err
	}
	image, err := plan.Image(ctx, record.Capture)
	if err != nil {
		return nil, nil, err
	}
	spread, err := quality.NewSpread(record.Capture, setup, view, nil)
	return image.Envelope(nil), spread, err
}

func ExampleEstimateNoise() {
	// Invented: speckle of the level 5 under a hill of 100.
	rng := rand.New(rand.NewPCG(1, 2))
	grid, err := tfm.NewSection(0, 20e-3, 0, 20e-3, 0.2e-3)
	if err != nil {
		fmt.Println(err)
		return
	}
	env := &tfm.Envelope{Grid: grid, Data: make([]float32, grid.Len())}
	hill := blob{x: 8e-3, z: 12e-3, length: 2e-3, width: 1e-3, height: 100}
	for i := range env.Data {
		p := grid.Point(i)
		echo := complex(hill.at(p.X, p.Z), 0)
		env.Data[i] = float32(cmplx.Abs(echo + complex(rng.NormFloat64(), rng.NormFloat64())*5/math.Sqrt2))
	}
	noise, err := sizing.EstimateNoise(env)
	if err != nil {
		fmt.Println(err)
		return
	}
	found, err := sizing.Find(env, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("level %.1f, floor %.0f\n", noise.Level, noise.Floor(0.02))
	for _, in := range found {
		fmt.Printf("(%.0f, %.0f) mm, %.0f dB above the noise\n", in.X*1e3, in.Z*1e3, in.SNRDB)
	}
	// Output:
	// level 5.1, floor 18
	// (8, 12) mm, 25 dB above the noise
}
