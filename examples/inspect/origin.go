// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"

	"github.com/isochron-imaging/isochron/sizing"
	"github.com/isochron-imaging/isochron/sizing/report"
)

// origin holds everything that determines the results, except the samples.
type origin struct {
	Library  string   `json:"library"` // name and version
	Title    string   `json:"title"`
	Coupling *medium  `json:"coupling"` // null in contact
	Part     part     `json:"part"`
	Array    array    `json:"array"`
	Views    []string `json:"views"`
	Why      string   `json:"views_because"`

	Band       [2]float64 `json:"band_hz"`
	Drop       float64    `json:"drop_db"`
	Floor      float64    `json:"floor_db"`
	Background float64    `json:"background_db"`
	Range      float64    `json:"range_db"` // of the colours
}

type medium struct {
	Name         string  `json:"name"`
	Longitudinal float64 `json:"longitudinal_m_s"`
	Transverse   float64 `json:"transverse_m_s"`
}

type part struct {
	medium
	Surface   string  `json:"surface"`
	Thickness float64 `json:"thickness_m"`
}

type array struct {
	Elements        int     `json:"elements"`
	CentreFrequency float64 `json:"centre_frequency_hz"`
	Bandwidth       float64 `json:"bandwidth_6db"`
	Pairs           int     `json:"pairs"`
	SampleRate      float64 `json:"sample_rate_hz"`
}

// origin returns the origin of the results.
func (in *inspection) origin() origin {
	c, s := in.record.Capture, in.record
	o := origin{
		Library: library(),
		Title:   in.record.Title,
		Part: part{
			medium{s.Part.Name, s.Part.Longitudinal, s.Part.Transverse},
			s.Surface.String(), s.Thickness,
		},
		Array: array{
			len(c.Array.Elements), c.Array.CentreFrequency, c.Array.Bandwidth,
			len(c.Pairs), c.SampleRate,
		},
		Why:  in.why,
		Band: [2]float64{in.band().Low, in.band().High},
		Drop: sizing.SixDB, Floor: in.options.floor,
		Background: in.options.background, Range: in.options.lowest,
	}
	if s.Coupling != nil {
		o.Coupling = &medium{s.Coupling.Name, s.Coupling.Longitudinal, s.Coupling.Transverse}
	}
	for _, v := range in.views {
		o.Views = append(o.Views, v.String())
	}
	return o
}

// describe returns a line with the array, the media and their speeds.
func (in *inspection) describe() string {
	s, a := in.record, in.record.Capture.Array
	coupling := "in contact"
	if s.Coupling != nil {
		coupling = fmt.Sprintf("through %s, %.0f m/s", s.Coupling.Name, s.Coupling.Longitudinal)
	}
	waves := fmt.Sprintf("L %.0f m/s", s.Part.Longitudinal)
	if s.Part.Transverse > 0 {
		waves += fmt.Sprintf(", T %.0f m/s", s.Part.Transverse)
	}
	return oneLine(fmt.Sprintf("%d elements, %.3g MHz, %s; %s, %s, %.4g mm",
		len(a.Elements), a.CentreFrequency/1e6, coupling, s.Part.Name, waves, s.Thickness*1e3))
}

// library returns the name and the version of the library.
func library() string { return "isochron " + report.ThisEnvironment().Release }
