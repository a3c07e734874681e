// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package tfm_test

import (
	"context"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/tfm"
)

// TestCoherenceOfHoles adds seeded noise to a full-wave capture of four holes. In the weighted
// image the peak of each hole must stay where the plain image has it, and the floor of noise must
// fall. In the image of the coherence factor, the floor is the floor of 256 channels of noise.
func TestCoherenceOfHoles(t *testing.T) {
	r, s := reference(t, "block16")
	rng := rand.New(rand.NewPCG(7, 16))
	peak := float32(0)
	plain := imageOf(t, r.Capture, s, "L-L", -12, 12, 6, 36, 0.2).Envelope(nil)
	for _, v := range plain.Data {
		peak = max(peak, v)
	}
	// The image of noise of this deviation has about a tenth of the strongest hole.
	deviation := 0.1 * float64(peak) / math.Sqrt(256)
	for i := range r.Capture.Data {
		r.Capture.Data[i] += float32(deviation * rng.NormFloat64())
	}
	ctx := context.Background()
	g := check.Must(tfm.NewSection(-12e-3, 12e-3, 6e-3, 36e-3, 0.2e-3))
	plan := check.Must(tfm.PlanView(ctx, r.Capture, s, "L-L", g, &tfm.Options{Coherence: tfm.CoherenceFactor}))
	image := check.Must(plan.Image(ctx, r.Capture))
	noisy, weighted := image.Envelope(nil), check.Must(image.WeightedEnvelope(nil, 1))
	for _, h := range r.Truth.Holes {
		at := r3.Vec{X: h.X, Z: h.Z}
		want, before := peakNear(noisy, at, 2e-3)
		got, after := peakNear(weighted, at, 2e-3)
		if d := r3.Norm(r3.Sub(got, want)); !(d <= 0.3e-3) {
			t.Errorf("hole at (%.1f, %.1f) mm: the weight moves its peak by %.2f mm", h.X*1e3, h.Z*1e3, d*1e3)
		}
		gain := 20 * math.Log10(after/float64(middle(weighted.Data))*float64(middle(noisy.Data))/before)
		if !(gain >= 6) {
			t.Errorf("hole at (%.1f, %.1f) mm: %.1f dB further above the floor, want 6 at least", h.X*1e3, h.Z*1e3, gain)
		}
	}
	// The factor of M channels of noise has the beta distribution (1, M-1). Most pixels show no
	// hole.
	median := 1 - math.Exp2(-1./255)
	check.Within(t, "median of the coherence factor", float64(middle(image.Coherence)), median, 0.15*median)
}

// middle returns the median.
func middle(v []float32) float32 {
	sorted := slices.Sorted(slices.Values(v))
	return sorted[len(sorted)/2]
}
