// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"cmp"
	"fmt"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/tfm/picture"
)

// about is what the page shows that does not depend on the setting.
type about struct {
	Name       string         `json:"name"`
	Title      string         `json:"title"`
	Facts      string         `json:"facts"`
	Traces     int            `json:"traces"`
	Wavelength float64        `json:"wavelength"` // of the slowest wave in the part, m
	Usual      []string       `json:"usual"`
	Views      []string       `json:"views"`
	Window     window         `json:"window"`
	Controls   []control      `json:"controls"`
	Known      [][][2]float64 `json:"known"` // outlines of known reflectors
	Palettes   []palette      `json:"palettes"`
}

// about describes the capture.
func (s *source) about() about {
	r, c := s.record, s.record.Capture
	coupled := "in contact with"
	if r.Coupling != nil {
		coupled = "through " + r.Coupling.Name + " on"
	}
	a := about{
		Name: s.name, Title: r.Title, Traces: len(c.Pairs), Usual: s.usual, Views: s.views, Window: s.window,
		Controls: s.controls, Wavelength: wavelength(r), Palettes: palettes(),
		Facts: fmt.Sprintf("%d elements at %.3g MHz, %s %s of %.4g mm", len(c.Array.Elements),
			c.Array.CentreFrequency/1e6, coupled, r.Part.Name, r.Thickness*1e3),
	}
	if r.Weld != nil {
		a.Facts += "; rays are straight, and do not follow the grains of the weld"
	}
	for _, line := range picture.Reflectors(r.Truth) {
		var points [][2]float64
		for _, p := range line {
			points = append(points, [2]float64{p.X, p.Y})
		}
		a.Known = append(a.Known, points)
	}
	return a
}

// wavelength returns the wavelength of the slowest wave in the part, in m.
func wavelength(r *npy.Record) float64 {
	return cmp.Or(r.Part.Transverse, r.Part.Longitudinal) / r.Capture.Array.CentreFrequency
}
