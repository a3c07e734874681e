// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package volume_test

import (
	"context"
	"fmt"
	"log"
	"math"
	"os"
	"path/filepath"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/flaw"
	"github.com/isochron-imaging/isochron/sizing/volume"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/stack"
	"github.com/isochron-imaging/isochron/tfm/stream"
)

// The two strongest flaws of the scan of an invented weld of 16 mm, in steps of 2.25 mm. In
// weld16.truth.json a crack at the root lies from 37.4 to 49.1 mm, and a lack of fusion from 7.8 to
// 22.0 mm. One frame of the crack is taken out.
func Example() {
	ctx := context.Background()
	line, closeAll, err := imageWeld(ctx)
	if err != nil {
		log.Fatal(err)
	}
	defer closeAll()
	beam := func(at r3.Vec) (sizing.Beam, error) { // elements of 10 mm; the path in the wedge is left out
		return volume.ElementBeam(10e-3, 4e6, 3230*math.Hypot(at.X, at.Z))
	}
	found, err := volume.Find(ctx, line, &volume.Options{Floor: -10, Beam: beam, Bridge: 1})
	if err != nil {
		log.Fatal(err)
	}
	var flaws []flaw.Flaw
	for _, f := range found[:2] {
		fmt.Printf("%d: s from %.1f to %.1f mm, %v, bridged %d, %v\n", f.ID, f.Drop.From*1e3, f.Drop.To*1e3, f.LengthIs, f.Bridged, f.States)
		fmt.Printf("   best section: frame %d\n", line.Frame(f.Best(1)[0]).Index)
		flaws = append(flaws, f.Flaw())
	}
	groups, err := flaw.Interact(flaws, flaw.Rule{S: flaw.Gap{Shorter: 1}}) // once the shorter one
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("by this rule they count as %d flaws\n", len(groups))
	// Output:
	// 1: s from 37.3 to 49.0 mm, measured, bridged 1, no ray, blank
	//    best section: frame 20
	// 2: s from 7.9 to 22.0 mm, measured, bridged 0, complete
	//    best section: frame 7
	// by this rule they count as 2 flaws
}

// imageWeld images a scan of testdata in the view TT-T.
func imageWeld(ctx context.Context) (line *volume.Line, closeAll func(), err error) {
	file, err := npy.OpenScan("../../testdata/scan/weld16.json", nil)
	if err != nil {
		return nil, nil, err
	}
	defer file.Close()
	setup, err := file.Record().Geometry()
	if err != nil {
		return nil, nil, err
	}
	grid, err := tfm.NewSection(20e-3, 42e-3, 3e-3, 17e-3, 0.25e-3)
	if err != nil {
		return nil, nil, err
	}
	plan, err := tfm.PlanView(ctx, file.Record().Capture, setup, "TT-T", grid, nil)
	if err != nil {
		return nil, nil, err
	}
	folder, err := os.MkdirTemp("", "volume")
	if err != nil {
		return nil, nil, err
	}
	name := filepath.Join(folder, "weld.json")
	layout := &stack.Layout{Frames: 40, Pitch: 2.25e-3, Views: []stack.View{{Name: "TT-T", Reference: 4000}}}
	if _, err := stack.Image(ctx, name, []*tfm.Plan{plan}, layout, stream.CaptureSource(plan, file.Next), nil); err != nil {
		return nil, nil, err
	}
	s, err := stack.Open(name)
	if err != nil {
		return nil, nil, err
	}
	line, err = volume.NewLine(s, 0, func(f stack.Frame) bool { return f.Index != 19 })
	return line, func() { s.Close(); os.RemoveAll(folder) }, err
}

// An invented hill in the volume of a matrix array: 1.5 mm wide along x and z, 12 mm long along y.
func ExampleNewBlock() {
	grid, err := tfm.NewVolume(r3.Vec{X: -4e-3, Y: -10e-3, Z: 6e-3}, r3.Vec{X: 4e-3, Y: 10e-3, Z: 14e-3}, r3.Vec{X: 0.4e-3, Y: 0.5e-3, Z: 0.4e-3})
	if err != nil {
		log.Fatal(err)
	}
	env := &tfm.Envelope{Grid: grid, Data: make([]float32, grid.Len())}
	for p := range env.Data {
		at := env.Point(p)
		x, y, z := (at.X-1e-3)/1.5e-3, at.Y/12e-3, (at.Z-10e-3)/1.5e-3
		env.Data[p] = float32(math.Exp(-4 * math.Ln2 * (x*x + y*y + z*z)))
	}
	block, err := volume.NewBlock(env)
	if err != nil {
		log.Fatal(err)
	}
	found, err := volume.Find(context.Background(), block, nil)
	if err != nil {
		log.Fatal(err)
	}
	for _, f := range found {
		fmt.Printf("x %.2f mm, y %.2f mm, z %.2f mm, length %.1f mm, %v without a beam\n", f.X*1e3, f.S*1e3, f.Z*1e3, f.Drop.Length()*1e3, f.LengthIs)
	}
	heights, err := volume.Heights(block, &found[0], 2, nil)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("height of the contour in section %d: %.1f mm\n", heights[0].Section, (heights[0].ExtentZ[1]-heights[0].ExtentZ[0])*1e3)
	// Output:
	// x 1.00 mm, y 0.00 mm, z 10.00 mm, length 12.0 mm, unresolved without a beam
	// height of the contour in section 20: 1.4 mm
}

// The beam of elements of 10 mm at 5 MHz in steel, 20 and 100 mm away.
func ExampleElementBeam() {
	for _, r := range []float64{20e-3, 100e-3} {
		beam, err := volume.ElementBeam(10e-3, 5e6, 5920*r)
		if err != nil {
			log.Fatal(err)
		}
		from, to := beam.Point(sizing.SixDB)
		fmt.Printf("%.1f mm\n", (from+to)*1e3)
	}
	// Output:
	// 6.7 mm
	// 10.6 mm
}
