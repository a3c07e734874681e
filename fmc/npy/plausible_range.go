// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import "math"

var nan = math.NaN()

// plausibleRange is a range of values, its ends included.
type plausibleRange struct {
	min, max float64 // in unit, or as factors of another quantity
	unit     string
	source   string
}

// The plausible ranges. They are common practice, without a source. The ranges of the speeds and
// the densities contain every entry of [material.Handbook], which TestRangesHoldTheHandbook checks.
var (
	frequencyRange = plausibleRange{0.1e6, 50e6, "Hz", "industrial array ultrasonics"}
	bandwidthRange = plausibleRange{0.05, 1.5, "", "as a fraction of the centre frequency"}

	densityRange      = plausibleRange{100, 23000, "kg/m³", "solids and liquids"}
	longitudinalRange = plausibleRange{300, 13000, "m/s", "solids and liquids"}
	// Poisson's ratio from 0 to 0.495
	transverseRange = plausibleRange{0.1, 0.71, "m/s",
		"0.1 to 0.71 times the longitudinal speed"}
	metalRange    = plausibleRange{0.1, 1.5, "m/s", "0.1 to 1.5 times the longitudinal speed of the part"}
	handbookRange = plausibleRange{0.75, 1.25, "",
		"the handbook's values for this material, 25 % less to 25 % more"}

	spacingRange = plausibleRange{0.05, 10, "m", "0.05 to 10 wavelengths"}
	widthRange   = plausibleRange{0.05, 50, "m", "0.05 to 50 wavelengths"}
	fillRange    = plausibleRange{0.01, 1.001, "m",
		"0.01 to 1 times the spacing, as elements side by side do not overlap"}

	heightRange = plausibleRange{0.25, 1, "m", "above the entry surface by 0.25 wavelengths to 1 m"}
	tiltRange   = plausibleRange{0, 0.45, "rad", "up to 0.45 rad above the last critical angle"}

	rateRange  = plausibleRange{2, 500, "Hz", "2 to 500 times the centre frequency"}
	firstRange = plausibleRange{-100, 50, "s",
		"from 100 periods before the pulse to 50 crossings of the part after the first echo"}
	delaysRange = plausibleRange{0, 5, "s",
		"up to 5 times the travel along the array, and 10 periods"}

	thicknessRange   = plausibleRange{1e-4, 5, "m", "0.1 mm to 5 m"}
	wavelengthsRange = plausibleRange{0.5, 2500, "m", "0.5 to 2500 wavelengths"}
	reachRange       = plausibleRange{0.01, 10, "m",
		"0.01 to 10 times the depth that the record reaches"}

	radiusRange    = plausibleRange{2e-3, 10, "m", "2 mm to 10 m"}
	curvatureRange = plausibleRange{0.1, 300, "m", "0.1 to 300 times the length of the array"}
	profileRange   = plausibleRange{0.5, 100, "m", "0.5 to 100 times the length of the array"}
	slopeRange     = plausibleRange{0, 20, "", "up to 87° from the horizontal"}

	diameterRange = plausibleRange{0.01, 1, "m", "0.01 wavelengths to the thickness of the part"}
	openingRange  = plausibleRange{0, 1, "m", "up to the length of the slit"}
	depthRange    = plausibleRange{0, 1.05, "m", "in the part"}
	distanceRange = plausibleRange{-1.5, 1.5, "m",
		"within 1.5 times what the record and the array reach"}

	acrossRange = plausibleRange{0, 20, "m", "up to 20 m from the first line of a raster to the last"}
	stepRange   = plausibleRange{2e-5, 0.2, "m", "0.02 to 200 mm from frame to frame"}
	travelRange = plausibleRange{1e-4, 5, "m/s", "0.1 mm/s to 5 m/s"}
)

// times returns the range from low times r.min to high times r.max.
func (r plausibleRange) times(low, high float64) plausibleRange {
	r.min *= low
	r.max *= high
	return r
}

// atLeast returns the range that has no upper end.
func atLeast(value float64, unit, source string) plausibleRange {
	return plausibleRange{value, math.Inf(1), unit, source}
}

// slips lists, for each unit, the slips that are likely, and the factor that corrects each slip.
var slips = map[string][]struct {
	factor float64
	text   string
}{
	"m": {
		{1e-3, "mm given for m"}, {25.4e-3, "inches given for m"}, {1e-6, "µm given for m"},
		{1e3, "divided by 1000 twice"}, {1e6, "divided by 1000 twice"},
	},
	"m/s": {
		{1e3, "km/s or mm/µs given for m/s"}, {0.3048, "ft/s given for m/s"},
		{1e-3, "mm/s given for m/s"}, {1e-2, "cm/s given for m/s"},
	},
	"Hz": {
		{1e6, "MHz given for Hz"}, {1e3, "kHz given for Hz"}, {1e-3, "multiplied by 1000 twice"},
	},
	"s":     {{1e-6, "µs given for s"}, {1e-3, "ms given for s"}, {1e-9, "ns given for s"}},
	"kg/m³": {{1e3, "g/cm³ given for kg/m³"}, {1e-3, "g/m³ given for kg/m³"}},
}

// slip returns the likely slip that explains a value out of range, or "" if there is none.
func (r plausibleRange) slip(value float64) string {
	for _, s := range slips[r.unit] {
		if v := value * s.factor; v >= r.min && v <= r.max && v != 0 {
			return s.text
		}
	}
	return ""
}
