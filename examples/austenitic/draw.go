// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"gonum.org/v1/gonum/spatial/r2"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

// section returns the picture of an image, with the fusion faces and the true holes.
func section(name string, e *tfm.Envelope, best float64, r *npy.Record) (s picture.Section, err error) {
	s = picture.Section{
		Title:   name + " rays: three holes in and behind an austenitic weld",
		Caption: "0 dB: the strongest hole; blue: true holes; dashed: fusion faces",
	}
	if s.Levels, err = e.Decibels(nil, float32(best), -30); err != nil {
		return s, err
	}
	weld, err := r.Weld.Joint()
	if err != nil {
		return s, err
	}
	for _, face := range weld.Faces {
		s.Weld = append(s.Weld, []r2.Vec{face.At(0), face.At(1)})
	}
	for _, h := range r.Truth.Holes {
		s.Reflectors = append(s.Reflectors, picture.Circle(h.X, h.Z, h.Diameter/2))
	}
	return s, nil
}
