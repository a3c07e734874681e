// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"fmt"
	"math"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/internal/number"
)

// truth judges the known reflectors.
func (j *judge) truth(r *Record, m *measures) {
	s, wavelength := r.Surface, m.longitudinal/m.frequency
	for i, h := range r.Truth.Holes {
		path := fmt.Sprintf("truth.holes[%d]", i)
		diameter := h.Diameter
		j.check(path+".diameter_m", "", &diameter, diameterRange.times(wavelength, m.thickness))
		j.reflector(path, "x_m", "z_m", h.X, h.Z, 0.49*h.Diameter, s, m)
	}
	for i, slit := range r.Truth.Slits {
		path := fmt.Sprintf("truth.slits[%d]", i)
		length, width := math.Hypot(slit.X1-slit.X0, slit.Z1-slit.Z0), slit.Width
		j.reflector(path, "x0_m", "z0_m", slit.X0, slit.Z0, -0.05*m.thickness, s, m)
		j.reflector(path, "x1_m", "z1_m", slit.X1, slit.Z1, -0.05*m.thickness, s, m)
		j.check(path+".width_m", "", &width, openingRange.times(0, length))
	}
}

// reflector judges where a point of a reflector lies. The point is at least so many m deep.
func (j *judge) reflector(path, x, z string, atX, atZ, least float64, s EntrySurface, m *measures) {
	reach := m.reach() + m.extent()
	offset := atX - m.middle
	j.check(path+"."+x, "distance from the array", &offset, distanceRange.times(reach, reach))
	if !math.IsNaN(offset) {
		depth := s.depth(atX, atZ)
		want := depthRange.times(0, m.thickness)
		want.min = least // a hole lies below its own surface
		j.check(path+"."+z, "depth", &depth, want)
	}
}

// width returns the distance of the outermost positions across a scan in m.
func width(frames []fmc.Frame) float64 {
	least, most := math.Inf(1), math.Inf(-1)
	for _, f := range frames {
		least, most = min(least, f.Across), max(most, f.Across)
	}
	return most - least
}

// frameFindings judges the positions and times of the frames of a scan.
func frameFindings(frames []fmc.Frame) []finding {
	var j judge
	var steps, speeds []float64
	for i := range frames[min(1, len(frames)):] {
		from, to := frames[i], frames[i+1]
		step := math.Abs(to.Position-from.Position) / float64(to.Index-from.Index)
		if step == 0 {
			continue // the scanner stood still, or there was no scanner
		}
		steps = append(steps, step)
		if duration := to.Time - from.Time; duration > 0 {
			speeds = append(speeds, math.Abs(to.Position-from.Position)/duration)
		}
	}
	step, speed := number.Median(steps), number.Median(speeds)
	j.check("scan.positions_m", "step of the frames", &step, stepRange)
	if !math.IsNaN(step) {
		j.check("scan.times_s", "speed of the scan", &speed, travelRange)
	}
	if across := width(frames); across > 0 {
		j.check("scan.across_m", "distance of the outermost lines", &across, acrossRange)
	}
	return j.findings
}
