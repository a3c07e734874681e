// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing_test

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/tfm"
)

// BenchmarkFind lists the indications of a megapixel: of a quiet picture, forty
// blobs over nothing, and of the worst one, noise with a floor below all of it.
func BenchmarkFind(b *testing.B) {
	const side = 1000
	rng := rand.New(rand.NewPCG(1, 2))
	var blobs []blob
	for range 40 {
		blobs = append(blobs, blob{
			x: rng.Float64() * side, z: rng.Float64() * side, length: 30, width: 10, tilt: rng.Float64(), height: 0.2 + rng.Float64(),
		})
	}
	quiet := draw(b, side, side, 1, blobs...)
	noise := draw(b, side, side, 1)
	for i := range noise.Data {
		noise.Data[i] = float32(rng.ExpFloat64())
	}
	for _, bench := range []struct {
		name string
		env  *tfm.Envelope
		opt  *sizing.Options
	}{
		{"picture=blobs", quiet, nil},
		{"picture=noise", noise, &sizing.Options{Floor: -100}},
	} {
		b.Run(fmt.Sprintf("%s/pixels=%d", bench.name, side*side), func(b *testing.B) {
			n := 0
			for b.Loop() {
				found, err := sizing.Find(bench.env, bench.opt)
				if err != nil {
					b.Fatal(err)
				}
				n = len(found)
			}
			b.ReportMetric(float64(n), "indications")
		})
	}
}
