// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package fmc

import "testing"

// benchmarkFrame returns a full matrix of 64 elements with 1000 samples a trace.
func benchmarkFrame(b *testing.B) *Capture {
	c := random(b, 64, FullPairs(64), 1000)
	b.SetBytes(int64(4 * len(c.Data)))
	b.ReportAllocs()
	return c
}

func BenchmarkSetInt16(b *testing.B) {
	c := benchmarkFrame(b)
	raw := make([]int16, len(c.Data))
	for b.Loop() {
		if err := c.SetInt16(raw); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCheckSamples(b *testing.B) {
	c := benchmarkFrame(b)
	for b.Loop() {
		if err := c.CheckSamples(); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkHalf(b *testing.B) {
	c := benchmarkFrame(b)
	for b.Loop() {
		if _, err := c.Half(); err != nil {
			b.Fatal(err)
		}
	}
}
