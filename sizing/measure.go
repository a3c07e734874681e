// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/tfm"
)

// roundAspect is the ratio of length to width up to which a contour counts as
// round.
const roundAspect = 1.1

// measurer places and sizes the indications of one section.
type measurer struct {
	env   *tfm.Envelope
	ratio float64 // of the contour's amplitude to its peak's
	stamp []int32 // the number of the last flood that reached each pixel
	flood int32   // number of the present flood
	area  []int32 // pixels of the present flood
}

func newMeasurer(env *tfm.Envelope, ratio float64) *measurer {
	return &measurer{env: env, ratio: ratio, stamp: make([]int32, len(env.Data))}
}

// fill sets m.area to the pixels that are connected to p and have at least the amplitude least.
func (m *measurer) fill(p int32, least float64) {
	m.flood++
	m.stamp[p] = m.flood
	m.area = append(m.area[:0], p)
	for done := 0; done < len(m.area); done++ {
		for q := range neighbours(m.env.Grid, int(m.area[done])) {
			if m.stamp[q] != m.flood && float64(m.env.Data[q]) >= least {
				m.stamp[q] = m.flood
				m.area = append(m.area, int32(q))
			}
		}
	}
}

// locate returns the indication whose highest pixel is p. It sets only the amplitude and the
// position.
func (m *measurer) locate(p int32) Indication {
	g := m.env.Grid
	top := float64(m.env.Data[p])
	dx, dz, flat := m.flatTop(p)
	var gain float64
	if !flat {
		dx, dz, gain = newPatch(m.env, int(p)).vertex()
	}
	at := g.Point(int(p))
	return Indication{
		Pixel:     int(p),
		X:         at.X + dx*g.Step.X,
		Z:         at.Z + dz*g.Step.Z,
		Amplitude: peakAmplitude(top, gain, m.ratio),
	}
}

// flatTop returns the mean position, in pixels from p, of the pixels that are as high as p and
// connected to p. It sets flat if they span more than two pixels along an axis. Then p may lie
// anywhere on the flat top.
func (m *measurer) flatTop(p int32) (dx, dz float64, flat bool) {
	m.fill(p, float64(m.env.Data[p]))
	var x, z bounds
	for _, q := range m.area {
		c, r := m.offset(p, q)
		x.add(c)
		z.add(r)
		dx += c
		dz += r
	}
	n := float64(len(m.area))
	return dx / n, dz / n, x.length() > 1 || z.length() > 1
}

// offset returns the columns and rows from pixel p to pixel q.
func (m *measurer) offset(p, q int32) (cols, rows float64) {
	n := int32(m.env.Cols)
	return float64(q%n - p%n), float64(q/n - p/n)
}

// size completes in from its contour, the drop below its amplitude.
func (m *measurer) size(in *Indication) {
	p := int32(in.Pixel)
	level := in.Amplitude * m.ratio
	m.fill(p, level)
	var moments moments
	var cells float64
	for _, q := range m.area {
		c, r := m.offset(p, q)
		// A pixel on the contour has the weight 0. So the moments do not jump when the contour
		// passes over a pixel.
		moments.add(float64(m.env.Data[q])-level, c*m.env.Step.X, r*m.env.Step.Z)
		m.cross(in, q, level)
		cells += m.share(q, level)
	}
	in.States = m.states()
	in.Area = cells * m.env.Step.X * m.env.Step.Z
	in.measure(moments.axis(), m.env.Point(in.Pixel))
}

// states returns the states of the pixels of the present area and of their neighbours.
func (m *measurer) states() (states tfm.State) {
	if m.env.States == nil {
		return 0
	}
	for _, p := range m.area {
		for q := range neighbours(m.env.Grid, int(p)) {
			states |= m.env.States[q]
		}
	}
	return states
}

// cross adds to in's contour its crossings between pixel q of the area and the
// pixels left, right, above and below of it.
func (m *measurer) cross(in *Indication, q int32, level float64) {
	g := m.env.Grid
	cols := int32(g.Cols)
	at := g.Point(int(q))
	r, c := q/cols, q%cols
	for _, side := range [4]struct {
		ends  bool // the section ends here
		pixel int32
		step  r3.Vec
	}{
		{c == 0, q - 1, r3.Vec{X: -g.Step.X}},
		{c == cols-1, q + 1, r3.Vec{X: g.Step.X}},
		{r == 0, q - cols, r3.Vec{Z: -g.Step.Z}},
		{int(r) == g.Rows-1, q + cols, r3.Vec{Z: g.Step.Z}},
	} {
		switch {
		case side.ends:
			in.Edge = true
			in.Contour = append(in.Contour, at)
		case !m.inside(side.pixel):
			t := m.crossing(q, side.pixel, level)
			in.Contour = append(in.Contour, r3.Add(at, r3.Scale(t, side.step)))
		}
	}
}

// inside reports whether q is in the present area.
func (m *measurer) inside(q int32) bool { return m.stamp[q] == m.flood }

// crossing returns how far the contour lies on the way from pixel q inside the area
// to its neighbour outside it, by linear interpolation of amplitude.
func (m *measurer) crossing(q, outside int32, level float64) float64 {
	v := float64(m.env.Data[q])
	return (v - level) / (v - float64(m.env.Data[outside]))
}

// measure sets the extents of in's contour, and its tilt, from the direction of
// its long axis. Lengths are taken relative to origin.
func (in *Indication) measure(axis r3.Vec, origin r3.Vec) {
	var x, z, along, across bounds
	for _, point := range in.Contour {
		x.add(point.X)
		z.add(point.Z)
		d := r3.Sub(point, origin)
		along.add(d.X*axis.X + d.Z*axis.Z)
		across.add(d.Z*axis.X - d.X*axis.Z)
	}
	in.ExtentX, in.ExtentZ = [2]float64{x.from, x.to}, [2]float64{z.from, z.to}
	in.Length, in.Width = along.length(), across.length()
	if in.Width > in.Length {
		in.Length, in.Width = in.Width, in.Length
		axis.X, axis.Z = -axis.Z, axis.X
	}
	in.Round = !(in.Length > roundAspect*in.Width)
	if !in.Round {
		in.Tilt = tilt(axis)
	}
}

// tilt returns the angle of axis from the vertical as Indication.Tilt has it.
func tilt(axis r3.Vec) float64 {
	if axis.Z > 0 {
		axis = r3.Scale(-1, axis)
	}
	if angle := math.Atan2(axis.X, -axis.Z); angle > -math.Pi/2 {
		return angle
	}
	return math.Pi / 2
}

// moments sums weights and their first and second moments about a point.
type moments struct{ w, x, z, xx, xz, zz float64 }

func (m *moments) add(w, x, z float64) {
	m.w += w
	m.x += w * x
	m.z += w * z
	m.xx += w * x * x
	m.xz += w * x * z
	m.zz += w * z * z
}

// axis returns the unit vector of the principal axis with the greater moment.
func (m *moments) axis() r3.Vec {
	xx := m.xx - m.x*m.x/m.w
	xz := m.xz - m.x*m.z/m.w
	zz := m.zz - m.z*m.z/m.w
	sin, cos := math.Sincos(math.Atan2(2*xz, xx-zz) / 2)
	return r3.Vec{X: cos, Z: sin}
}

// bounds is the smallest interval of the values added to it.
type bounds struct {
	from, to float64
	any      bool
}

func (s *bounds) add(v float64) {
	if !s.any {
		s.from, s.to, s.any = v, v, true
		return
	}
	s.from, s.to = min(s.from, v), max(s.to, v)
}

func (s *bounds) length() float64 { return s.to - s.from }
