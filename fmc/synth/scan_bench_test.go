// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package synth

import "testing"

// BenchmarkScan makes the frames of a weld, 1 mm apart.
func BenchmarkScan(b *testing.B) {
	part, recording, err := ButtWeld(32, 0.5, 1)
	must(b, err)
	pass := Pass{Positions: Steps(0, 1e-3, 500), Noise: 0.002, Bits: 14}
	b.Run("rays", func(b *testing.B) {
		for b.Loop() {
			_, err := NewScan(b.Context(), part, pass, recording)
			must(b, err)
		}
	})
	b.Run("frame", func(b *testing.B) {
		scan, err := NewScan(b.Context(), part, pass, recording)
		must(b, err)
		c := scan.Capture()
		i := 0
		for b.Loop() {
			_, err := scan.Frame(b.Context(), i%scan.Len(), c)
			must(b, err)
			i++
		}
		b.ReportMetric(float64(len(scan.groups)), "groups")
		b.ReportMetric(float64(scan.grid.length), "burst-samples")
	})
}
