// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package calibrate

import "testing"

func BenchmarkFace(b *testing.B) {
	elements := elementsOf(32, 0.6e-3)
	arrivals := faceArrivals(elements, 12e-3, 36*degree, 0, 2340)
	options := &Options{Speed: Estimate{Value: 2340}}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Face(elements, arrivals, options); err != nil {
			b.Fatal(err)
		}
	}
}
