// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"testing"
)

// TestUsualGhosts wants the usual request for ghosts within the maximum, in windows of any shape.
func TestUsualGhosts(t *testing.T) {
	s := *weld()
	for wide := 1e-3; wide <= 0.1; wide *= 1.01 {
		s.window = window{X0: 0, X1: wide, Z0: 0, Z1: 10e-3}
		step := s.window.step(usualGhostPixels) // as the page asks
		if _, err := s.readGhosts(parseQuery(fmt.Sprintf("step=%v", step))); err != nil {
			t.Errorf("a window of %v m: %v", wide, err)
		}
	}
}

// The parsers do not panic on any query, and all values that they accept are in their ranges.
func FuzzQuery(f *testing.F) {
	for _, seed := range []string{
		"", "view=TT-T&transverse=3250&step=0.0002&find=yes", "x0=0.01&x1=0.02&z0=0.002&z1=0.016&step=1e-4",
		"near=-0.002,0.002,20&fixed=0.01,0.04,20&x=0.02&z=0.009", "step=NaN", "step=1e999", "step=0x1p-10", "a;b", "%zz", "view=T-T&view=T-T",
		"x0=-1&x1=1&z0=-1&z1=1&step=1e-6", "near=,,", "angle=0.628&height=0.0115&coupling=2340&thickness=0.016",
	} {
		f.Add(seed)
	}
	s := weld()
	in := func(v, least, most float64) bool { return least <= v && v <= most }
	f.Fuzz(func(t *testing.T, raw string) {
		if r, err := s.readImage(parseQuery(raw), s.window.step(40_000), maxPixels); err == nil {
			w := r.window
			wide, deep := w.X1-w.X0, w.Z1-w.Z0
			pixels := (wide/r.step + 1) * (deep/r.step + 1)
			if !in(wide, 1e-9, 2) || !in(deep, 1e-9, 2) || !in(r.step, 1e-6, 1) || !in(pixels, 16, maxPixels) {
				t.Errorf("%q: %+v", raw, r)
			}
			if _, err := newGrid(s.record, r.window, r.step); err != nil {
				t.Errorf("%q: %v", raw, err)
			}
			for _, c := range s.controls {
				if !in(*c.of(&r.setting), c.Min-c.Step, c.Max+c.Step) {
					t.Errorf("%q: %s %v", raw, c.Key, *c.of(&r.setting))
				}
			}
			if _, _, err := r.setting.apply(s.record); err != nil {
				t.Errorf("%q: a setting within the sliders is not possible: %v", raw, err)
			}
		}
		if r, err := s.readBeam(parseQuery(raw)); err == nil {
			for _, g := range [][]float64{r.near, r.fixed} {
				if g != nil && (len(g) != 3 || !in(g[0], -1, g[1]) || !in(g[1], g[0], 1) || !in(g[2], 0, 1000)) {
					t.Errorf("%q: gate %v", raw, g)
				}
			}
			if !in(r.x, -1, 1) || !in(r.z, -1, 1) {
				t.Errorf("%q: point %v, %v", raw, r.x, r.z)
			}
		}
	})
}
