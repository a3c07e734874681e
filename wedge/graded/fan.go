// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// strip is the area between the same piece of two neighbouring rays.
type strip struct {
	a, b           *shot
	pieceA, pieceB int
}

// fan is a fan of rays from an element. Near the target it is so dense that the cells between
// neighbouring rays and time steps are nearly plane.
type fan struct {
	shooter
	strips  []strip
	shots   int
	limited bool // rays may be missing, because the search met a limit
	left    bool // rays may be missing, because rays left the region of the caller

	// The fan of an interpolated table has these fields too.
	verify float64 // largest error of a time at a check, s
	worst  float64 // largest error of a time at a check so far, s
}

const (
	launches     = 360     // rays shot first, all round
	finestLaunch = 1e-13   // least angle between rays, rad, where a kind of ray begins
	mostShots    = 1 << 14 // rays at which a fan is left as it is
	widestAngle  = 0.1     // rad between the normals of neighbouring rays
)

// newFan returns the fan of one polarisation from an element, to find candidates.
func newFan(element r3.Vec, o *search) *fan {
	return newFanOf(element, o, min(o.Spacing, o.ends.longest()/32), 0)
}

// newFanOf returns a fan with the given largest distance between neighbouring rays and steps. If
// verify is not 0, it is the largest error of a time that is interpolated in the cells.
func newFanOf(element r3.Vec, o *search, spacing, verify float64) *fan {
	p, longest := o.part, o.ends.longest()
	f := &fan{verify: verify, shooter: shooter{
		marcher: marcher{pol: p.legs[0], y: element.Y, tolerance: 1e-5 * spacing, spread: longest},
		part:    p, element: element, spacing: spacing, latest: o.latest,
		target: o.target, region: rectangle(o.Region), bounded: o.bounded,
		far:     (math.Floor(longest/spacing) + 0.5) * spacing, // between steps: rounding must not decide
		corners: verify > 0,
	}}
	at := p.foot(element)
	zone := p.zone(at)
	if p.Media[zone] == (void{}) { // the element stands beyond the end of a plate
		zone = len(p.Media) - 1
	}
	f.step = math.Inf(1)
	for _, pol := range p.legs {
		f.step = min(f.step, p.Media[zone].Travel(pol, at, r3.Vec{Z: spacing}).Time)
	}
	if !(f.step > 0) || math.IsInf(f.step, 0) {
		return f // no such waves
	}
	last := f.shot(-math.Pi)
	for i := range launches {
		next := f.shot(math.Pi * (2*float64(i+1)/launches - 1))
		f.fill(nil, last, next, nil)
		last = next
	}
	return f
}

// limit returns an error if the search met a limit.
func (f *fan) limit() error {
	if !f.limited {
		return nil
	}
	return fmt.Errorf("%w after %d rays from %v m: set a smaller region or a larger spacing",
		ErrLimit, f.shots, f.element)
}

// shot shoots a ray.
func (f *fan) shot(launch float64) *shot {
	f.shots++
	s := f.shoot(launch)
	f.limited, f.left = f.limited || s.limited, f.left || s.left
	return &s
}

// fill shoots rays between two rays a and b until neighbours are alike, and makes strips of them.
// Each pair of neighbours is alike, and the ray in the middle of a pair is known to be alike. The
// rays before and after are the neighbours of a and b on the other side, or nil.
func (f *fan) fill(before, a, b, after *shot) {
	width := b.launch - a.launch
	if width <= finestLaunch || f.shots >= mostShots ||
		f.verify > 0 && width <= fineLaunch && f.settled(before, a) && f.settled(b, after) {
		f.limited = f.limited || f.shots >= mostShots && width > finestLaunch && !f.alike(a, b)
		if f.verify > 0 && !f.alike(a, b) {
			f.edges(a, b)
		} else {
			f.join(a, b)
		}
		return
	}
	m := f.shot((a.launch + b.launch) / 2)
	if f.alike(a, m) && f.alike(m, b) && (f.verify == 0 || f.smooth(a, m, b)) {
		f.join(a, m)
		f.join(m, b)
		return
	}
	f.fill(before, a, m, b)
	f.fill(a, m, b, after)
}

// join makes strips between two rays.
func (f *fan) join(a, b *shot) {
	for i := range a.pieces {
		if j := b.find(a.pieces[i].path); j >= 0 {
			f.strips = append(f.strips, strip{a, b, i, j})
		}
	}
}

// find returns the index of the piece of a path, or -1.
func (s *shot) find(path string) int {
	for i := range s.pieces {
		if s.pieces[i].path == path {
			return i
		}
	}
	return -1
}

// alike reports whether two rays go through the same zones, and side by side near the target.
func (f *fan) alike(a, b *shot) bool {
	if len(a.pieces) != len(b.pieces) || a.folds != b.folds {
		return false
	}
	for i := range a.pieces {
		j := b.find(a.pieces[i].path)
		if j < 0 || !f.beside(&a.pieces[i], &b.pieces[j]) {
			return false
		}
	}
	return true
}

// beside reports whether two pieces lie side by side near the target, if rays may end there.
func (f *fan) beside(p, q *piece) bool {
	if p.exit != q.exit || p.folds != q.folds {
		return false
	}
	if !f.part.final(p.room) {
		return true
	}
	first, end := common(p, q)
	for k := first; k < end; k++ {
		if a, b := p.sample(k), q.sample(k); !f.near(a, b) && f.aims(a, b) {
			return false
		}
	}
	return !f.sticksOut(p, first, end) && !f.sticksOut(q, first, end)
}

// sticksOut reports whether a piece goes on near the target where its neighbour does not.
func (f *fan) sticksOut(p *piece, first, end int) bool {
	for k := p.first; k < p.end(); k++ {
		if (k < first-1 || k > end) && f.aims(p.sample(k), p.sample(k)) {
			return true
		}
	}
	return false
}

// aims reports whether the cells between two waves may touch the target.
func (f *fan) aims(a, b state) bool {
	margin := math.Hypot(a.x-b.x, a.z-b.z) + 2*f.spacing
	return min(a.x, b.x) <= f.target.Max.X+margin && max(a.x, b.x) >= f.target.Min.X-margin &&
		min(a.z, b.z) <= f.target.Max.Y+margin && max(a.z, b.z) >= f.target.Min.Y-margin
}

// near reports whether two waves are so close that waves between them follow by interpolation.
func (f *fan) near(a, b state) bool {
	dx, dz := a.x-b.x, a.z-b.z
	return dx*dx+dz*dz <= f.spacing*f.spacing && math.Abs(a.angle-b.angle) <= widestAngle
}

// end returns the number of the last sample plus 1.
func (p *piece) end() int { return p.first + len(p.samples) }

// sample returns the sample number k.
func (p *piece) sample(k int) state { return p.samples[k-p.first] }

// common returns the range of the numbers at which both pieces have samples.
func common(p, q *piece) (first, end int) {
	return max(p.first, q.first), min(p.end(), q.end())
}

// candidate is a place at which a ray to a point is searched.
type candidate struct {
	strip  int
	launch float64 // rad
	time   float64 // s
	slope  float64 // of the miss by the launch, m/rad
}

// locate calls found for each point that lies in a cell of the fan, or close to it.
func (f *fan) locate(points *pointIndex, found func(point int, c candidate)) {
	for i := range f.strips {
		s := &f.strips[i]
		p, q := &s.a.pieces[s.pieceA], &s.b.pieces[s.pieceB]
		if !f.part.final(p.room) {
			continue
		}
		first, end := common(p, q)
		for k := first; k+1 < end; k++ {
			a, b, c, d := p.sample(k), q.sample(k), p.sample(k+1), q.sample(k+1)
			if !f.near(a, b) || !f.near(c, d) || !f.aims(a, b) {
				continue
			}
			for _, t := range [2]triangle{
				{[3]state{a, b, c}, [3]float64{0, 1, 0}, [3]float64{0, 0, 1}},
				{[3]state{b, c, d}, [3]float64{1, 0, 1}, [3]float64{0, 1, 1}},
			} {
				points.within(&t, func(point int, u, v float64) {
					width := s.b.launch - s.a.launch
					angle := (a.angle + b.angle) / 2
					dx, dz := b.x-a.x+v*(d.x-c.x-b.x+a.x), b.z-a.z+v*(d.z-c.z-b.z+a.z)
					found(point, candidate{
						strip: i, launch: s.a.launch + u*width, time: f.step * (float64(k) + v),
						slope: (dz*math.Cos(angle) - dx*math.Sin(angle)) / width,
					})
				})
			}
		}
	}
}

// triangle is half a cell, with the shares of launch and time at its corners.
type triangle struct {
	corners [3]state
	u, v    [3]float64
}

// margin is the largest distance of a point outside a triangle, as a share of the triangle. It is
// larger than the curvature of the fan over a cell, which would hide a point at the edge.
const margin = 0.1

// pointIndex finds points by place.
type pointIndex struct {
	points        []r3.Vec
	x, z, side    float64
	rows, columns int
	cells         [][]int32
}

// newPointIndex returns the index of the points in the target of a search, in square cells.
func newPointIndex(points []r3.Vec, o *search) *pointIndex {
	x := &pointIndex{points: points, x: o.target.Min.X, z: o.target.Min.Y, side: o.Spacing}
	if o.target.empty() {
		return x
	}
	x.rows, x.columns = o.target.nodes(o.Spacing)
	x.cells = make([][]int32, x.rows*x.columns)
	for i, q := range points {
		if o.target.away(q) == 0 {
			at := x.row(q.Z)*x.columns + x.column(q.X)
			x.cells[at] = append(x.cells[at], int32(i))
		}
	}
	return x
}

// row returns the row of a depth, or the nearest row.
func (x *pointIndex) row(z float64) int {
	return int(max(0, min(float64(x.rows-1), (z-x.z)/x.side)))
}

// column returns the column of a place, or the nearest column.
func (x *pointIndex) column(at float64) int {
	return int(max(0, min(float64(x.columns-1), (at-x.x)/x.side)))
}

// within calls found for the points in a triangle, or within its margin, with the shares of launch
// and time there.
func (x *pointIndex) within(t *triangle, found func(point int, u, v float64)) {
	a, b, c := t.corners[0], t.corners[1], t.corners[2]
	det := (b.x-a.x)*(c.z-a.z) - (b.z-a.z)*(c.x-a.x)
	if !(det != 0) || len(x.cells) == 0 {
		return
	}
	minX, maxX := min(a.x, b.x, c.x), max(a.x, b.x, c.x)
	minZ, maxZ := min(a.z, b.z, c.z), max(a.z, b.z, c.z)
	extra := margin * max(maxX-minX, maxZ-minZ)
	for row := x.row(minZ - extra); row <= x.row(maxZ+extra); row++ {
		for column := x.column(minX - extra); column <= x.column(maxX+extra); column++ {
			for _, point := range x.cells[row*x.columns+column] {
				q := x.points[point]
				beta := ((q.X-a.x)*(c.z-a.z) - (q.Z-a.z)*(c.x-a.x)) / det
				gamma := ((b.x-a.x)*(q.Z-a.z) - (b.z-a.z)*(q.X-a.x)) / det
				alpha := 1 - beta - gamma
				if min(alpha, beta, gamma) >= -margin {
					found(int(point),
						alpha*t.u[0]+beta*t.u[1]+gamma*t.u[2],
						alpha*t.v[0]+beta*t.v[1]+gamma*t.v[2])
				}
			}
		}
	}
}
