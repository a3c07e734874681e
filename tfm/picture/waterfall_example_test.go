// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture_test

import (
	"bytes"
	"fmt"
	"log"

	"github.com/isochron-imaging/isochron/tfm/picture"
)

// Draw three traces that were taken every 0.5 µs from 10 µs on.
func ExampleWaterfall() {
	traces := [][]float32{{0, 1, -2, 1, 0}, {0, 0, 1, -2, 1}, {0, 1, -2, 1, 0}}
	chart := picture.Chart{
		X: picture.Axis{Label: "time / µs", From: 10, To: 12}, Y: picture.Axis{Label: "element", From: -1, To: 3},
		Lines: picture.Waterfall(traces, 10, 0.5, 0.8),
	}
	var file bytes.Buffer // or a file
	if err := chart.WritePNG(&file); err != nil {
		log.Fatal(err)
	}
	fmt.Println("largest echo of the first trace:", chart.Lines[0].Points[2])
	// Output: largest echo of the first trace: {11 -0.8}
}
