// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sensitivity

import (
	"context"
	"fmt"
	"testing"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/wedge"
)

// BenchmarkNew makes maps of 65,536 pixels for 32 elements on a wedge.
func BenchmarkNew(b *testing.B) {
	r := check.Must(npy.ReadFile("../../testdata/weld32.json", nil))
	setup := check.Must(r.Geometry())
	g := check.Must(tfm.NewSection(4e-3, 29.5e-3, 0.3e-3, 25.8e-3, 0.1e-3))
	for _, view := range []string{"T-T", "TT-T"} {
		for _, of := range []Reflector{Hole{1.5e-3}, Point{}, Planar{Length: 3e-3, Tilt: 0.5}} {
			b.Run(fmt.Sprintf("view=%s/of=%T", view, of), func(b *testing.B) {
				for b.Loop() {
					check.Must(New(context.Background(), r.Capture, setup, view, g, of, &Options{Dimension: wedge.Section}))
				}
			})
		}
	}
}

// BenchmarkCorrect measures an image of 65,536 pixels and 32 elements, and its correction.
func BenchmarkCorrect(b *testing.B) {
	ctx := context.Background()
	r := check.Must(npy.ReadFile("../../testdata/weld32.json", nil))
	setup := check.Must(r.Geometry())
	g := check.Must(tfm.NewSection(4e-3, 29.5e-3, 0.3e-3, 25.8e-3, 0.1e-3))
	plan := check.Must(tfm.PlanView(ctx, r.Capture, setup, "T-T", g, nil))
	m := check.Must(New(ctx, r.Capture, setup, "T-T", g, Hole{1.5e-3}, &Options{Dimension: wedge.Section}))
	best, _ := m.Peak()
	gain := check.Must(m.Gain(float64(best), 20))
	im, scratch := tfm.NewImage(g), plan.NewScratch()
	b.Run("image", func(b *testing.B) {
		for b.Loop() {
			if err := scratch.Reconstruct(ctx, im, r.Capture.Data); err != nil {
				b.Fatal(err)
			}
		}
	})
	b.Run("correction", func(b *testing.B) {
		for b.Loop() {
			if err := gain.Correct(im); err != nil {
				b.Fatal(err)
			}
		}
	})
}
