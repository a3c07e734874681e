// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/wedge"
	"github.com/isochron-imaging/isochron/wedge/joint"
)

// Where a point lies in a plate with a V weld, and the beam that reaches it after one skip.
func ExamplePart_Position() {
	edge := joint.Edge{Upper: joint.Bevel{Angle: math.Pi / 6}}
	weld, err := joint.Butt{Thickness: 20e-3, Gap: 3e-3, RootFace: 2e-3, Left: edge, Right: edge}.Joint()
	if err != nil {
		fmt.Println(err)
		return
	}
	near, _ := wedge.HorizontalPlane(0)
	far, _ := wedge.HorizontalPlane(20e-3)
	wall, err := sizing.NewWall(near, far)
	if err != nil {
		fmt.Println(err)
		return
	}
	part := sizing.Part{Wall: wall, Weld: weld.Shifted(r2.Vec{X: 50e-3}), HeatAffected: 3e-3}

	point := r3.Vec{X: 43e-3, Z: 9e-3}
	at := part.Position(point)
	fmt.Printf("depth %.1f mm, %.1f mm from the far surface\n", at.Depth*1e3, at.Remaining*1e3)
	fmt.Printf("%s, %.1f mm from the centre line\n", at.Weld.Zone, at.Weld.FromCentre*1e3)
	face := at.Weld.Faces[at.Weld.Nearest]
	fmt.Printf("%.2f mm from the %s\n", face.Distance*1e3, face.Face)

	beam, err := wall.Unfold(r3.Vec{X: 2e-3}, point, 2)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("leg %d: %.0f°, sound path %.1f mm, surface distance %.1f mm, unfolded depth %.1f mm\n",
		beam.Leg, beam.Angle*180/math.Pi, beam.SoundPath*1e3, beam.Surface*1e3, beam.Depth*1e3)
	// Output:
	// depth 9.0 mm, 11.0 mm from the far surface
	// heat-affected zone, -7.0 mm from the centre line
	// 0.26 mm from the left bevel
	// leg 2: 53°, sound path 51.4 mm, surface distance 41.0 mm, unfolded depth 31.0 mm
}
