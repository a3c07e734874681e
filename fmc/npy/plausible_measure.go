// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package npy

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/number"
)

// measures are the quantities of a set-up that are judged, or that judge other quantities. A
// quantity that does not exist, or that was found implausible, is NaN.
type measures struct {
	frequency, bandwidth float64
	width                float64
	spacing              float64 // of an element and its nearest neighbour, the median
	rowSpacing           float64 // of two elements in a row, the least
	length               float64 // of the array, from its first element to the farthest one
	middle               float64 // x of the middle of the array
	contact              bool    // with the part: there is no coupling
	height, lowest       float64 // above the entry surface: median and least; NaN in contact
	tilt                 float64 // of the array from the entry surface, 0 to π/2; NaN in contact
	rate, first, last    float64
	front                float64 // speed of longitudinal waves in the medium at the array
	longitudinal         float64 // speeds of the part
	transverse           float64 // NaN in a fluid
	thickness, radius    float64
}

func measure(r *Record) *measures {
	c, a := r.Capture, &r.Capture.Array
	m := &measures{
		frequency: a.CentreFrequency, bandwidth: a.Bandwidth, width: a.Width,
		rate: c.SampleRate, first: c.FirstSample, last: c.Time(c.Samples - 1),
		height: nan, lowest: nan, tilt: nan, radius: nan, transverse: nan,
		longitudinal: r.Part.Longitudinal, front: r.Part.Longitudinal, thickness: r.Thickness,
	}
	if r.Part.Transverse > 0 {
		m.transverse = r.Part.Transverse
	}
	if r.Surface.Radius != 0 {
		m.radius = r.Surface.Radius
	}
	m.layOut(a.Elements)
	m.contact = r.Coupling == nil
	if !m.contact {
		m.front = r.Coupling.Longitudinal
		m.stand(a.Elements, r.Surface)
	}
	return m
}

// misplace sets all quantities to NaN that follow from the places of the elements.
func (m *measures) misplace() {
	m.spacing, m.rowSpacing, m.length, m.middle = nan, nan, nan, nan
	m.height, m.lowest, m.tilt = nan, nan, nan
	m.contact = false
}

// wavelength returns the wavelength in m of longitudinal waves in the medium that the array
// radiates into.
func (m *measures) wavelength() float64 { return m.front / m.frequency }

// extent returns the length in m of the array between the outer edges of its elements.
func (m *measures) extent() float64 { return m.length + m.width }

// firstEcho returns the time in s of the echo from the entry surface at an element that is so high
// above the surface.
func (m *measures) firstEcho(height float64) float64 {
	if m.contact {
		return 0
	}
	return 2 * height / m.front
}

// reach returns the depth in m of the part whose echo arrives with the last sample.
func (m *measures) reach() float64 {
	return (m.last - m.firstEcho(m.height)) * m.longitudinal / 2
}

// maxMeasured is the greatest number of elements whose nearest neighbours are sought, because each
// search goes through all elements, and a file from anywhere may have many.
const maxMeasured = 256

// layOut measures the places of the elements.
func (m *measures) layOut(elements []r3.Vec) {
	m.spacing, m.rowSpacing = nan, nan
	far := farthest(elements, elements[0])
	m.middle = (elements[0].X + elements[far].X) / 2
	if len(elements) == 1 {
		return
	}
	across := r3.Sub(elements[far], elements[0])
	m.length = r3.Norm(across)
	linear := onLine(elements, across)
	var nearest []float64
	stride := (len(elements) + maxMeasured - 1) / maxMeasured
	for i := 0; i < len(elements); i += stride {
		all, row := neighbours(elements, i, linear)
		nearest = append(nearest, all)
		if !(m.rowSpacing <= row) && !math.IsInf(row, 0) {
			m.rowSpacing = row
		}
	}
	m.spacing = number.Median(nearest)
}

// farthest returns the index of the element that is farthest from a point.
func farthest(elements []r3.Vec, from r3.Vec) int {
	far := slices.MaxFunc(elements, func(a, b r3.Vec) int {
		return cmp.Compare(r3.Norm2(r3.Sub(a, from)), r3.Norm2(r3.Sub(b, from)))
	})
	return slices.Index(elements, far)
}

// onLine reports whether all elements lie on a line along the given direction, and the line does
// not run along y. Along y the elements of a matrix array have another width.
func onLine(elements []r3.Vec, along r3.Vec) bool {
	if math.Abs(along.Y) > 0.7*r3.Norm(along) {
		return false
	}
	direction := r3.Unit(along)
	for _, e := range elements {
		if !(r3.Norm(r3.Cross(r3.Sub(e, elements[0]), direction)) <= 1e-6*r3.Norm(along)) {
			return false
		}
	}
	return true
}

// neighbours returns the distance in m of element i to the nearest other element, and to the
// nearest element of its row. A row are the elements with the same y, or all elements of a linear
// array.
func neighbours(elements []r3.Vec, i int, linear bool) (all, row float64) {
	all, row = math.Inf(1), math.Inf(1)
	for k, e := range elements {
		if k == i {
			continue
		}
		d := r3.Norm(r3.Sub(e, elements[i]))
		all = min(all, d)
		if linear || e.Y == elements[i].Y {
			row = min(row, d)
		}
	}
	return all, row
}

// stand measures how the array stands above the entry surface.
func (m *measures) stand(elements []r3.Vec, s EntrySurface) {
	heights := make([]float64, len(elements))
	for i, e := range elements {
		heights[i] = 0 - s.depth(e.X, e.Z) // not -0
	}
	m.height, m.lowest = number.Median(heights), slices.Min(heights)
	if along, ok := principal(elements); ok {
		normal := r3.Vec{Z: 1}
		if s.Radius != 0 {
			middle := elements[len(elements)/2]
			normal = r3.Unit(r3.Vec{X: -middle.X, Z: s.Radius - middle.Z})
		}
		m.tilt = math.Asin(min(1, math.Abs(r3.Dot(along, normal))))
	}
}

// principal returns the direction in the xz plane along which the elements lie: the eigenvector of
// their scatter matrix with the greater eigenvalue. ok is false if no direction stands out.
func principal(elements []r3.Vec) (along r3.Vec, ok bool) {
	var mean r3.Vec
	for _, e := range elements {
		mean = r3.Add(mean, r3.Scale(1/float64(len(elements)), e))
	}
	var xx, xz, zz float64
	for _, e := range elements {
		d := r3.Sub(e, mean)
		xx, xz, zz = xx+d.X*d.X, xz+d.X*d.Z, zz+d.Z*d.Z
	}
	difference := math.Hypot(xx-zz, 2*xz)
	sin, cos := math.Sincos(math.Atan2(2*xz, xx-zz) / 2)
	return r3.Vec{X: cos, Z: sin}, difference > 0.5*(xx+zz)
}

// depth returns the depth in m of a point below the entry surface: along the normal of a plane or a
// cylinder, along z of a profile. It is below 0 outside the part.
func (s EntrySurface) depth(x, z float64) float64 {
	switch {
	case s.Radius != 0:
		return s.Radius - math.Hypot(x, z-s.Radius)
	case s.Points != nil:
		return z - s.height(x)
	}
	return z
}

// height returns z of a profile at x. Beyond its ends a profile is level.
func (s EntrySurface) height(x float64) float64 {
	p := s.Points
	byX := func(q r3.Vec, x float64) int { return cmp.Compare(q.X, x) }
	i, _ := slices.BinarySearchFunc(p, x, byX)
	if i == 0 || i == len(p) {
		return p[min(i, len(p)-1)].Z
	}
	t := (x - p[i-1].X) / (p[i].X - p[i-1].X)
	return p[i-1].Z + t*(p[i].Z-p[i-1].Z)
}
