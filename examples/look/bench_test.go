// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"net/http"
	"testing"
)

// BenchmarkImage makes images of weld32 for a speed that changes from image to image, as while a
// slider moves: the tables of times, the plan, the filter, the sum and the levels.
func BenchmarkImage(b *testing.B) {
	handler := newHandler(weld())
	for _, pixels := range []float64{12_000, 40_000} {
		step := weld().window.step(pixels)
		b.Run(fmt.Sprintf("pixels=%.0f", pixels), func(b *testing.B) {
			speed := 3200
			for b.Loop() {
				speed = 3200 + (speed-3199)%80
				w := &discard{}
				handler.ServeHTTP(w, request("GET", fmt.Sprintf("/image?transverse=%d&step=%v", speed, step), nil))
			}
		})
	}
}

// BenchmarkPair finds the best pair of a pixel.
func BenchmarkPair(b *testing.B) {
	handler := newHandler(weld())
	for b.Loop() {
		handler.ServeHTTP(&discard{}, request("GET", "/pair?x=0.0194&z=0.0098", nil))
	}
}

// BenchmarkGhosts predicts ghosts in a view that takes longest.
func BenchmarkGhosts(b *testing.B) {
	handler := newHandler(weld())
	step := weld().window.step(usualGhostPixels)
	for b.Loop() {
		handler.ServeHTTP(&discard{}, request("GET", fmt.Sprintf("/ghosts?view=LT-LL&step=%v", step), nil))
	}
}

// discard is a response that nobody reads.
type discard struct{ header http.Header }

func (d *discard) Header() http.Header {
	if d.header == nil {
		d.header = http.Header{}
	}
	return d.header
}
func (d *discard) Write(b []byte) (int, error) { return len(b), nil }
func (d *discard) WriteHeader(int)             {}
