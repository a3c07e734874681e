// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package ascan

import (
	"testing"

	"github.com/isochron-imaging/isochron/internal/check"
	"github.com/isochron-imaging/isochron/material"
)

// BenchmarkTraces measures frames of a sector of 36 beams of 32 elements and 2100 samples, from a
// half matrix, with fixed and with dynamic reception.
func BenchmarkTraces(b *testing.B) {
	record, setup := captured(b, "weld32")
	for _, test := range []struct {
		name    string
		receive Focus
	}{{"fixed", Focus{SoundPath: 20 * mm}}, {"dynamic", Focus{Dynamic: true}}} {
		b.Run("receive="+test.name, func(b *testing.B) {
			like := Beam{Mode: material.T, Transmit: Focus{SoundPath: 30 * mm}, Receive: test.receive}
			beams := check.Must(Sector(like, 35*degree, 70*degree, 1*degree))
			scratch := check.Must(NewPlan(ctx, record.Capture, setup, beams, &Options{Workers: 1})).NewScratch()
			b.ReportAllocs()
			for b.Loop() {
				check.Must(scratch.Traces(ctx, record.Capture.Data))
			}
		})
	}
}
