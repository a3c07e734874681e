// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/spatial/r3"
)

// cellFiller fills tables from one element after another.
type cellFiller struct {
	path      *Path
	lattice   lattice
	steps     [2]float64 // distances of rows and of columns, m
	tolerance float64    // largest error at a check, s
	convex    bool       // whether a ray may end at every place between places where a ray may end
	tracers   [turns]*tracer
	element   r3.Vec
	fan       *fan // of the element; nil if at most one ray leads to any point
	// band holds the times of one row of the largest cells. Its first row has the index first. A
	// table that is filled in the band, in the cache, and then copied takes 0.8 of the time of a
	// table that is filled in place.
	band    []float32
	first   int
	nodes   [2][]node   // two rows of the corners of the largest cells
	offsets [2][]offset // of columns from the middle of an even, and of an odd number of columns

	rays, missing int
	worst         float64
}

// offset is the distance of a point of a row from the middle of its cell, and the square of the
// distance.
type offset struct{ columns, square float64 }

// node holds the values at a point from which times are interpolated.
type node struct {
	ok      bool
	several bool // other rays may lead to the point
	time    float64
	slopes  // a is the derivative with respect to the column, b with respect to the row
	// For a part with voids: corners of the rectangle around the ray in the part.
	low, high point
	clearance float64   // from the walls; see [tracer.clearance]
	meetings  []float64 // x at which the ray meets each surface with a gap
}

// cell is a rectangle of points, corners included.
type cell struct {
	row, column, rows, columns int     // the first point, and the numbers of points after it
	corners                    [4]node // two at the first row, then two at the last row
}

func newCellFiller(p *Path, l lattice, tolerance float64) *cellFiller {
	w := &cellFiller{
		path: p, lattice: l, tolerance: tolerance, convex: true,
		steps: [2]float64{r3.Norm(l.down), r3.Norm(l.across)},
	}
	for i := range w.tracers {
		t := newTracer(p)
		if l.across.Y != 0 || l.down.Y != 0 {
			t.section = nil
		}
		if s := t.section; s != nil {
			// The mixed derivative of a node has the relative error of the crossings.
			s.near = 1e-4
		}
		w.tracers[i] = t
	}
	for _, b := range p.ends {
		w.convex = w.convex && convex(b)
	}
	w.band = make([]float32, min(coarse+1, l.rows)*l.columns)
	corners := (l.columns+coarse-2)/coarse + 1
	w.nodes = [2][]node{make([]node, corners), make([]node, corners)}
	for i := range coarse/2 + 1 {
		for odd := range w.offsets {
			k := float64(i) + 0.5*float64(1+odd)
			w.offsets[odd] = append(w.offsets[odd], offset{k, k * k})
		}
	}
	return w
}

// table fills the table from an element.
func (w *cellFiller) table(element r3.Vec, f *fan, seconds []float32) {
	w.element, w.fan = element, f
	for _, t := range w.tracers {
		t.forget(w.fan)
	}
	lastRow, lastColumn := w.lattice.rows-1, w.lattice.columns-1
	above, below := w.nodes[0], w.nodes[1]
	for i := range above {
		above[i] = w.solve(0, min(i*coarse, lastColumn))
	}
	for row := 0; row == 0 || row < lastRow; row += coarse {
		end := min(row+coarse, lastRow)
		w.first = row
		for i := range below {
			below[i] = w.solve(end, min(i*coarse, lastColumn))
		}
		for i := range max(1, len(above)-1) {
			right := min(i+1, len(above)-1)
			column := i * coarse
			w.fill(cell{
				row: row, column: column, rows: end - row, columns: min(column+coarse, lastColumn) - column,
				corners: [4]node{above[i], above[right], below[i], below[right]},
			})
		}
		above, below = below, above
		owned := end - row
		if end == lastRow {
			owned++
		}
		copy(seconds[row*w.lattice.columns:], w.band[:owned*w.lattice.columns])
	}
}

// line returns points of the band in a row of the lattice, from a column on.
func (w *cellFiller) line(row, column, length int) []float32 {
	return w.band[(row-w.first)*w.lattice.columns+column:][:length]
}

// solve solves for the ray to a point.
func (w *cellFiller) solve(row, column int) node {
	w.rays++
	tracer := w.tracers[w.rays%turns]
	q := w.lattice.at(row, column)
	n := node{time: math.NaN()}
	if w.path.endsAt(q) {
		if time, status := tracer.first(w.element, q, other); status == OK {
			n.ok, n.time, n.several = true, time, tracer.several
			n.slopes = tracer.slopes(w.element, q, w.lattice.across, w.lattice.down)
			if w.path.voids != nil {
				n.low, n.high = tracer.span(w.element, q)
			}
			n.meetings = tracer.meetings(w.element, q)
			n.clearance = tracer.clearance(w.element, q)
		}
	}
	if !n.ok {
		tracer.lose()
	}
	return n
}

// owned returns the numbers of rows and columns of the table that the cell fills. The last row and
// column belong to the neighbour, except at the end of the lattice.
func (w *cellFiller) owned(c *cell) (rows, columns int) {
	rows, columns = c.rows, c.columns
	if c.row+c.rows == w.lattice.rows-1 {
		rows++
	}
	if c.column+c.columns == w.lattice.columns-1 {
		columns++
	}
	return rows, columns
}

// fill fills the points that the cell owns.
func (w *cellFiller) fill(c cell) {
	if c.rows <= fine && c.columns <= fine {
		w.fillExactly(&c)
		return
	}
	rows := [3]int{c.row, c.row + c.rows/2, c.row + c.rows}
	columns := [3]int{c.column, c.column + c.columns/2, c.column + c.columns}
	var nodes [3][3]node
	nodes[0][0], nodes[0][2], nodes[2][0], nodes[2][2] = c.corners[0], c.corners[1], c.corners[2], c.corners[3]
	solve := func(i, j int) { nodes[i][j] = w.solve(rows[i], columns[j]) }
	solve(1, 1)
	solve(0, 1)
	solve(1, 0)
	splitRows, splitColumns := c.rows > fine, c.columns > fine
	smooth := w.regular(&c, [...]node{c.corners[0], c.corners[1], c.corners[2], c.corners[3],
		nodes[1][1], nodes[0][1], nodes[1][0]})
	if smooth && !w.nearVoid(&c) && !w.nearGap(&c) && w.inside(&c) {
		surface := c.polynomial()
		centre := c.miss(&surface, &nodes[1][1], c.rows/2, c.columns/2)
		top := c.miss(&surface, &nodes[0][1], 0, c.columns/2)
		left := c.miss(&surface, &nodes[1][0], c.rows/2, 0)
		// To first order the error is a share from 0 to 1 of the error along the rows plus a share
		// of the error along the columns. So it is largest near one of these three points.
		e := max(centre, top, left)
		if e <= w.tolerance {
			w.worst = max(w.worst, e)
			w.fillSmoothly(&c, &surface)
			return
		}
		// A cell is divided in the direction that causes the error, or in both directions if
		// neither clearly causes it or an error is NaN.
		if splitRows && splitColumns {
			splitRows, splitColumns = !(top > 4*left), !(left > 4*top)
		}
	}
	down, right := []int{0, 2}, []int{0, 2}
	if splitRows {
		down = []int{0, 1, 2}
		solve(1, 2)
	}
	if splitColumns {
		right = []int{0, 1, 2}
		solve(2, 1)
	}
	for i := range len(down) - 1 {
		for j := range len(right) - 1 {
			top, bottom, left, end := down[i], down[i+1], right[j], right[j+1]
			w.fill(cell{
				row: rows[top], column: columns[left],
				rows: rows[bottom] - rows[top], columns: columns[end] - columns[left],
				corners: [4]node{nodes[top][left], nodes[top][end], nodes[bottom][left], nodes[bottom][end]},
			})
		}
	}
}

// miss returns the largest error of the polynomial near a check, in s. The error is zero with its
// slopes at the corners. Along a side from -1 to 1 it is (1 - x²)²·(α + βx) to the lowest orders,
// with its value α and its slope β in the middle. The largest value of (1 - x²)²·x is 0.286.
func (c *cell) miss(surface *bicubic, n *node, row, column int) float64 {
	v, u := float64(row), float64(column)
	across, down := surface.slopes(v, u)
	return math.Abs(surface.at(v, u)-n.time) +
		0.286*(math.Abs(across-n.a)*float64(c.columns)/2+math.Abs(down-n.b)*float64(c.rows)/2)
}

// regular reports whether the times around the nodes are smooth. There must be one ray to each
// node, because the first of several rays changes to another ray somewhere. The radius of the
// wavefront must be at least twice the length of the cell. Nearer to an element in contact, or to
// a caustic, the time bends within a part of the cell, and the checks might miss it. The clearance
// of the rays from the walls must be larger than its changes, because behind a wall there is no
// ray.
func (w *cellFiller) regular(c *cell, nodes [7]node) bool {
	least, most := math.Inf(1), math.Inf(-1)
	height, width := float64(c.rows)*w.steps[0], float64(c.columns)*w.steps[1]
	for i := range nodes {
		if n := &nodes[i]; !n.ok || n.several || math.Abs(n.radius) < 2*max(height, width) {
			return false
		}
		least, most = min(least, nodes[i].clearance), max(most, nodes[i].clearance)
	}
	return len(w.path.walls) == 0 || least > (most-least)/2
}

// nearVoid reports whether a void may affect the cell. It compares the rectangle around each void
// with the rectangle around the rays to the corners, widened by a quarter on every side.
func (w *cellFiller) nearVoid(c *cell) bool {
	if w.path.voids == nil {
		return false
	}
	low, high := c.corners[0].low, c.corners[0].high
	for i := range c.corners {
		n := &c.corners[i]
		low = point{min(low.x, n.low.x), min(low.z, n.low.z)}
		high = point{max(high.x, n.high.x), max(high.z, n.high.z)}
	}
	dx, dz := (high.x-low.x)/4, (high.z-low.z)/4
	for i := range w.path.voids {
		v := &w.path.voids[i]
		if v.min.x <= high.x+dx && v.max.x >= low.x-dx && v.min.z <= high.z+dz && v.max.z >= low.z-dz {
			return true
		}
	}
	return false
}

// inside reports whether a ray may end at each point of a cell, if a ray may end at its corners.
func (w *cellFiller) inside(c *cell) bool {
	return w.convex || w.holds(c.row, c.column, c.rows, c.columns)
}

// holds reports whether a ray may end at each point of a rectangle of the lattice, corners
// included. The numbers of rows and columns are those after the first point. A rectangle within a
// circle that no surface reaches needs one look at each surface. Other rectangles are divided.
func (w *cellFiller) holds(row, column, rows, columns int) bool {
	if rows == 0 && columns == 0 {
		return w.path.endsAt(w.lattice.at(row, column))
	}
	first, last := w.lattice.at(row, column), w.lattice.at(row+rows, column+columns)
	middle, radius := between(first, last, 0.5), r3.Norm(r3.Sub(last, first))/2
	if !slices.ContainsFunc(w.path.ends, func(b bound) bool { return !(b.atLeast(middle) >= radius) }) {
		return true
	}
	if rows > columns {
		half := rows / 2
		return w.holds(row, column, half, columns) && w.holds(row+half+1, column, rows-half-1, columns)
	}
	half := columns / 2
	return w.holds(row, column, rows, half) && w.holds(row, column+half+1, rows, columns-half-1)
}

// fillExactly solves for the ray to each point that the cell owns.
func (w *cellFiller) fillExactly(c *cell) {
	rows, columns := w.owned(c)
	for row := c.row; row < c.row+rows; row++ {
		line := w.line(row, c.column, columns)
		for i := range line {
			n := w.solve(row, c.column+i)
			line[i] = float32(n.time)
			if !n.ok {
				w.missing++
			}
		}
	}
}

// fillSmoothly takes the times of the points that the cell owns from a polynomial. It computes two
// points of a row together: at opposite distances from the middle, the even powers are equal and
// the odd powers are opposite.
func (w *cellFiller) fillSmoothly(c *cell, surface *bicubic) {
	rows, columns := w.owned(c)
	half := columns / 2
	centred := surface.shifted(float64(columns-1) / 2)
	offsets := w.offsets[columns%2][:half]
	for i := range rows {
		c0, c1, c2, c3 := centred.row(float64(i))
		line := w.line(c.row+i, c.column, columns)
		left, right := line[:half], line[columns-half:][:len(offsets)]
		if half < columns-half {
			line[half] = float32(c0)
		}
		for j := range offsets {
			k := &offsets[j]
			even, odd := c0+k.square*c2, k.columns*(c1+k.square*c3)
			right[j] = float32(even + odd)
			left[len(left)-1-j] = float32(even - odd)
		}
	}
}

// nearGap reports whether a gap may affect the cell. It compares each gap with the range of x in
// which the rays to the corners meet the surface of the gap, widened by a quarter on either side.
func (w *cellFiller) nearGap(c *cell) bool {
	for i := range w.path.gaps {
		g := &w.path.gaps[i]
		low, high := math.Inf(1), math.Inf(-1)
		for k := range c.corners {
			x := c.corners[k].meetings[i]
			low, high = min(low, x), max(high, x)
		}
		if more := (high - low) / 4; g.Min <= high+more && g.Max >= low-more {
			return true
		}
	}
	return false
}
