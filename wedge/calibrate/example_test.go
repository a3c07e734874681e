// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate_test

import (
	"fmt"
	"log"
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/wedge/calibrate"
)

// The wedge of a reference capture is found from the echoes of its floor. The known values are the
// pitch of the array and the speed in the wedge, to 0.1 %. The true values are 36°, and 6 mm from
// the floor to the first element.
func ExampleFace() {
	record, err := npy.ReadFile("../../testdata/weld32.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	arrivals, err := calibrate.Pick(record.Capture, nil)
	if err != nil {
		log.Fatal(err)
	}
	elements := make([]r3.Vec, 32)
	for i := range elements {
		elements[i].X = (float64(i) - 15.5) * 0.6e-3
	}
	c, err := calibrate.Face(elements, arrivals, &calibrate.Options{
		Speed: calibrate.Estimate{Value: 2340, Uncertainty: 2.3},
		// Half a period. The delay of the instrument is known to a twentieth of a period.
		Tolerance: 0.125e-6,
	})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("wedge angle   %.2f° ± %.2f°\n", c.Angle.Value*180/math.Pi, c.Angle.Uncertainty*180/math.Pi)
	fmt.Printf("first element %.2f mm ± %.2f mm above the floor\n", c.Heights[0].Value*1e3, c.Heights[0].Uncertainty*1e3)
	fmt.Printf("in front of the exit point by %.1f mm\n", -c.Elements()[0].X*1e3)
	// Output:
	// wedge angle   35.98° ± 0.04°
	// first element 6.01 mm ± 0.02 mm above the floor
	// in front of the exit point by 15.9 mm
}
