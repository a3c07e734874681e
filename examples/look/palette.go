// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"
)

// palette is a list of colours for levels, from the lowest to the highest level.
type palette struct {
	Key     string   `json:"key"`
	Label   string   `json:"label"`
	Colours []string `json:"colours"` // 256, as #rrggbb
}

// lab is a colour of CIELAB (ISO/CIE 11664-4) for the white D65: the lightness L*, 0 to 100, and
// the coordinates a* from green to red and b* from blue to yellow.
type lab struct{ L, A, B float64 }

// The palettes follow P. Kovesi, "Good colour maps: how to design them", arXiv:1509.03700 (2015):
// equal steps of level are equal steps of lightness, because the eye reads fine detail from
// lightness alone. The hue changes along the axis from blue to yellow only. People who do not tell
// red from green see this axis unchanged, and people who do not see blue still see the lightness.
// Each palette is a smooth curve through its points.
var curves = []struct {
	key, label string
	points     []lab
}{
	{"ink", "white to dark blue", []lab{{98, 0, 0}, {76, -7, -16}, {46, 4, -42}, {10, 12, -30}}},
	{"dusk", "dark blue to light yellow", []lab{{6, 10, -20}, {30, 7, -30}, {55, 0, -8}, {78, -3, 22}, {95, -8, 40}}},
	{"paper", "white to black", []lab{{98, 0, 0}, {50, 0, 0}, {2, 0, 0}}},
	{"grey", "black to white", []lab{{2, 0, 0}, {50, 0, 0}, {98, 0, 0}}},
}

// palettes returns the palettes of the page.
func palettes() (all []palette) {
	for _, c := range curves {
		p := palette{Key: c.key, Label: c.label}
		for _, v := range spread(c.points, 256) {
			r, g, b := v.rgb()
			p.Colours = append(p.Colours, fmt.Sprintf("#%02x%02x%02x", eight(r), eight(g), eight(b)))
		}
		all = append(all, p)
	}
	return all
}

// spread returns n colours with equal steps of lightness on the curve through points.
func spread(points []lab, n int) []lab {
	first, last := points[0].L, points[len(points)-1].L
	var at, a, b []float64 // share of the way in lightness
	for _, p := range points {
		at = append(at, (p.L-first)/(last-first))
		a, b = append(a, p.A), append(b, p.B)
	}
	var curveA, curveB interp.NaturalCubic
	if err := curveA.Fit(at, a); err != nil {
		panic(err) // points that are not in order of lightness
	}
	if err := curveB.Fit(at, b); err != nil {
		panic(err)
	}
	colours := make([]lab, n)
	for i := range colours {
		u := float64(i) / float64(n-1)
		colours[i] = lab{first + u*(last-first), curveA.Predict(u), curveB.Predict(u)}
	}
	return colours
}

// white is D65 in CIE XYZ for the observer of 2° (IEC 61966-2-1).
var white = [3]float64{0.95047, 1, 1.08883}

// rgb returns a colour in sRGB (IEC 61966-2-1), 0 to 1 each. A colour that no screen of this kind
// shows has a value outside this range.
func (c lab) rgb() (r, g, b float64) {
	fy := (c.L + 16) / 116
	x, y, z := white[0]*inverse(fy+c.A/500), white[1]*inverse(fy), white[2]*inverse(fy-c.B/200)
	return encode(3.2406*x - 1.5372*y - 0.4986*z),
		encode(-0.9689*x + 1.8758*y + 0.0415*z),
		encode(0.0557*x - 0.2040*y + 1.0570*z)
}

// inverse is the inverse of the function f of CIELAB.
func inverse(t float64) float64 {
	const d = 6.0 / 29
	if t > d {
		return t * t * t
	}
	return 3 * d * d * (t - 4.0/29)
}

// encode returns the value of sRGB for linear light.
func encode(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

// eight returns a value of 0 to 1 in 8 bits.
func eight(v float64) uint8 { return uint8(math.Round(255 * max(0, min(1, v)))) }
