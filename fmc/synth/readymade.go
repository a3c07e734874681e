// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/material"
	"github.com/isochron-imaging/isochron/wedge"
)

// ButtWeld returns an invented butt weld of two steel plates of 16 mm, and a recording of its flaws
// as a half matrix. The weld runs along s from 0 to length, in m, 0.03 to 10. Its preparation is a
// single V: bevels of 30°, a root face of 1 mm and a gap of 2 mm; cap and root are ground flush.
// The centre line lies at x = 34 mm. An array of 2 to 128 elements, 4 MHz, stands on a wedge of
// polystyrene on the left, and sees the views T-T, TT-T and TT-TT.
//
// Each 30 mm of the weld hold one flaw. In turn it is lack of fusion on the left bevel that wanders
// in depth, a notch at the root, and a cluster of pores. Their places and sizes follow from the
// seed.
func ButtWeld(elements int, length float64, seed uint64) (*Part, Recording, error) {
	return readyWeld(elements, length, 16e-3, 0, seed)
}

// GirthWeld returns an invented girth weld in a steel pipe of 168.3 mm outer diameter and a wall of
// 14 mm, and a recording of its flaws. The array moves round the pipe and fires along its axis. The
// position s is the arc on the outside, from 0 to 528.7 mm. The array, the preparation and the
// flaws are those of [ButtWeld].
func GirthWeld(elements int, seed uint64) (*Part, Recording, error) {
	const radius = 168.3e-3 / 2
	return readyWeld(elements, 2*math.Pi*radius, 14e-3, radius, seed)
}

// readyWeld returns a weld of the given thickness.
func readyWeld(elements int, length, thickness, radius float64, seed uint64) (*Part, Recording, error) {
	if err := checkReady(elements, length); err != nil {
		return nil, Recording{}, err
	}
	polystyrene := material.Isotropic{Density: 1050, Longitudinal: 2330, Transverse: 1150}
	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230}
	setup, err := wedge.NewPlate(&polystyrene, steel, thickness)
	if err != nil {
		return nil, Recording{}, err
	}
	array, err := fmc.LinearArray(elements, 0.6e-3, fmc.Array{Width: 0.5e-3, CentreFrequency: 4e6, Bandwidth: 0.6})
	if err != nil {
		return nil, Recording{}, err
	}
	// The normal through the middle of the array meets the part at x = 0. The corner that is
	// nearest to the part lies 2 mm above it.
	const angle = 36 * math.Pi / 180
	height := 2e-3 + 0.3e-3*float64(elements)*math.Sin(angle)
	array, err = array.Place(r3.NewRotation(angle, r3.Vec{Y: 1}), r3.Vec{X: -height * math.Tan(angle), Z: -height})
	if err != nil {
		return nil, Recording{}, err
	}
	part := &Part{Radius: radius, Scene: Scene{Setup: *setup, Array: array, Length: 10e-3}}
	for _, name := range []string{"T-T", "TT-T", "TT-TT"} {
		view, err := wedge.ParseView(name)
		if err != nil {
			return nil, Recording{}, err
		}
		part.Scene.Views = append(part.Scene.Views, view)
	}
	random := rand.New(rand.NewPCG(seed, 2))
	for i := range int(length / readyCell) {
		part.Flaws = append(part.Flaws, readyFlaw(random, i, thickness))
	}
	slant := 2 * height / math.Cos(angle) / polystyrene.Longitudinal // in the wedge, both ways
	return part, Recording{
		Pairs: fmc.HalfPairs(elements), Samples: 1000, SampleRate: 50e6, FirstSample: slant + 8e-6,
	}, nil
}

// readyCell is the length of the scan that one flaw of a weld has, in m.
const readyCell = 30e-3

// readyFlaw returns flaw i of a weld.
func readyFlaw(random *rand.Rand, i int, thickness float64) Flaw {
	const centre, gap, rootFace = 34e-3, 2e-3, 1e-3
	uniform := func(from, to float64) float64 { return from + random.Float64()*(to-from) }
	extent := uniform(6e-3, 16e-3)
	from := float64(i)*readyCell + uniform(5e-3, readyCell-5e-3-extent)
	switch i % 3 {
	case 0:
		height, depth := uniform(2e-3, 4e-3), thickness*uniform(0.35, 0.5)
		var flaw Planar
		for k := range 3 {
			z := depth + uniform(-0.5e-3, 0.5e-3)
			x := func(z float64) float64 {
				return centre - gap/2 - (thickness-rootFace-z)*math.Tan(30*math.Pi/180)
			}
			flaw.Stations = append(flaw.Stations, Station{
				S: from + extent*float64(k)/2, X0: x(z - height/2), Z0: z - height/2, X1: x(z + height/2), Z1: z + height/2,
			})
		}
		return flaw
	case 1:
		height := uniform(1e-3, 3e-3)
		flaw := Planar{Rooted: true}
		for k := range 2 {
			flaw.Stations = append(flaw.Stations, Station{
				S: from + extent*float64(k), X0: centre - gap/2, Z0: thickness - height, X1: centre - gap/2, Z1: thickness,
			})
		}
		return flaw
	}
	return Pores{
		X: centre, S: from + extent/2, Z: thickness * uniform(0.4, 0.6), Width: 4e-3, Length: extent, Height: 3e-3,
		Count: 4 + random.IntN(6), Smallest: 0.5e-3, Largest: 1.5e-3, Seed: random.Uint64(),
	}
}

// CorrodedPlate returns an invented steel plate with pits in its back wall, and a recording as a
// half matrix. The plate is 12 mm thick at s = 0, and 1 mm thinner at the end of the scan, at
// length, in m, 0.03 to 10. An array in contact, of 2 to 128 elements, 5 MHz, sees the view L-L and
// the back wall. The pits have diameters of 4 to 10 mm and depths of 1 to 4 mm, one for each 20 mm
// of the scan. They lie under the array. Their places and sizes follow from the seed.
func CorrodedPlate(elements int, length float64, seed uint64) (*Part, Recording, error) {
	if err := checkReady(elements, length); err != nil {
		return nil, Recording{}, err
	}
	const thickness, loss, cell, pitch = 12e-3, 1e-3, 20e-3, 0.6e-3
	steel := material.Isotropic{Density: 7850, Longitudinal: 5900, Transverse: 3230}
	setup, err := wedge.NewPlate(nil, steel, thickness)
	if err != nil {
		return nil, Recording{}, err
	}
	array, err := fmc.LinearArray(elements, pitch, fmc.Array{Width: 0.5e-3, CentreFrequency: 5e6, Bandwidth: 0.6})
	if err != nil {
		return nil, Recording{}, err
	}
	direct, err := wedge.ParseView("L-L")
	if err != nil {
		return nil, Recording{}, err
	}
	part := &Part{
		Scene: Scene{
			Setup: *setup, Array: array, Length: 6e-3, Views: []wedge.View{direct},
			Walls: [][]material.Mode{{material.L, material.L}},
		},
		Back: func(s float64) (wedge.Surface, error) {
			return wedge.HorizontalPlane(thickness - loss*min(max(s/length, 0), 1))
		},
	}
	random := rand.New(rand.NewPCG(seed, 3))
	uniform := func(from, to float64) float64 { return from + random.Float64()*(to-from) }
	half := pitch * float64(elements) / 2
	for i := range int(length / cell) {
		diameter := uniform(4e-3, 10e-3)
		part.Flaws = append(part.Flaws, Pit{
			X: uniform(-half, half), S: float64(i)*cell + uniform(diameter/2, cell-diameter/2),
			Diameter: diameter, Depth: uniform(1e-3, 4e-3),
		})
	}
	return part, Recording{Pairs: fmc.HalfPairs(elements), Samples: 400, SampleRate: 50e6}, nil
}

// checkReady returns the error of a part that is not made.
func checkReady(elements int, length float64) error {
	if elements < 2 || elements > 128 {
		return fmt.Errorf("synth: array of %d elements: want 2 to 128", elements)
	}
	if !number.Finite(length) || !(length >= readyCell && length <= 10) {
		return fmt.Errorf("synth: length of the scan %v m: want %v to 10 m", length, readyCell)
	}
	return nil
}
