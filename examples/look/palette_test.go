// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package main

import (
	"math"
	"testing"
)

// labOf returns the colour of sRGB values (IEC 61966-2-1) in CIELAB, the other way round than
// lab.rgb.
func labOf(c [3]float64) lab {
	for i, v := range c {
		if v <= 0.04045 {
			c[i] = v / 12.92
		} else {
			c[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	return labOfLinear(c)
}

// labOfLinear returns the colour of linear light.
func labOfLinear(c [3]float64) lab {
	f := func(t float64) float64 {
		if t > 216.0/24389 {
			return math.Cbrt(t)
		}
		return (24389.0/27*t + 16) / 116
	}
	x := f((0.4124*c[0] + 0.3576*c[1] + 0.1805*c[2]) / white[0])
	y := f((0.2126*c[0] + 0.7152*c[1] + 0.0722*c[2]) / white[1])
	z := f((0.0193*c[0] + 0.1192*c[1] + 0.9505*c[2]) / white[2])
	return lab{116*y - 16, 500 * (x - y), 200 * (y - z)}
}

// difference returns the difference of two colours: ΔE*ab of ISO/CIE 11664-4.
func difference(p, q lab) float64 {
	return math.Sqrt((p.L-q.L)*(p.L-q.L) + (p.A-q.A)*(p.A-q.A) + (p.B-q.B)*(p.B-q.B))
}

// The primaries of sRGB in CIELAB are tabulated widely, to these digits (from memory).
func TestLabOfPrimaries(t *testing.T) {
	for _, test := range []struct {
		name string
		c    [3]float64
		want lab
	}{
		{"red", [3]float64{1, 0, 0}, lab{53.24, 80.09, 67.20}},
		{"green", [3]float64{0, 1, 0}, lab{87.73, -86.18, 83.18}},
		{"blue", [3]float64{0, 0, 1}, lab{32.30, 79.19, -107.86}},
		{"grey", [3]float64{0.5, 0.5, 0.5}, lab{53.39, 0, 0}},
	} {
		if got := labOf(test.c); !(difference(got, test.want) <= 0.1) {
			t.Errorf("%s: %.2f; want %.2f", test.name, got, test.want)
		}
		r, g, b := labOf(test.c).rgb()
		for i, v := range []float64{r, g, b} {
			if !(math.Abs(v-test.c[i]) <= 1e-3) {
				t.Errorf("%s: back to %.4f %.4f %.4f", test.name, r, g, b)
				break
			}
		}
	}
}

// Every colour of a palette can be shown, its lightness changes evenly, and equal steps of level
// look equal: no step is 1.7 times as large as another.
func TestPalettesAreUniform(t *testing.T) {
	for _, curve := range curves {
		colours := spread(curve.points, 256)
		least, most := math.Inf(1), 0.0
		for i, c := range colours {
			r, g, b := c.rgb()
			for _, v := range []float64{r, g, b} {
				if !(v >= -0.004 && v <= 1.004) { // half a step of 8 bits, twice
					t.Errorf("%s: colour %d is %.3f %.3f %.3f: no screen shows it", curve.key, i, r, g, b)
				}
			}
			if i == 0 {
				continue
			}
			d := difference(c, colours[i-1])
			least, most = min(least, d), max(most, d)
		}
		if !(most <= 1.7*least) {
			t.Errorf("%s: steps of %.2f to %.2f ΔE", curve.key, least, most)
		}
		even := (colours[255].L - colours[0].L) / 255
		for i := 1; i < 256; i++ {
			if !(math.Abs(colours[i].L-colours[i-1].L-even) <= 1e-9) {
				t.Fatalf("%s: colour %d: the lightness does not change evenly", curve.key, i)
			}
		}
		if !(math.Abs(even*255) >= 85) {
			t.Errorf("%s: only %.0f of lightness", curve.key, even*255)
		}
	}
}

// Whoever does not see one of the three kinds of cones still tells levels apart: a tenth of the
// range is at least 7 ΔE*ab, everywhere, and the lightness keeps its order. The matrices (from
// memory) come from F. Viénot, H. Brettel and J. D. Mollon, Color Research & Application 24 (1999)
// 243, for linear light; for missing blue cones only the lightness counts, which is stricter.
func TestPalettesForColourBlind(t *testing.T) {
	sight := map[string][3][3]float64{
		"without red cones":   {{0.1124, 0.8876, 0}, {0.1124, 0.8876, 0}, {0.0040, -0.0040, 1}},
		"without green cones": {{0.2928, 0.7072, 0}, {0.2928, 0.7072, 0}, {-0.0223, 0.0223, 1}},
	}
	for _, curve := range curves {
		colours := spread(curve.points, 256)
		for name, m := range sight {
			seen := make([]lab, len(colours))
			for i, c := range colours {
				seen[i] = labOfLinear(through(m, c))
			}
			for i := 25; i < len(seen); i++ {
				if d := difference(seen[i], seen[i-25]); !(d >= 7) {
					t.Errorf("%s, %s: levels %d and %d differ by %.1f ΔE", curve.key, name, i-25, i, d)
				}
				if (seen[i].L > seen[i-25].L) != (colours[1].L > colours[0].L) {
					t.Errorf("%s, %s: the lightness changes its order at level %d", curve.key, name, i)
				}
			}
		}
		if step := 25 * math.Abs(colours[1].L-colours[0].L); !(step >= 7) {
			t.Errorf("%s: a tenth of the range is %.1f of lightness", curve.key, step)
		}
	}
}

// through returns the linear light of a colour as a dichromat sees it.
func through(m [3][3]float64, c lab) (out [3]float64) {
	r, g, b := c.rgb()
	linear := [3]float64{r, g, b}
	for i, v := range linear {
		v = max(0, min(1, v))
		if v <= 0.04045 {
			linear[i] = v / 12.92
		} else {
			linear[i] = math.Pow((v+0.055)/1.055, 2.4)
		}
	}
	for i := range out {
		for k := range linear {
			out[i] += m[i][k] * linear[k]
		}
	}
	return out
}
