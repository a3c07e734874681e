// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/adapt"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

// draw writes an image with the true holes, the wall, and the found surface with its band.
func draw(name, title string, record *npy.Record, s *adapt.Surface, e *tfm.Envelope) error {
	levels, err := e.Decibels(nil, 70000, -30)
	if err != nil {
		return err
	}
	p := picture.Section{Title: title, Levels: levels, Caption: "view L-L, 0 dB is the strongest hole through the found " +
		"surface; blue: true holes; grey: wall, found surface, and its band of 95 % drawn 20 times as wide"}
	var lines [3][]r2.Vec // the surface and both edges of its band
	for k := range 81 {
		x := s.Lit.Min + float64(k)/80*(s.Lit.Max-s.Lit.Min)*0.9999
		d := s.Depth(x)
		for i, side := range []float64{0, -1, 1} {
			lines[i] = append(lines[i], r2.Vec{X: x, Y: d.Value + side*40*d.Uncertainty})
		}
	}
	p.Part = append(lines[:], []r2.Vec{{X: -10e-3, Y: record.Thickness}, {X: 10e-3, Y: record.Thickness}})
	for _, h := range record.Truth.Holes {
		p.Reflectors = append(p.Reflectors, picture.Circle(h.X, h.Z, h.Diameter/2))
	}
	return picture.WriteFile(name, &p)
}
