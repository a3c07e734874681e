// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm_test

import (
	"context"
	"fmt"
	"log"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// A weld in two views in one pass. The direct view T-T shows the fusion face, and the view TT-T by
// a skip shows the notch at the root. The references are the peaks of the views, for want of a
// calibration reflector: the fused levels are then not comparable, but each pixel names its view.
func ExamplePlanViews() {
	ctx := context.Background()
	record, err := npy.ReadFile("../testdata/weld32.json", nil)
	if err != nil {
		log.Fatal(err)
	}
	setup, err := record.Geometry()
	if err != nil {
		log.Fatal(err)
	}
	grid, err := tfm.NewSection(12e-3, 26e-3, 4e-3, 15.6e-3, 0.2e-3)
	if err != nil {
		log.Fatal(err)
	}
	names := []string{"T-T", "TT-T"}
	views, err := tfm.PlanViews(ctx, record.Capture, setup, names, grid, nil)
	if err != nil {
		log.Fatal(err)
	}
	images, err := views.Images(ctx, record.Capture)
	if err != nil {
		log.Fatal(err)
	}
	var envelopes []*tfm.Envelope
	var references []tfm.Reference
	for _, image := range images {
		envelope := image.Envelope(nil)
		peak, _ := envelope.Peak()
		envelopes = append(envelopes, envelope)
		references = append(references, tfm.Reference{Amplitude: peak})
	}
	fused, err := tfm.Fuse(nil, envelopes, references)
	if err != nil {
		log.Fatal(err)
	}
	for i, envelope := range envelopes {
		_, index := envelope.Peak()
		at := fused.Point(index)
		fmt.Printf("peak of %s at x = %.1f mm, z = %.1f mm: from %s\n", names[i], at.X*1e3, at.Z*1e3, names[fused.View[index]])
	}
	// Output:
	// peak of T-T at x = 19.4 mm, z = 10.0 mm: from T-T
	// peak of TT-T at x = 16.0 mm, z = 15.6 mm: from TT-T
}

// A coherence finds the echoes, and the amplitudes size them.
func ExampleImage_WeightedEnvelope() {
	ctx := context.Background()
	plate, capture := plateWithPoint()
	grid, err := tfm.NewSection(-6e-3, 6e-3, 8e-3, 16e-3, 0.1e-3)
	if err != nil {
		log.Fatal(err)
	}
	plan, err := tfm.PlanView(ctx, capture, plate, "L-L", grid, &tfm.Options{Coherence: tfm.CoherenceFactor})
	if err != nil {
		log.Fatal(err)
	}
	image, err := plan.Image(ctx, capture)
	if err != nil {
		log.Fatal(err)
	}
	weighted, err := image.WeightedEnvelope(nil, 1)
	if err != nil {
		log.Fatal(err)
	}
	_, err = sizing.Find(weighted, nil)
	fmt.Println("refused:", err != nil)
	found, err := sizing.Find(weighted, &sizing.Options{Amplitudes: image.Envelope(nil)})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("x = %.1f mm, z = %.1f mm, coherence factor %.1f\n", found[0].X*1e3, found[0].Z*1e3, image.Coherence[found[0].Pixel])
	// Output:
	// refused: true
	// x = 1.0 mm, z = 12.0 mm, coherence factor 1.0
}
