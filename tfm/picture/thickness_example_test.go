// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture_test

import (
	"fmt"
	"io"
	"log"

	"github.com/isochron-imaging/isochron/sizing/thickness"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

// A wall of 10 mm with a thin place, over four positions of a scan and two places of the array. One cell has
// no echo. The readings are invented.
func ExampleThicknessMap() {
	wall, err := thickness.NewMap([]float64{0, 1e-3, 2e-3, 3e-3}, []float64{-0.6e-3, 0.6e-3})
	if err != nil {
		log.Fatal(err)
	}
	for i := range wall.Readings {
		wall.Readings[i] = thickness.Reading{State: thickness.Measured, Thickness: 10e-3}
	}
	wall.Readings[4].Thickness = 6.5e-3
	wall.Readings[7].State = thickness.NoEcho
	p, err := picture.ThicknessMap(wall)
	if err != nil {
		log.Fatal(err)
	}
	p.Title, p.Low = "wall of 10 mm", 5
	if err := p.WritePNG(io.Discard); err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%d × %d cells, thinnest %.1f mm; without a thickness: %v\n", p.Columns, p.Rows, p.Values[2], p.Reasons)
	// Output: 4 × 2 cells, thinnest 6.5 mm; without a thickness: [no echo]
}
