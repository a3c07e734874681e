// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package material

import (
	"math/rand/v2"
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
)

func BenchmarkScatter(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	for _, kind := range boundaryKinds {
		boundary := check.Must(kind.make(randomBoundaryMedium(rng, 0.1), randomBoundaryMedium(rng, 0.1)))
		b.Run("kind="+kind.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := boundary.Scatter(L, 0.6); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func TestScatterAllocatesNothing(t *testing.T) {
	for _, b := range []Boundary{
		check.Must(NewBoundary(boundaryAcrylic, boundarySteel, LiquidFilm)),
		check.Must(NewBoundary(boundaryAcrylic, boundarySteel, Welded)),
		check.Must(NewFreeSurface(boundarySteel)),
	} {
		n := testing.AllocsPerRun(100, func() {
			_, err1 := b.Scatter(L, 0.6)
			_, err2 := b.RoundTrip(L, T, 0.6)
			_, err3 := CornerEcho(b, b, L, 0.6)
			if err1 != nil || err2 != nil || err3 != nil {
				t.Error(err1, err2, err3)
			}
		})
		if n != 0 {
			t.Errorf("%v allocations a call, want 0", n)
		}
	}
}
