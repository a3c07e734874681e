// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded_test

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
	"github.com/isochron-imaging/isochron/wedge/graded"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// parent is the parent metal of the examples.
var parent = material.Isotropic{Density: 7900, Longitudinal: 5790, Transverse: 3100}

// vWeld returns an invented V weld of austenitic metal, with grains by Ogilvy's law.
func vWeld() (*graded.Part, error) {
	edge := joint.Edge{Upper: joint.Bevel{Angle: math.Atan(17. / 30)}}
	vee, err := joint.Butt{Thickness: 30e-3, Gap: 6e-3, Left: edge, Right: edge}.Joint()
	if err != nil {
		return nil, err
	}
	law, err := graded.NewGrainLaw(vee, 1, 1)
	if err != nil {
		return nil, err
	}
	metal, err := material.FindCrystal("weld metal X6CrNi18-11")
	if err != nil {
		return nil, err
	}
	curves, err := graded.NewSlownessCurves(metal.Medium)
	if err != nil {
		return nil, err
	}
	return graded.NewWeld(nil, parent, curves, law, vee)
}

// Longitudinal waves of six elements in contact with the parent metal pass into an austenitic V
// weld. If the weld is taken for isotropic, like the parent metal, the times are wrong by 7 to 26
// ns. The image then shows a reflector at the wrong place. This place is here the point at which
// the true times differ from the assumed times most nearly by a constant.
func Example() {
	weld, err := vWeld()
	if err != nil {
		fmt.Println(err)
		return
	}
	var elements, around []r3.Vec
	for i := range 6 {
		elements = append(elements, r3.Vec{X: -48e-3 + 4e-3*float64(i)})
	}
	focus := r3.Vec{X: 5e-3, Z: 24e-3} // as the isotropic delays have it
	for z := -3.; z <= 3; z += 0.5 {
		for x := -3.; x <= 3; x += 0.5 {
			around = append(around, r3.Add(focus, r3.Vec{X: x * 1e-3, Z: z * 1e-3}))
		}
	}
	times, err := weld.Times(context.Background(), graded.QuasiLongitudinal, elements, around, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	// errors returns true less assumed times, and their standard deviation.
	errors := func(point int) (all []float64, scatter float64) {
		var sum, squares float64
		for e, from := range elements {
			assumed := r3.Norm(r3.Sub(focus, from)) / parent.Longitudinal
			d := float64(times.Seconds[e*times.Points+point]) - assumed
			all = append(all, d)
			sum, squares = sum+d, squares+d*d
		}
		n := float64(len(all))
		return all, math.Sqrt(max(squares/n-sum*sum/n/n, 0))
	}
	all, _ := errors(len(around) / 2) // at the focus itself
	for e, d := range all {
		fmt.Printf("element at %.0f mm: %+.0f ns\n", elements[e].X*1e3, d*1e9)
	}
	best, least := 0, math.Inf(1)
	for p := range around {
		if _, scatter := errors(p); scatter < least {
			best, least = p, scatter
		}
	}
	shift := r3.Sub(around[best], focus)
	fmt.Printf("focus shifted by %+.1f mm along x, %+.1f mm in depth\n", shift.X*1e3, shift.Z*1e3)
	// Output:
	// element at -48 mm: -26 ns
	// element at -44 mm: -24 ns
	// element at -40 mm: -21 ns
	// element at -36 mm: -17 ns
	// element at -32 mm: -12 ns
	// element at -28 mm: -7 ns
	// focus shifted by -1.0 mm along x, -1.0 mm in depth
}

// A half-skip view of the same weld. Transverse waves go down to the back wall and up into the upper
// part of the weld, and come back directly: the view TT-T. The tables give a plan as any other tables.
// Delays for an isotropic plate are wrong, so they show a reflector at the wrong place, as in the
// example of the package.
func ExampleOptions_skips() {
	weld, err := vWeld()
	if err != nil {
		fmt.Println(err)
		return
	}
	var elements []r3.Vec
	for i := range 4 {
		elements = append(elements, r3.Vec{X: -68e-3 + 8e-3*float64(i)})
	}
	capture, err := fmc.New(fmc.Capture{
		Array: fmc.Array{Elements: elements, CentreFrequency: 2.25e6, Bandwidth: 0.6, Width: 3e-3},
		Pairs: fmc.FullPairs(len(elements)), Samples: 2048, SampleRate: 25e6,
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	focus := r3.Vec{X: -6e-3, Z: 12e-3} // as the isotropic delays have it
	grid := tfm.Grid{Origin: r3.Vec{X: -12e-3, Z: 6e-3}, Step: r3.Vec{X: 0.5e-3, Y: 1, Z: 0.5e-3}, Cols: 25, Rows: 25, Slices: 1}
	ctx, wave := context.Background(), graded.QuasiShearVertical
	direct, err := weld.Interpolate(ctx, wave, elements, grid, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	skip, err := weld.Interpolate(ctx, wave, elements, grid, &graded.Options{Skips: []graded.Polarisation{wave}})
	if err != nil {
		fmt.Println(err)
		return
	}
	if _, err := tfm.NewPlan(capture, grid, skip, direct, nil); err != nil {
		fmt.Println(err)
		return
	}
	// scatter returns the standard deviation of the true less the assumed times of all pairs.
	scatter := func(point int) float64 {
		var sum, squares, n float64
		for e, from := range elements {
			for r, to := range elements {
				mirrored := math.Hypot(focus.X-from.X, 60e-3-focus.Z) // the way by the back wall, unfolded
				assumed := (mirrored + math.Hypot(focus.X-to.X, focus.Z)) / parent.Transverse
				d := float64(skip.Seconds[e*skip.Points+point]) + float64(direct.Seconds[r*direct.Points+point]) - assumed
				sum, squares, n = sum+d, squares+d*d, n+1
			}
		}
		return math.Sqrt(max(squares/n-sum*sum/n/n, 0))
	}
	best := 0
	for p := range grid.Len() {
		if scatter(p) < scatter(best) {
			best = p
		}
	}
	shift := r3.Sub(grid.Point(best), focus)
	fmt.Printf("TT-T: focus shifted by %+.1f mm along x, %+.1f mm in depth\n", shift.X*1e3, shift.Z*1e3)
	// Output:
	// TT-T: focus shifted by -3.0 mm along x, +2.5 mm in depth
}

// Three qSV rays lead from an element through the weld to one point of the back wall behind it.
// They pass at different depths and arrive at nearly the same time.
func ExamplePart_Rays() {
	weld, err := vWeld()
	if err != nil {
		fmt.Println(err)
		return
	}
	rays, err := weld.Rays(graded.QuasiShearVertical, r3.Vec{X: -30e-3}, r3.Vec{X: 30e-3, Z: 30e-3},
		nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, r := range rays {
		deepest := 0.0
		for _, p := range r.Points {
			if math.Abs(p.X) < 1e-3 {
				deepest = max(deepest, p.Z)
			}
		}
		fmt.Printf("%.2f µs, across the centre line at a depth of %.0f mm\n", r.Time*1e6,
			deepest*1e3)
	}
	// Output:
	// 21.18 µs, across the centre line at a depth of 14 mm
	// 21.20 µs, across the centre line at a depth of 10 mm
	// 21.34 µs, across the centre line at a depth of 20 mm
}

// A table for an image is interpolated between some hundred rays. It is compared with the exact times
// of some of its points.
func ExamplePart_Interpolate() {
	weld, err := vWeld()
	if err != nil {
		fmt.Println(err)
		return
	}
	elements := []r3.Vec{{X: -36e-3}, {X: -30e-3}}
	grid := wedge.Grid{
		Origin: r3.Vec{X: -8e-3, Z: 8e-3}, Step: r3.Vec{X: 0.1e-3, Y: 1e-3, Z: 0.1e-3},
		Cols: 161, Rows: 201, Slices: 1,
	}
	ctx := context.Background()
	table, err := weld.Interpolate(ctx, graded.QuasiLongitudinal, elements, grid, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	var points []r3.Vec
	const every = 3001
	for i := 0; i < grid.Len(); i += every {
		points = append(points, grid.Point(i))
	}
	exact, err := weld.Times(ctx, graded.QuasiLongitudinal, elements, points, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	worst := 0.0
	for e := range elements {
		for i := range points {
			got, want := table.Seconds[e*table.Points+i*every], exact.Seconds[e*exact.Points+i]
			worst = max(worst, math.Abs(float64(got-want)))
		}
	}
	fmt.Printf("%d times, %d of them missing\n", len(table.Seconds), table.Missing)
	fmt.Println("fewer than 2,000 rays:", table.Rays < 2000)
	fmt.Println("errors at the checks below 1 ns:", table.Error < 1e-9)
	fmt.Println("errors at the compared points below 1 ns:", worst < 1e-9)
	// Output:
	// 64722 times, 0 of them missing
	// fewer than 2,000 rays: true
	// errors at the checks below 1 ns: true
	// errors at the compared points below 1 ns: true
}

// Near its axis of symmetry zinc has a dented qSV curve: three qSV waves travel in the same
// direction. Beyond the dent only one is left. The element is in contact with a block whose axis is
// upright.
func ExampleBlock_Rays() {
	zinc, err := material.FindCrystal("zinc")
	if err != nil {
		fmt.Println(err)
		return
	}
	curves, err := graded.NewSlownessCurves(zinc.Medium)
	if err != nil {
		fmt.Println(err)
		return
	}
	surface, err := wedge.HorizontalPlane(0)
	if err != nil {
		fmt.Println(err)
		return
	}
	block := &graded.Block{Entry: surface, Curves: curves, Axis: math.Pi / 2}
	for _, x := range []float64{2e-3, 4e-3, 6e-3, 8e-3} {
		rays, err := block.Rays(graded.QuasiShearVertical, r3.Vec{}, r3.Vec{X: x, Z: 20e-3})
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("to x = %2.0f mm:", x*1e3)
		for _, r := range rays {
			fmt.Printf("  %.2f µs (normal at %.0f°)", r.Time*1e6, r.Phase*180/math.Pi)
		}
		fmt.Println()
	}
	// Output:
	// to x =  2 mm:  8.62 µs (normal at 91°)  9.33 µs (normal at 112°)  10.21 µs (normal at 64°)
	// to x =  4 mm:  8.59 µs (normal at 93°)  8.97 µs (normal at 109°)  10.71 µs (normal at 62°)
	// to x =  6 mm:  8.54 µs (normal at 94°)  8.67 µs (normal at 106°)  11.25 µs (normal at 60°)
	// to x =  8 mm:  11.82 µs (normal at 58°)
}

// Grains that were measured on a lattice take the place of the grain law. Here the lattice is
// sampled from the law itself, at a spacing of 1 mm. The times of both differ by less than 0.1 ns.
func ExampleMeasuredGrains() {
	edge := joint.Edge{Upper: joint.Bevel{Angle: math.Atan(17. / 30)}}
	vee, err := joint.Butt{Thickness: 30e-3, Gap: 6e-3, Left: edge, Right: edge}.Joint()
	if err != nil {
		fmt.Println(err)
		return
	}
	law, err := graded.NewGrainLaw(vee, 1, 1)
	if err != nil {
		fmt.Println(err)
		return
	}
	lattice := graded.MeasuredGrains{X: -24e-3, StepX: 1e-3, StepZ: 1e-3, Rows: 31, Columns: 49}
	for row := range lattice.Rows {
		for column := range lattice.Columns {
			at := r3.Vec{X: lattice.X + 1e-3*float64(column), Z: 1e-3 * float64(row)}
			lattice.Angles = append(lattice.Angles, law.At(at).Angle)
		}
	}
	measured, err := lattice.Texture()
	if err != nil {
		fmt.Println(err)
		return
	}
	metal, err := material.FindCrystal("weld metal X6CrNi18-11")
	if err != nil {
		fmt.Println(err)
		return
	}
	curves, err := graded.NewSlownessCurves(metal.Medium)
	if err != nil {
		fmt.Println(err)
		return
	}
	var times []float64
	for _, texture := range []graded.Texture{law, measured} {
		weld, err := graded.NewWeld(nil, parent, curves, texture, vee)
		if err != nil {
			fmt.Println(err)
			return
		}
		element, point := r3.Vec{X: -40e-3}, r3.Vec{X: 6e-3, Z: 22e-3}
		ray, err := weld.Ray(graded.QuasiLongitudinal, element, point, nil)
		if err != nil {
			fmt.Println(err)
			return
		}
		times = append(times, ray.Time)
	}
	fmt.Printf("%.3f µs by the law\n", times[0]*1e6)
	fmt.Println("within 0.1 ns by the measured grains:", math.Abs(times[1]-times[0]) < 0.1e-9)
	// Output:
	// 8.777 µs by the law
	// within 0.1 ns by the measured grains: true
}

// Three qSV rays from an element lead to one point behind the weld. The first ray is 37 dB weaker
// than the second. It has passed a caustic where the slowness curve is concave.
func ExamplePart_Amplitudes() {
	weld, err := vWeld()
	if err != nil {
		fmt.Println(err)
		return
	}
	element, point := r3.Vec{X: -30e-3}, r3.Vec{X: 14e-3, Z: 24e-3}
	amplitudes, err := weld.Amplitudes(graded.QuasiShearVertical, element, point, nil, nil)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, a := range amplitudes {
		fmt.Printf("%.2f µs: %.1f dB, caustic index %d\n", a.Time*1e6, 20*math.Log10(cmplx.Abs(a.Value())), a.Caustics)
	}
	// Output:
	// 15.68 µs: -23.6 dB, caustic index -1
	// 15.78 µs: 13.5 dB, caustic index 0
	// 15.83 µs: 9.9 dB, caustic index 0
}

// The grains of a weld with one bevel by the assumed law of heat flow, and a ray through the weld
// from the side of the square edge. The sizes are invented.
func ExampleNewGrowth() {
	const mm, degree = 1e-3, math.Pi / 180
	bevel := joint.Edge{Upper: joint.Bevel{Angle: 45 * degree}}
	weld, err := joint.Butt{Thickness: 20 * mm, Gap: 3 * mm, Right: bevel}.Joint()
	if err != nil {
		log.Fatal(err)
	}
	grains, err := graded.NewGrowth(weld)
	if err != nil {
		log.Fatal(err)
	}
	for _, x := range []float64{-1, 2, 5, 8} {
		angle := grains.At(r3.Vec{X: x * mm, Z: 10 * mm}).Angle
		fmt.Printf("x = %2.0f mm: %.0f° above the surface\n", x, -angle/degree)
	}
	metal, err := material.FindCrystal("weld metal X6CrNi18-11")
	if err != nil {
		log.Fatal(err)
	}
	curves, err := graded.NewSlownessCurves(metal.Medium)
	if err != nil {
		log.Fatal(err)
	}
	part, err := graded.NewWeld(nil, parent, curves, grains, weld)
	if err != nil {
		log.Fatal(err)
	}
	ray, err := part.Ray(graded.QuasiLongitudinal, r3.Vec{X: -20 * mm}, r3.Vec{X: 8 * mm, Z: 15 * mm}, nil)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%v, %.2f µs\n", ray.Status, ray.Time*1e6)
	// Output:
	// x = -1 mm: 38° above the surface
	// x =  2 mm: 68° above the surface
	// x =  5 mm: 92° above the surface
	// x =  8 mm: 103° above the surface
	// OK, 5.45 µs
}
