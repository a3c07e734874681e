// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package picture_test

import (
	"fmt"
	"log"
	"os"
	"path/filepath"

	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/tfm/picture"
)

// Write two drawings beside each other: a plate, and a part of it.
func ExampleWriteFile() {
	folder, err := os.MkdirTemp("", "")
	if err != nil {
		log.Fatal(err)
	}
	defer os.RemoveAll(folder)
	backWall := []picture.Line{{Points: []r2.Vec{{X: 0, Y: 10e-3}, {X: 40e-3, Y: 10e-3}}, Name: "back wall"}}
	name := filepath.Join(folder, "plate.svg")
	err = picture.WriteFile(name, &picture.Panels{
		Title: "a plate",
		Pictures: []picture.Picture{
			&picture.Drawing{Title: "the plate", To: r2.Vec{X: 40e-3, Y: 12e-3}, Lines: backWall},
			&picture.Drawing{Title: "its left end", To: r2.Vec{X: 10e-3, Y: 12e-3}, Lines: backWall},
		},
	})
	if err != nil {
		log.Fatal(err)
	}
	info, err := os.Stat(name)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Println(info.Name(), info.Size() > 1000)
	// Output: plate.svg true
}
