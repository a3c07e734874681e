// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc/npy"
	"github.com/isochron-imaging/isochron/wedge"
)

// chooseViews returns the usual views for a set-up, and the reason. The views follow from the wave
// that the middle of the array sends into the part.
func chooseViews(r *npy.Record) (views []wedge.View, why string) {
	direct := func(reason string) ([]wedge.View, string) {
		return mustViews("L-L"), reason
	}
	coupling, part := r.Coupling, r.Part
	if coupling == nil {
		return direct("an array in contact sends longitudinal waves")
	}
	angle := math.Abs(incidence(r))
	critical := math.Asin(min(1, coupling.Longitudinal/part.Longitudinal))
	if part.Transverse == 0 || angle < critical {
		return direct(fmt.Sprintf("incidence at %.1f° sends longitudinal waves into %s",
			degrees(angle), part.Name))
	}
	if r.Weld != nil {
		return mustViews("T-T"), fmt.Sprintf("incidence at %.1f° sends transverse waves into %s; "+
			"views with skips take long through a weld with grains: -view asks for them", degrees(angle), part.Name)
	}
	return mustViews("T-T", "TT-T", "TT-TT"), fmt.Sprintf("incidence at %.1f°, "+
		"beyond the first critical angle of %.1f°, sends transverse waves only into %s; "+
		"TT-T looks at the side of a flaw that faces the back wall, TT-TT at its tips from below",
		degrees(angle), degrees(critical), part.Name)
}

// mustViews returns the views of names, and panics on a wrong name.
func mustViews(names ...string) (views []wedge.View) {
	for _, name := range names {
		v, err := wedge.ParseView(name)
		if err != nil {
			panic(err)
		}
		views = append(views, v)
	}
	return views
}

// incidence returns the angle between the normal of the array and the vertical, in radians.
func incidence(r *npy.Record) float64 {
	elements := r.Capture.Array.Elements
	first, last := elements[0], elements[len(elements)-1]
	if first.X == last.X {
		return 0
	}
	return math.Atan((last.Z - first.Z) / (last.X - first.X))
}

func degrees(radians float64) float64 { return radians * 180 / math.Pi }
