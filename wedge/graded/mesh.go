// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"

	"github.com/isochron-imaging/isochron/wedge"
)

// corner is a sample of a ray as a corner of a triangle. x and z are its place, time the time there.
// The slowness is the gradient of the time.
type corner struct{ x, z, time, slowX, slowZ float64 }

// corner returns the sample number k of a piece as a corner.
func (p *piece) corner(k int) *corner { return &p.corners[k-p.first] }

// cornerAt returns a wave in a room as a corner.
func (s *shooter) cornerAt(room int, at state, time float64) corner {
	sin, cos := math.Sincos(at.angle)
	slow := 1 / s.part.rooms[room].Phase(s.pol, at.at(s.y), at.angle).Speed
	return corner{at.x, at.z, time, slow * cos, slow * sin}
}

// ahead returns the time at a place by the wave at the corner, half of the way. For corners c with
// the shares λ of a place q in a triangle, the time is
//
//	Σ λ (time + slowness·(q − c)/2)
//
// This formula is exact if the time is a quadratic function of the place.
func (c *corner) ahead(x, z float64) float64 {
	return c.time + (c.slowX*(x-c.x)+c.slowZ*(z-c.z))/2
}

// halfway returns the time at a place near the middle of the line between two corners, by the
// formula of ahead and the mean slowness.
func halfway(a, b *corner, at *corner) float64 {
	x, z := (a.x+b.x)/2, (a.z+b.z)/2
	return (a.ahead(x, z) + b.ahead(x, z) +
		(a.slowX+b.slowX)*(at.x-x) + (a.slowZ+b.slowZ)*(at.z-z)) / 2
}

// smooth reports whether the cells between two rays give the times along the ray in the middle. The
// cells of a table are half as wide.
func (f *fan) smooth(a, m, b *shot) bool {
	for i := range m.pieces {
		q := &m.pieces[i]
		if !f.smoothPiece(&a.pieces[a.find(q.path)], q, &b.pieces[b.find(q.path)]) {
			return false
		}
	}
	return true
}

// smoothPiece is smooth for pieces.
func (f *fan) smoothPiece(p, q, r *piece) bool {
	if !f.part.final(q.room) {
		return true
	}
	first, end := max(p.first, q.first, r.first), min(p.end(), q.end(), r.end())
	for k := first; k < end; k++ {
		if time := f.step * float64(k); time < q.enter || time > q.leave ||
			!f.aims(p.sample(k), r.sample(k)) {
			continue // the wave is not there, or no point is
		}
		e := missAcross(p.corner(k), q.corner(k), r.corner(k))
		if !(e <= f.verify) {
			return false
		}
		if folds(p.corner(k), q.corner(k), r.corner(k)) {
			p.edge, q.edge, r.edge = true, true, true
		}
		f.worst = max(f.worst, e)
	}
	return true
}

// halved is the error of a cell by the error of a cell of twice the size. The formula of the time
// has an error of third order, so the error is about an eighth. A quarter is taken.
const halved = 1. / 4

// missAcross returns the error, in a cell between a ray and the ray in the middle, of the time. The
// three rays are at the same time. Where the waves fold over between the rays, the error is the time
// over the distance of the ray from the middle: the triangles then end that close to the caustic.
func missAcross(a, m, b *corner) float64 {
	if folds(a, m, b) {
		return math.Hypot(m.x-(a.x+b.x)/2, m.z-(a.z+b.z)/2) * math.Hypot(m.slowX, m.slowZ)
	}
	return halved * miss(a, m, b)
}

// miss returns the largest error of the time between two corners, from a corner near their middle. In
// the middle an error of fourth order shows. An error of third order is zero there, but changes the
// slope: over a length L a wrong slope e makes an error of up to e·L/(3√3).
func miss(a, m, b *corner) float64 {
	const third = 0.19245 // 1/(3√3)
	dx, dz := b.x-a.x, b.z-a.z
	square := dx*dx + dz*dz
	if square == 0 {
		return math.Abs(halfway(a, b, m) - m.time)
	}
	off := ((m.x-(a.x+b.x)/2)*dx + (m.z-(a.z+b.z)/2)*dz) / square
	bend := (b.slowX-a.slowX)*dx + (b.slowZ-a.slowZ)*dz
	slope := m.slowX*dx + m.slowZ*dz - bend*off
	return math.Abs(halfway(a, b, m)-m.time) + third*math.Abs(slope-(b.time-a.time))
}

// folds reports whether the waves between two rays fold over at a ray between them.
func folds(a, m, b *corner) bool { return (m.x-a.x)*(b.x-m.x)+(m.z-a.z)*(b.z-m.z) <= 0 }

// missAlong returns the error of the time in the two steps of a ray before and after sample k.
func (p *piece) missAlong(k int) float64 {
	if k <= p.first || k+1 >= p.end() {
		return 0
	}
	return halved * miss(p.corner(k-1), p.corner(k), p.corner(k+1))
}

// fineLaunch is the angle between rays in rad, in a fan of an interpolated table, below which a kind
// of ray may begin without more rays.
const fineLaunch = 1e-6

// settled reports whether two neighbouring rays at the end of a kind of rays are alike, and so close
// to each other that the end lies within the tolerance of them.
func (f *fan) settled(a, b *shot) bool {
	if a == nil || b == nil || !f.alike(a, b) {
		return false
	}
	for i := range a.pieces {
		if !f.close(&a.pieces[i], &b.pieces[b.find(a.pieces[i].path)]) {
			return false
		}
	}
	return true
}

// close reports whether two pieces lie within the tolerance of each other near the target.
func (f *fan) close(p, q *piece) bool {
	if !f.part.final(p.room) {
		return true
	}
	first, end := common(p, q)
	for k := first; k < end; k++ {
		a, b := p.corner(k), q.corner(k)
		gap := math.Hypot(a.x-b.x, a.z-b.z) * math.Hypot(a.slowX, a.slowZ)
		if gap > f.verify/4 && f.aims(p.sample(k), q.sample(k)) {
			return false
		}
	}
	return true
}

// edges makes strips between the last ray of one kind and the first ray of another. The strips close
// the mesh where both rays have pieces of the same wave.
func (f *fan) edges(a, b *shot) {
	same := make([]bool, len(a.pieces)) // the waves that start a piece are the same
	for i := range a.pieces {
		p := &a.pieces[i]
		p.edge = true
		j := b.find(p.path)
		if j < 0 {
			continue
		}
		q := &b.pieces[j]
		same[i] = a.folds == b.folds
		if p.parent >= 0 {
			before, beside := &a.pieces[p.parent], &b.pieces[q.parent]
			same[i] = same[p.parent] && before.exit == beside.exit && before.folds == beside.folds
		}
		if same[i] {
			f.strips = append(f.strips, strip{a, b, i, j})
		}
	}
	for j := range b.pieces {
		b.pieces[j].edge = true
	}
}

// canvas collects the times of one element at the points of a grid.
type canvas struct {
	grid  wedge.Grid
	rooms []int16 // room of each point on the last leg, or −1 outside the part
	keep  int     // number of arrivals kept of each point
	times []float64
}

// newCanvas returns an empty canvas of a part.
func newCanvas(p *space, g wedge.Grid, keep int) *canvas {
	c := &canvas{grid: g, rooms: make([]int16, g.Len()), keep: keep}
	for i := range c.rooms {
		q := g.Point(i)
		c.rooms[i] = -1
		if p.inside(q, contactTolerance) {
			c.rooms[i] = int16(p.last() + p.zone(q))
		}
	}
	return c
}

// another returns an empty canvas of the same part and grid.
func (c *canvas) another() *canvas {
	fresh := *c
	fresh.times = make([]float64, len(c.rooms)*c.keep)
	return &fresh
}

// clear removes all times.
func (c *canvas) clear() {
	for i := range c.times {
		c.times[i] = math.Inf(1)
	}
}

// put adds an arrival.
func (c *canvas) put(point int, time float64) {
	kept := c.times[point*c.keep:][:c.keep]
	for i := range kept {
		if time < kept[i] {
			kept[i], time = time, kept[i]
		}
	}
}

// paint adds the times of all cells of a fan.
func (c *canvas) paint(f *fan) {
	for i := range f.strips {
		s := &f.strips[i]
		p, q := &s.a.pieces[s.pieceA], &s.b.pieces[s.pieceB]
		if !f.part.final(p.room) {
			continue
		}
		first, end := common(p, q)
		if p.parent < 0 && f.part.Coupling == nil {
			first = max(first, 0) // there is no ray before the element
		}
		for k := first; k+1 < end; k++ {
			if !f.near(p.sample(k), q.sample(k)) || !f.near(p.sample(k+1), q.sample(k+1)) ||
				!f.aims(p.sample(k), q.sample(k)) {
				continue
			}
			c.cell(f, p, q, k)
		}
	}
}

// mostParts is the largest number of parts into which a step of a ray is divided.
const mostParts = 16

// parts returns the corners between sample k of a piece and the next sample. There are such corners
// where the step is too long for the tolerance: for the time between its ends, or for the place of
// the ray if it is the edge of a kind of rays. The tubes on both sides of a ray have the same
// corners.
func (f *fan) parts(p *piece, k int) []corner {
	if p.inner == nil {
		p.inner = make([][]corner, len(p.samples))
	}
	if done := p.inner[k-p.first]; done != nil {
		return done
	}
	parts := 1
	e := max(p.missAlong(k), p.missAlong(k+1))
	for ; e > f.verify && parts < mostParts; e /= 8 {
		parts *= 2
	}
	f.limited = f.limited || e > f.verify
	f.worst = max(f.worst, e)
	if p.edge {
		n := 1
		for bow := max(p.bow(k), p.bow(k+1)); bow > f.verify && n < mostParts; bow /= 4 {
			n *= 2
		}
		parts = max(parts, n)
	}
	inner, medium := make([]corner, parts-1), f.part.rooms[p.room]
	for i := range inner {
		later := f.step * float64(i+1) / float64(parts)
		inner[i] = f.cornerAt(p.room, f.advance(medium, p.sample(k), later),
			p.corner(k).time+later)
	}
	p.inner[k-p.first] = inner
	return inner
}

// bow returns the largest distance of a ray from the straight line between sample k and the next
// sample, as a time.
func (p *piece) bow(k int) float64 {
	if k <= p.first || k+1 >= p.end() {
		return 0
	}
	a, m, b := p.corner(k-1), p.corner(k), p.corner(k+1)
	return math.Hypot(m.x-(a.x+b.x)/2, m.z-(a.z+b.z)/2) / 4 * math.Hypot(m.slowX, m.slowZ)
}

// cell adds the times of the cell between sample k and the next sample of two pieces.
func (c *canvas) cell(f *fan, p, q *piece, k int) {
	left, right := f.parts(p, k), f.parts(q, k)
	a, b := p.corner(k), q.corner(k)
	for i, j := 0, 0; i <= len(left) || j <= len(right); {
		// The next corner is the earlier one of both sides.
		if j > len(right) || i <= len(left) && (i+1)*(len(right)+1) <= (j+1)*(len(left)+1) {
			next := p.corner(k + 1)
			if i < len(left) {
				next = &left[i]
			}
			c.triangle(p, q, a, b, next)
			a = next
			i++
			continue
		}
		next := q.corner(k + 1)
		if j < len(right) {
			next = &right[j]
		}
		c.triangle(p, q, a, b, next)
		b = next
		j++
	}
}

// triangle adds the times at the points in a triangle between two pieces. A point on the common side
// of two triangles lies in exactly one of them.
func (c *canvas) triangle(one, other *piece, p, q, r *corner) {
	g, room := &c.grid, int16(one.room)
	early, late := min(one.enter, other.enter), max(one.leave, other.leave)
	spread := math.Abs(one.enter - other.enter)
	if one.exit == other.exit && one.exit >= 0 {
		spread = max(spread, math.Abs(one.leave-other.leave))
	}
	early, late = early-spread, late+spread
	minX, maxX := (min(p.x, q.x, r.x)-g.Origin.X)/g.Step.X, (max(p.x, q.x, r.x)-g.Origin.X)/g.Step.X
	minZ, maxZ := (min(p.z, q.z, r.z)-g.Origin.Z)/g.Step.Z, (max(p.z, q.z, r.z)-g.Origin.Z)/g.Step.Z
	if !(maxX >= 0 && maxZ >= 0 && minX <= float64(g.Cols-1) && minZ <= float64(g.Rows-1)) {
		return
	}
	left, right := int(math.Ceil(max(minX, 0))), int(min(maxX, float64(g.Cols-1)))
	top, bottom := int(math.Ceil(max(minZ, 0))), int(min(maxZ, float64(g.Rows-1)))
	for row := top; row <= bottom; row++ {
		z := g.Y(row)
		for column := left; column <= right; column++ {
			point := row*g.Cols + column
			if c.rooms[point] != room {
				continue
			}
			x := g.X(column)
			alpha, sideA := side(q, r, x, z)
			beta, sideB := side(r, p, x, z)
			gamma, sideC := side(p, q, x, z)
			if sideA != sideB || sideB != sideC {
				continue
			}
			time := (alpha*p.ahead(x, z) + beta*q.ahead(x, z) + gamma*r.ahead(x, z)) /
				(alpha + beta + gamma)
			if time >= early-contactTime && time <= late+contactTime {
				c.put(point, time)
			}
		}
	}
}

// contactTime is the time in s by which a wave may seem to come to a point before it comes to its
// zone, or after it has left the zone: a wave beyond its zone only shapes the cells.
const contactTime = 5e-9

// side returns twice the area of the triangle between a line and a point, with its sign, and the
// side of the line on which the point lies. A point on the line lies on the side that is the left
// side of the line from its smaller to its larger end, so that both triangles at the line agree.
func side(a, b *corner, x, z float64) (area float64, left bool) {
	if a.x < b.x || a.x == b.x && a.z < b.z {
		area = (b.x-a.x)*(z-a.z) - (b.z-a.z)*(x-a.x)
		return area, area >= 0
	}
	area = (a.x-b.x)*(z-b.z) - (a.z-b.z)*(x-b.x)
	return -area, area < 0
}

// write writes the arrival that was kept last to a table, NaN where there is none, and returns the
// number of points without one.
func (c *canvas) write(seconds []float32) (missing int) {
	for i := range seconds {
		t := c.times[(i+1)*c.keep-1]
		if math.IsInf(t, 1) {
			t = math.NaN()
			missing++
		}
		seconds[i] = float32(t)
	}
	return missing
}
