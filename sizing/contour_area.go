// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package sizing

// share returns the share of pixel q in the area inside the contour, in pixels. q is a corner of
// four cells. In each cell the area inside the contour is divided equally among the corners
// inside.
func (m *measurer) share(q int32, level float64) (share float64) {
	cols, rows := int32(m.env.Cols), int32(m.env.Rows)
	r, c := q/cols, q%cols
	for row := max(r-1, 0); row <= min(r, rows-2); row++ {
		for col := max(c-1, 0); col <= min(c, cols-2); col++ {
			share += m.cell(row*cols+col, level)
		}
	}
	return share
}

// cell returns the area inside the contour of one cell, divided by the number of its corners
// inside, which is at least 1. Pixel q is the corner of least index. The contour is straight
// between the sides of the cell. Two opposite corners inside stay connected, as in the drop area.
func (m *measurer) cell(q int32, level float64) float64 {
	cols := int32(m.env.Cols)
	pixels := [4]int32{q, q + 1, q + cols + 1, q + cols}
	corners := [4][2]float64{{0, 0}, {1, 0}, {1, 1}, {0, 1}}
	var polygon [6][2]float64 // of corners inside and crossings, in turn
	points, inside := 0, 0
	add := func(x, z float64) {
		polygon[points] = [2]float64{x, z}
		points++
	}
	for i, a := range pixels {
		j := (i + 1) % 4
		b := pixels[j]
		p, d := corners[i], [2]float64{corners[j][0] - corners[i][0], corners[j][1] - corners[i][1]}
		if m.inside(a) {
			inside++
			add(p[0], p[1])
		}
		switch {
		case m.inside(a) && !m.inside(b):
			t := m.crossing(a, b, level)
			add(p[0]+t*d[0], p[1]+t*d[1])
		case m.inside(b) && !m.inside(a):
			t := 1 - m.crossing(b, a, level)
			add(p[0]+t*d[0], p[1]+t*d[1])
		}
	}
	var double float64
	for i := range points {
		a, b := polygon[i], polygon[(i+1)%points]
		double += a[0]*b[1] - b[0]*a[1]
	}
	return double / 2 / float64(inside)
}
