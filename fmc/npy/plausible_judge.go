// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"fmt"
	"math"
	"slices"

	"github.com/isochron-imaging/isochron/fmc"
	"github.com/isochron-imaging/isochron/material"
)

// media judges the media of the coupling and of the part.
func (j *judge) media(r *Record, m *measures) {
	if c := r.Coupling; c != nil {
		transverse := c.Transverse
		j.medium("coupling", *c, &m.front, &transverse)
	}
	j.medium("part", r.Part, &m.longitudinal, &m.transverse)
	if m.contact {
		m.front = m.longitudinal
	}
}

// weld judges the place of a weld, and its metal by its density and by the speeds that belong to
// its stiffnesses.
func (j *judge) weld(w *Weld, m *measures) {
	if w == nil {
		return
	}
	density, offset, reach := w.Density, w.Centre-m.middle, m.reach()+m.extent()
	j.check("weld.density_kg_m3", "", &density, densityRange)
	j.check("weld.centre_x_m", "distance from the array", &offset, distanceRange.times(reach, reach))
	for _, c := range []struct {
		name  string
		value float64
	}{
		{"c11", w.Stiffness.C11}, {"c13", w.Stiffness.C13}, {"c33", w.Stiffness.C33},
		{"c44", w.Stiffness.C44}, {"c66", w.Stiffness.C66},
	} {
		speed := math.Sqrt(c.value / density)
		j.check("weld.stiffness_pa."+c.name, "speed", &speed, metalRange.times(m.longitudinal, m.longitudinal))
	}
}

// medium judges a medium. It sets implausible speeds (m/s) of the medium to NaN.
func (j *judge) medium(path string, medium Material, longitudinal, transverse *float64) {
	density, slow := medium.Density, *transverse
	j.check(path+".density_kg_m3", "", &density, densityRange)
	j.check(path+".longitudinal_m_s", "", longitudinal, longitudinalRange)
	if medium.Transverse > 0 {
		want := transverseRange.times(*longitudinal, *longitudinal)
		j.check(path+".transverse_m_s", "", transverse, want)
	}
	entries := material.Handbook().Lookup(medium.Name)
	j.handbook(path+".density_kg_m3", &density, "kg/m³", entries,
		func(e material.Entry) material.Quantity { return e.Density })
	j.handbook(path+".longitudinal_m_s", longitudinal, "m/s", entries,
		func(e material.Entry) material.Quantity { return e.Longitudinal })
	if slow > 0 {
		j.handbook(path+".transverse_m_s", transverse, "m/s", entries,
			func(e material.Entry) material.Quantity { return e.Transverse })
	}
}

// handbook judges a value by the entries that the handbook has under the name of the medium. of
// selects the quantity of an entry.
func (j *judge) handbook(path string, value *float64, unit string, entries []material.Entry,
	of func(material.Entry) material.Quantity) {
	low, high := math.Inf(1), math.Inf(-1)
	for _, e := range entries {
		if q := of(e); q.Known() {
			low, high = min(low, q.Value-q.Spread), max(high, q.Value+q.Spread)
		}
	}
	if low > high {
		return
	}
	want := handbookRange.times(low, high)
	want.unit = unit
	j.check(path, "", value, want)
}

// scalars judges the array, the times of the samples and the size of the part.
func (j *judge) scalars(m *measures) {
	j.check("array.centre_frequency_hz", "", &m.frequency, frequencyRange)
	j.check("array.bandwidth_6db", "", &m.bandwidth, bandwidthRange)
	j.check("part.thickness_m", "", &m.thickness, thicknessRange)
	j.check("surface.radius_m", "", &m.radius, radiusRange)

	wavelength := m.wavelength()
	j.places(m)
	j.check("array.element_width_m", "", &m.width, widthRange.times(wavelength, wavelength))
	j.check("array.element_width_m", "", &m.width, fillRange.times(m.rowSpacing, m.rowSpacing))
	j.check("capture.sample_rate_hz", "", &m.rate, rateRange.times(m.frequency, m.frequency))
	j.times(m)
	inPart := m.longitudinal / m.frequency // a wavelength
	j.check("part.thickness_m", "", &m.thickness, wavelengthsRange.times(inPart, inPart))
	j.check("part.thickness_m", "", &m.thickness, reachRange.times(m.reach(), m.reach()))
	j.check("surface.radius_m", "", &m.radius, curvatureRange.times(m.extent(), m.extent()))
}

// places judges the centres of the elements.
func (j *judge) places(m *measures) {
	const path = "array.element_centres_m"
	before, wavelength := len(j.findings), m.wavelength()
	j.check(path, "spacing", &m.spacing, spacingRange.times(wavelength, wavelength))
	j.check(path, "height of the lowest element", &m.lowest, heightRange.times(wavelength, 1))
	j.check(path, "tilt", &m.tilt, m.tiltRange())
	if len(j.findings) > before {
		m.misplace()
	}
}

// tiltRange returns the range of tilts, in rad, at which the array still sends a wave into the
// part. Its end is the last critical angle and, in addition, 0.45 rad for the beam spread of the
// elements.
func (m *measures) tiltRange() plausibleRange {
	slowest := m.longitudinal
	if m.transverse > 0 {
		slowest = m.transverse
	}
	critical := math.Pi / 2
	if m.front < slowest {
		critical = math.Asin(m.front / slowest)
	}
	want := tiltRange
	want.max = min(critical+tiltRange.max, math.Pi/2)
	return want
}

// times judges the times of the first and the last sample.
func (j *judge) times(m *measures) {
	if math.IsNaN(m.rate) {
		m.last = nan
	}
	want := firstRange.times(1/m.frequency, 2*m.thickness/m.longitudinal)
	want.max += m.firstEcho(m.height)
	j.check("capture.first_sample_s", "", &m.first, want)
	if math.IsNaN(m.first) {
		m.last = nan
	}
	echo := atLeast(m.firstEcho(m.lowest), "s", "after the first echo of the part")
	j.check("capture.first_sample_s", "time of the last sample", &m.last, echo)
}

// surface judges the points of a profile.
func (j *judge) surface(r *Record, m *measures) {
	if r.Surface.Points == nil {
		return
	}
	p := r.Surface.Points
	extent := p[len(p)-1].X - p[0].X
	j.check("surface.points_m", "length", &extent, profileRange.times(m.extent(), m.extent()))
	for i := range p[1:] {
		slope := math.Abs((p[i+1].Z - p[i].Z) / (p[i+1].X - p[i].X))
		path := fmt.Sprintf("surface.points_m[%d]", i+1)
		j.check(path, "slope from the point before", &slope, slopeRange)
		if math.IsNaN(slope) {
			return // one is enough
		}
	}
}

// events judges the delays of events.
func (j *judge) events(c *fmc.Capture, m *measures) {
	travel := m.extent() / m.front
	want := delaysRange.times(0, travel)
	want.max += 10 / m.frequency
	for i, e := range c.Events {
		spread := slices.Max(e.Delays) - slices.Min(e.Delays)
		j.check(fmt.Sprintf("capture.events[%d].delays_s", i), "spread", &spread, want)
		if math.IsNaN(spread) {
			return // one is enough
		}
	}
}
