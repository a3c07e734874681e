// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package volume

import (
	"math"

	"github.com/isochron-imaging/isochron/internal/number"
	"github.com/isochron-imaging/isochron/tfm"
)

// reachShare is how far the profile goes on beyond an area, in lengths of the area.
const reachShare = 2

// prepare sets the sections of the profile of each area. A profile ends at a gap.
func (f *finder) prepare() {
	for _, a := range f.found {
		first, last := a.ends()
		v := f.sections
		reach := reachShare * (v.Position(last) - v.Position(first) + 2*v.Pitch())
		for a.from = first; a.from > 0 && !f.gap(a.from) && v.Position(first)-v.Position(a.from-1) <= reach; {
			a.from--
		}
		for a.to = last; a.to+1 < v.Len() && !f.gap(a.to+1) && v.Position(a.to+1)-v.Position(last) <= reach; {
			a.to++
		}
		// The nearest section on each side closes the contour, however far it is.
		if first == a.from && first > 0 && !f.gap(first) {
			a.from--
		}
		if last == a.to && last+1 < v.Len() && !f.gap(last+1) {
			a.to++
		}
		a.windows(&f.grid)
	}
}

// ends returns the first and the last section of an area.
func (a *area) ends() (first, last int) {
	return a.sections[0].section, a.sections[len(a.sections)-1].section
}

// windows sets where the echo is looked for beyond the ends of an area. A window lies round the
// pixels of the last section. It is as wide and high as the largest part of the area in one
// section.
func (a *area) windows(g *tfm.Grid) {
	rows, cols := 0, 0
	for _, p := range a.sections {
		b := bounds(p.pixels, g)
		rows, cols = max(rows, b[1]-b[0]), max(cols, b[3]-b[2])
	}
	for end, p := range [2]patch{a.sections[0], a.sections[len(a.sections)-1]} {
		b := bounds(p.pixels, g)
		down, right := (rows+1)/2+1, (cols+1)/2+1
		row, col := (b[0]+b[1])/2, (b[2]+b[3])/2
		a.window[end] = [4]int{max(row-down, 0), min(row+down, g.Rows-1), max(col-right, 0), min(col+right, g.Cols-1)}
	}
}

// bounds returns the least and the most row and column of pixels.
func bounds(pixels []int32, g *tfm.Grid) [4]int {
	b := [4]int{g.Rows, -1, g.Cols, -1}
	for _, p := range pixels {
		r, c := int(p)/g.Cols, int(p)%g.Cols
		b = [4]int{min(b[0], r), max(b[1], r), min(b[2], c), max(b[3], c)}
	}
	return b
}

// collect adds a section to the profiles.
func (f *finder) collect(i int, env *tfm.Envelope) error {
	if i == 0 {
		f.prepare()
	}
	for _, a := range f.found {
		if i < a.from || i > a.to {
			continue
		}
		first, last := a.ends()
		switch {
		case i < first-1:
			a.profile = append(a.profile, f.highest(env, a.window[0]))
		case i > last+1:
			a.profile = append(a.profile, f.highest(env, a.window[1]))
		case i < first:
			a.profile = append(a.profile, f.beside(env, a.sections[0].pixels))
		case i > last:
			a.profile = append(a.profile, f.beside(env, a.sections[len(a.sections)-1].pixels))
		default:
			p := &a.sections[i-first]
			a.profile = append(a.profile, crest(env, int(p.top)))
			a.crestCut = a.crestCut || f.atEdge(int(p.top)) || env.State(int(p.top)) != 0
			p.outline(env, float64(a.peak.amplitude)*half)
			for _, q := range p.pixels {
				f.touching(int(q), func(q int) { a.states |= env.State(q) })
			}
			if i == int(a.peak.section) {
				a.dx, a.dz, _ = vertex(env, int(a.peak.pixel))
			}
		}
	}
	return nil
}

// highest returns the highest amplitude in a window.
func (f *finder) highest(env *tfm.Envelope, w [4]int) float64 {
	top := -1
	for r := w[0]; r <= w[1]; r++ {
		for c := w[2]; c <= w[3]; c++ {
			top = f.higher(env, top, r*env.Cols+c)
		}
	}
	return crest(env, top)
}

// beside returns the highest amplitude of the pixels that touch pixels of the section before or
// behind.
func (f *finder) beside(env *tfm.Envelope, pixels []int32) float64 {
	top := -1
	for _, p := range pixels {
		f.touching(int(p), func(q int) { top = f.higher(env, top, q) })
	}
	return crest(env, top)
}

// higher returns the higher one of two pixels. A pixel outside the zone does not count, and -1
// stands for no pixel.
func (f *finder) higher(env *tfm.Envelope, top, p int) int {
	if f.inZone(p) && (top < 0 || env.Data[p] > env.Data[top]) {
		return p
	}
	return top
}

// crest returns the amplitude of the peak between pixels whose highest pixel is p.
func crest(env *tfm.Envelope, p int) float64 {
	if p < 0 {
		return 0
	}
	_, _, rise := vertex(env, p)
	return float64(env.Data[p]) * math.Exp(rise)
}

// touching calls use with a pixel and the pixels of its section that touch it.
func (f *finder) touching(p int, use func(q int)) {
	row, col := p/f.grid.Cols, p%f.grid.Cols
	for r := max(row-1, 0); r <= min(row+1, f.grid.Rows-1); r++ {
		for c := max(col-1, 0); c <= min(col+1, f.grid.Cols-1); c++ {
			use(r*f.grid.Cols + c)
		}
	}
}

// fitRange is the least ratio of a neighbour to the peak for a fit of the peak, as in package
// sizing.
const fitRange = 0.25

// vertex places the peak of a section between pixels. It returns the offset in pixels from the
// highest pixel p, and the logarithm of the amplitude there, relative to p. All are 0 if p is no
// peak.
func vertex(env *tfm.Envelope, p int) (dx, dz, rise float64) {
	row, col := p/env.Cols, p%env.Cols
	top := float64(env.Data[p])
	if row == 0 || row == env.Rows-1 || col == 0 || col == env.Cols-1 || top == 0 {
		return 0, 0, 0
	}
	left, right := float64(env.Data[p-1]), float64(env.Data[p+1])
	above, below := float64(env.Data[p-env.Cols]), float64(env.Data[p+env.Cols])
	if max(left, right, above, below) > top {
		return 0, 0, 0
	}
	dx, risen := number.Vertex(logRatio(left, top), 0, logRatio(right, top))
	dz, more := number.Vertex(logRatio(above, top), 0, logRatio(below, top))
	return dx, dz, risen + more
}

// logRatio returns the logarithm of the ratio of two amplitudes, or NaN outside the range of the
// fit.
func logRatio(a, top float64) float64 {
	if !(a >= fitRange*top) {
		return math.NaN()
	}
	return math.Log(a / top)
}

// profile is amplitudes at positions along the scan.
type profile struct {
	s, amplitudes []float64
}

// peak places the peak whose highest value is at an index, by the parabola through the logarithms
// of three values, and returns the logarithm of the amplitude there, relative to the highest value.
func (p profile) peak(i int) (s, rise float64) {
	if i == 0 || i == len(p.s)-1 {
		return p.s[i], 0
	}
	top := p.amplitudes[i]
	left, right := p.s[i-1]-p.s[i], p.s[i+1]-p.s[i]
	slopeLeft, slopeRight := logRatio(p.amplitudes[i-1], top)/left, logRatio(p.amplitudes[i+1], top)/right
	bend := (slopeRight - slopeLeft) / (right - left) // of the parabola: slope·u + bend·u²
	slope := slopeLeft - bend*left
	if !(bend < 0) {
		return p.s[i], 0
	}
	u := -slope / (2 * bend)
	return p.s[i] + u, slope * u / 2
}

// crossing returns where the profile, followed from an index by steps of step, first falls below a
// level, and whether it does.
func (p profile) crossing(i, step int, level float64) (s float64, falls bool) {
	for {
		next := i + step
		if next < 0 || next >= len(p.s) {
			return p.s[i], false
		}
		a, b := p.amplitudes[i], p.amplitudes[next]
		if b < level {
			if !(a > level) {
				return p.s[i], true
			}
			return p.s[i] + (p.s[next]-p.s[i])*(a-level)/(a-b), true
		}
		i = next
	}
}

// flatRatio is the least ratio at which the profile counts as flat: 1 dB over half the width of the
// beam. On the flank of a long face it rises by 5 dB or more.
const flatRatio = 0.8912509381337456 // 10^(-1/20)

// lastMaximum returns the index of the last significant maximum of the profile between the peak,
// with the index i, and the end in the direction of step: the last one above least. A maximum is
// significant if the profile falls by 1.5 dB, and by dip, between it and the peak. So is the
// shoulder at which the profile is flat over the distance flat towards the peak; NaN stands for no
// shoulder.
func (p profile) lastMaximum(i, step int, least, dip, flat float64) int {
	end := i
	for next := i + step; next >= 0 && next < len(p.s) && p.amplitudes[next] >= least; next += step {
		end = next
	}
	best := end
	for k := end; k != i; k -= step {
		a, top := p.amplitudes[k], p.amplitudes[best]
		if a < mergedRatio*top && top-a > dip {
			return best
		}
		if a > top {
			best = k
		}
		highest := k
		for j := k; (j-i)*step >= 0 && math.Abs(p.s[j]-p.s[k]) <= flat; j -= step {
			if p.amplitudes[j] > p.amplitudes[highest] {
				highest = j
			}
			if j == i {
				break
			}
		}
		reached := math.Abs(p.s[i]-p.s[k]) >= flat
		if reached && p.amplitudes[k] >= flatRatio*p.amplitudes[highest] {
			return highest
		}
	}
	if p.amplitudes[i] >= p.amplitudes[best] {
		return i
	}
	return best
}
