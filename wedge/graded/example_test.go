// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded_test

import (
	"context"
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge/graded"
)

// An invented V weld of austenitic metal is inspected with longitudinal waves
// from six elements in contact with the parent metal. Taken for isotropic, like the
// parent, it gives times that are wrong by 7 to 26 ns, and shows
// what is in it in the wrong place: here, where the true times come nearest to
// the assumed ones, but for a constant.
func Example() {
	parent := material.Isotropic{Density: 7900, Longitudinal: 5790, Transverse: 3100}
	metal, _ := material.FindCrystal("weld metal X6CrNi18-11")
	crystal, err := graded.NewCrystal(metal.Medium)
	if err != nil {
		fmt.Println(err)
		return
	}
	vee := graded.Preparation{Root: 30e-3, Cap: 0, HalfRoot: 3e-3, Bevel: math.Atan(17. / 30)}
	law := graded.Law{Preparation: vee, T: 1, Eta: 1}
	weld, err := graded.NewWeld(nil, parent, crystal, law, vee)
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
	times, err := weld.Times(context.Background(), graded.QL, elements, around, nil)
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

// Three qSV rays lead from an element through the invented weld to one point of the back wall
// behind it, at different depths and nearly at once.
func ExamplePart_Rays() {
	parent := material.Isotropic{Density: 7900, Longitudinal: 5790, Transverse: 3100}
	metal, _ := material.FindCrystal("weld metal X6CrNi18-11")
	crystal, err := graded.NewCrystal(metal.Medium)
	if err != nil {
		fmt.Println(err)
		return
	}
	vee := graded.Preparation{Root: 30e-3, Cap: 0, HalfRoot: 3e-3, Bevel: math.Atan(17. / 30)}
	weld, err := graded.NewWeld(nil, parent, crystal, graded.Law{Preparation: vee, T: 1, Eta: 1}, vee)
	if err != nil {
		fmt.Println(err)
		return
	}
	rays, err := weld.Rays(graded.QSV, r3.Vec{X: -30e-3}, r3.Vec{X: 30e-3, Z: 30e-3}, nil)
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
		fmt.Printf("%.2f µs, across the centre line at a depth of %.0f mm\n", r.Time*1e6, deepest*1e3)
	}
	// Output:
	// 21.18 µs, across the centre line at a depth of 14 mm
	// 21.20 µs, across the centre line at a depth of 10 mm
	// 21.34 µs, across the centre line at a depth of 20 mm
}
