// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package window

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// TestInts packs and scales a range of a plane in both formats of 16 bits. What lies outside the
// range must stay.
func TestInts(t *testing.T) {
	const plane = 96
	rng := rand.New(rand.NewPCG(1, 2))
	for _, f := range []Format{Format16, FormatBytes} {
		for range 50 {
			data := make([]int16, plane)
			all := f.NewInts(data, plane, Range{0, plane})
			want, from := make([]int16, plane), rng.IntN(plane)
			for k := range want {
				want[k] = int16(rng.Uint32())
				all.Set(k, want[k])
			}
			r := Range{from, from + rng.IntN(plane-from+1)}
			part, src, by := f.NewInts(data, plane, r), make([]float32, r.To-r.From), rng.Float32()
			for k := range src {
				src[k] = rng.Float32()*2 - 1
				packed := float32(math.RoundToEven(float64(src[k] * math.MaxInt16)))
				want[r.From+k] = int16(math.RoundToEven(float64(packed * by)))
			}
			part.Pack(src, math.MaxInt16)
			part.Scale(by)
			got := make([]int16, plane)
			for k := range got {
				got[k] = all.At(k)
			}
			if !slices.Equal(got, want) {
				t.Fatalf("bytes %v, samples %d to %d: got %v, want %v", f.Bytes, r.From, r.To-1, got, want)
			}
		}
	}
}
