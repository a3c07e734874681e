// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/internal/parallel"
)

// interpolation is the path of an interpolated table.
type interpolation struct {
	path      *Path
	grid      Grid
	tolerance float64
}

// InterpolateOptions modifies [Path.Interpolate]. Nil stands for the zero value.
type InterpolateOptions struct {
	// Tolerance is the largest error of a time in seconds, from 1e-13 upward; 0
	// stands for 0.5 ns.
	Tolerance float64
	// Reuse, if not nil, is a table that is no longer needed, whose memory is
	// used for the new one.
	Reuse *Times
	// Workers is the most goroutines that work at a time; 0 stands for all cores.
	Workers int
}

const (
	// turns is the number of rays that do not start from each other's results, so that
	// the processor can work on some at a time.
	turns        = 2
	defaultError = 0.5e-9
	// margin is how much smaller than the tolerance an error must be at the
	// checks, which see it at its largest only where the time is smooth.
	margin = 0.5
	// coarse is the width of the largest cell in points. Half as many take up to
	// twice the time (BenchmarkInterpolate).
	coarse = 64
	// fine is the width below which cells are not divided, but all their rays
	// solved for.
	fine = 4
)

// Interpolate makes the table that [Path.Times] makes of the points of a grid,
// but solves for few of the rays: those at the corners of cells of up to 64 × 64
// points of a slice, or of all slices if they have one row each. There it takes the time, its
// slope along both directions of the cell (the slowness of the ray that arrives) and its
// mixed second derivative, and between them the bicubic polynomial that has all of these. So
// the table is exact at the corners, smooth, and the sooner made the smoother the times are;
// it serves for geometry that changes while one looks.
//
// Each cell is checked against rays at its centre and in the middle of two
// sides. One that errs by more than half of the tolerance is divided in the
// direction that it errs in, or in both, down to cells of which all rays are solved for; those at the edge of the part
// are too. Cells of different sizes meet within the tolerance. Times that jump
// within a cell between the checks, at the shadow of a wall, are not
// noticed; where one of a void, or of a gap in a surface, may be, every ray is solved for.
//
// Errors are those of [Path.Times]. The table is the same, bit for bit, for any
// number of cores.
func (p *Path) Interpolate(ctx context.Context, elements []r3.Vec, g Grid, options *InterpolateOptions) (*Times, error) {
	if options == nil {
		options = new(InterpolateOptions)
	}
	tolerance := options.Tolerance
	if tolerance == 0 {
		tolerance = defaultError
	}
	if !(tolerance >= 1e-13) || math.IsInf(tolerance, 0) {
		return nil, fmt.Errorf("wedge: tolerance %v s: want 0, or a finite value from 1e-13 s upward", tolerance)
	}
	if err := g.Validate(); err != nil {
		return nil, err
	}
	if err := p.checkEnds(elements, []r3.Vec{g.Origin, g.Point(g.Len() - 1)}); err != nil {
		return nil, err
	}
	t := options.Reuse
	if t == nil {
		t = new(Times)
	}
	n := g.Len()
	if cap(t.Seconds) < n*len(elements) {
		t.Seconds = make([]float32, n*len(elements))
	}
	points := t.MadeFor.Points
	if last, ok := t.MadeFor.Path.(interpolation); !ok || last.grid != g {
		points = g.Places()
	}
	*t = Times{
		Elements: len(elements),
		Points:   n,
		Seconds:  t.Seconds[:n*len(elements)],
		MadeFor:  MadeFor{PlacesOf(slices.Values(elements)), points, interpolation{p, g, tolerance}},
	}
	lattices := g.lattices()
	var adding sync.Mutex
	spread := parallel.Options{Workers: options.Workers}
	err := parallel.Do(ctx, len(elements)*len(lattices), spread, func() func(int) error {
		w := newWeaver(p, lattices[0], margin*tolerance)
		return func(task int) error {
			e, slice := task/len(lattices), task%len(lattices)
			part := n / len(lattices)
			w.lattice = lattices[slice]
			w.weave(elements[e], t.Seconds[e*n+slice*part:][:part])
			adding.Lock()
			defer adding.Unlock()
			t.Missing += w.missing
			t.Rays += w.rays
			t.Error = max(t.Error, w.worst)
			w.missing, w.rays = 0, 0
			return nil
		}
	})
	if err != nil {
		return nil, err
	}
	return t, nil
}

// lattice is a regular array of points in a plane. The point of row r and column c lies at
// origin + c·across + r·down, and has the index r*columns + c.
type lattice struct {
	origin, across, down r3.Vec // m
	columns, rows        int    // each at least 1
}

// at returns the point of a row and a column, in m.
func (l *lattice) at(row, column int) r3.Vec {
	r, c := float64(row), float64(column)
	return r3.Vec{
		X: l.origin.X + c*l.across.X + r*l.down.X,
		Y: l.origin.Y + c*l.across.Y + r*l.down.Y,
		Z: l.origin.Z + c*l.across.Z + r*l.down.Z,
	}
}

// lattices returns the slices of g as lattices, or a grid of one row as a single one.
func (g Grid) lattices() []lattice {
	across, down := r3.Vec{X: g.Step.X}, r3.Vec{Z: g.Step.Z}
	if g.Rows == 1 {
		return []lattice{{g.Origin, across, r3.Vec{Y: g.Step.Y}, g.Cols, g.Slices}}
	}
	all := make([]lattice, g.Slices)
	for s := range all {
		all[s] = lattice{g.Point(s * g.Rows * g.Cols), across, down, g.Cols, g.Rows}
	}
	return all
}

// weaver fills tables from one element after another.
type weaver struct {
	path      *Path
	lattice   lattice
	tolerance float64 // at the checks, s
	convex    bool    // whether what lies between places where a ray may end is one
	tracers   [turns]*tracer
	element   r3.Vec
	// band holds the times of the rows of a row of the largest cells, from that of
	// index first on. A table that is filled there, in the cache, and then copied,
	// takes 0.8 of the time of one that is filled in its place.
	band    []float32
	first   int
	nodes   [2][]node   // two rows of the corners of the largest cells
	offsets [2][]offset // of columns from the middle of an even, and of an odd number of them

	rays, missing int
	worst         float64
}

// offset is the distance of a point of a row from the middle of its cell.
type offset struct{ columns, square float64 }

// node is what the times are interpolated from.
type node struct {
	ok     bool
	time   float64
	slopes // a is the derivative by column, b that by row
	// Of a part with voids, the corners of the rectangle around the ray in the part.
	low, high point
	meetings  []float64 // where the ray meets the surfaces that have gaps
}

// cell is a rectangle of points, corners included.
type cell struct {
	row, column, rows, columns int     // the first point, and how many follow it
	corners                    [4]node // at the first row, the first two; at the last, the others
}

func newWeaver(p *Path, l lattice, tolerance float64) *weaver {
	w := &weaver{path: p, lattice: l, tolerance: tolerance, convex: true}
	for i := range w.tracers {
		t := newTracer(p)
		if l.across.Y != 0 || l.down.Y != 0 {
			t.section = nil
		}
		if s := t.section; s != nil {
			// The mixed derivative of a node is off by as much as the crossings are.
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

// weave fills the table from an element.
func (w *weaver) weave(element r3.Vec, seconds []float32) {
	w.element = element
	for _, t := range w.tracers {
		t.forget()
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

// line returns the points of the band in a row of the lattice, from a column on.
func (w *weaver) line(row, column, length int) []float32 {
	return w.band[(row-w.first)*w.lattice.columns+column:][:length]
}

// solve solves for the ray to a point.
func (w *weaver) solve(row, column int) node {
	w.rays++
	tracer := w.tracers[w.rays%turns]
	q := w.lattice.at(row, column)
	n := node{time: math.NaN()}
	if w.path.endsAt(q) {
		if time, status := tracer.trace(w.element, q, other); status == OK {
			n.ok, n.time = true, time
			n.slopes = tracer.slopes(w.element, q, w.lattice.across, w.lattice.down)
			if w.path.voids != nil {
				n.low, n.high = tracer.span(w.element, q)
			}
			n.meetings = tracer.meetings(w.element, q)
		}
	}
	if !n.ok {
		tracer.lose()
	}
	return n
}

// owned returns how many rows and columns of the table are the cell's to fill:
// its last ones belong to the neighbour, except at the end of the lattice.
func (w *weaver) owned(c *cell) (rows, columns int) {
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
func (w *weaver) fill(c cell) {
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
	if w.smooth(&c) && nodes[1][1].ok && nodes[0][1].ok && nodes[1][0].ok && w.inside(&c) {
		surface := c.polynomial()
		v, u := float64(c.rows/2), float64(c.columns/2)
		centre := math.Abs(surface.at(v, u) - nodes[1][1].time)
		top := math.Abs(surface.at(0, u) - nodes[0][1].time)
		left := math.Abs(surface.at(v, 0) - nodes[1][0].time)
		// To first order the error is a share from 0 to 1 of that along the rows
		// and another of that along the columns, and so largest at one of these.
		e := max(centre, top, left)
		if e <= w.tolerance {
			w.worst = max(w.worst, e)
			w.fillSmoothly(&c, &surface)
			return
		}
		// Where the error comes from one direction, the cell is divided there; where
		// neither shows it, or where they are NaN, in both.
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

// smooth reports whether no void and no gap is near, whose shadow the checks might miss,
// whether there is a ray to each corner, and the radius of the
// wavefront there at least twice the length of the cell. Nearer to an element in
// contact, or to a caustic, the time bends within a part of the cell, and the
// checks might miss it.
func (w *weaver) smooth(c *cell) bool {
	height := float64(c.rows) * r3.Norm(w.lattice.down)
	width := float64(c.columns) * r3.Norm(w.lattice.across)
	for i := range c.corners {
		if n := &c.corners[i]; !n.ok || math.Abs(n.radius) < 2*max(height, width) {
			return false
		}
	}
	return !w.nearVoid(c) && !w.nearGap(c)
}

// nearVoid reports whether the rectangle around the rays to the corners, and as
// much as a quarter more on every side, reaches one around a void.
func (w *weaver) nearVoid(c *cell) bool {
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

// inside reports whether a ray may end at each point of a cell of which it may
// end at the corners.
func (w *weaver) inside(c *cell) bool {
	if w.convex {
		return true
	}
	for row := c.row; row <= c.row+c.rows; row++ {
		for column := c.column; column <= c.column+c.columns; column++ {
			if !w.path.endsAt(w.lattice.at(row, column)) {
				return false
			}
		}
	}
	return true
}

// fillExactly solves for the ray to each point that the cell owns.
func (w *weaver) fillExactly(c *cell) {
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

// fillSmoothly takes the times of the points that the cell owns from a polynomial.
// In a row, of two points as far from the middle on either side the terms of even
// powers are equal, and those of odd powers opposite.
func (w *weaver) fillSmoothly(c *cell, surface *bicubic) {
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

// bicubic is a polynomial of rows and columns from the first corner of a cell:
// element [k][l] is the factor of row^k · column^l.
type bicubic [4][4]float64

// polynomial returns the bicubic Hermite interpolant: the polynomial with the
// time, slopes and mixed derivative of each corner.
func (c *cell) polynomial() bicubic {
	// Of each column of corners, the time and its derivative across, as cubics
	// of the row.
	n := &c.corners
	rows, columns := float64(c.rows), float64(c.columns)
	left := cubic(n[0].time, n[0].b, n[2].time, n[2].b, rows)
	right := cubic(n[1].time, n[1].b, n[3].time, n[3].b, rows)
	leftAcross := cubic(n[0].a, n[0].mixed, n[2].a, n[2].mixed, rows)
	rightAcross := cubic(n[1].a, n[1].mixed, n[3].a, n[3].mixed, rows)
	var b bicubic
	for k := range b {
		b[k] = cubic(left[k], leftAcross[k], right[k], rightAcross[k], columns)
	}
	return b
}

// cubic returns the coefficients of the cubic polynomial with the given values
// and slopes at 0 and at the length, which is a constant if the length is 0.
func cubic(f0, d0, f1, d1, length float64) [4]float64 {
	if length == 0 {
		return [4]float64{f0}
	}
	chord := (f1 - f0) / length
	return [4]float64{f0, d0, (3*chord - 2*d0 - d1) / length, (d0 + d1 - 2*chord) / (length * length)}
}

// shifted returns the polynomial with the columns counted from one of them, or from
// between two.
func (b *bicubic) shifted(u float64) bicubic {
	var s bicubic
	for k, c := range b {
		s[k] = [4]float64{
			c[0] + u*(c[1]+u*(c[2]+u*c[3])),
			c[1] + u*(2*c[2]+3*u*c[3]),
			c[2] + 3*u*c[3],
			c[3],
		}
	}
	return s
}

// row returns the coefficients of the cubic polynomial of the column in a row.
func (b *bicubic) row(v float64) (c0, c1, c2, c3 float64) {
	at := func(l int) float64 { return b[0][l] + v*(b[1][l]+v*(b[2][l]+v*b[3][l])) }
	return at(0), at(1), at(2), at(3)
}

// at returns the value at a row and a column.
func (b *bicubic) at(v, u float64) float64 {
	c0, c1, c2, c3 := b.row(v)
	return c0 + u*(c1+u*(c2+u*c3))
}
