// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"

	"github.com/isochron-imaging/isochron/wedge"
)

// knot is a point of a path that bending moves along a line. The line goes across the path inside a
// medium, and along the face where the path crosses a face.
type knot struct {
	at     r3.Vec
	across r3.Vec        // unit vector of its motion; zero if the knot is fixed
	face   wedge.Surface // nil unless the knot lies on one
	u      float64       // its parameter on the face
}

// moved returns the place of the knot moved by s metres along its line, and the derivative of the
// place.
func (k *knot) moved(s float64) (at, tangent r3.Vec) {
	if k.face != nil {
		p := k.face.At(k.u+s, 0)
		p.P.Y = k.at.Y
		return p.P, p.U
	}
	return r3.Add(k.at, r3.Scale(s, k.across)), k.across
}

// fixed reports whether the knot does not move.
func (k *knot) fixed() bool { return k.face == nil && k.across == r3.Vec{} }

// segment is the straight piece between a knot and the next knot.
type segment struct {
	medium Medium
	zone   int // of the part; -1 in the coupling
}

// shortestLeg is the length in metres below which a leg is left out.
const shortestLeg = 1e-9

// mark is the point at which a polyline crosses a face, and the zone beyond.
type mark struct{ at, face, zone int }

// layout makes knots along the polyline: n segments in a zone that is not uniform, and one segment
// in a uniform zone. It reports whether a ray can follow the polyline.
func (b *bender) layout(polyline []r3.Vec, n int) bool {
	p := b.part
	b.knots, b.segments, b.marks, b.line = b.knots[:0], b.segments[:0], b.marks[:0], b.line[:0]
	first := knot{at: polyline[0]}
	if p.Coupling != nil {
		b.knots = append(b.knots, first)
		b.segments = append(b.segments, segment{medium: b.coupling, zone: -1})
		first = onFace(p.Entry, polyline[1])
		polyline = polyline[1:]
	}
	b.knots = append(b.knots, first)
	b.line = append(b.line, polyline[0])
	zone := p.zone(polyline[0])
	start := zone
	for i := 1; i < len(polyline); i++ {
		next := p.zone(polyline[i])
		if !b.walk(polyline[i-1], zone, polyline[i], next, 0) {
			return false
		}
		zone = next
	}
	from := 0
	zone = start
	for _, m := range b.marks {
		if length(b.line, from, m.at) < shortestLeg {
			if from > 0 {
				return false // two faces crossed in one point
			}
		} else {
			b.leg(from, m.at, zone, n)
			b.knots = append(b.knots, onFace(p.Faces[m.face], b.line[m.at]))
			from = m.at
		}
		zone = m.zone
	}
	end := len(b.line) - 1
	if length(b.line, from, end) < shortestLeg {
		if from == 0 && p.Coupling == nil {
			return false
		}
		b.knots = b.knots[:len(b.knots)-1] // the end lies on the surface
	} else {
		b.leg(from, end, zone, n)
	}
	b.knots = append(b.knots, knot{at: b.line[end]})
	return true
}

// walk appends the line from a to c without a, with marks where it crosses faces.
func (b *bender) walk(a r3.Vec, za int, c r3.Vec, zc, depth int) bool {
	if za == zc {
		b.line = append(b.line, c)
		return true
	}
	if depth > deepest {
		return false
	}
	along := r3.Sub(c, a)
	low, high, next := 0.0, 1.0, zc
	for range 60 {
		t := (low + high) / 2
		if z := b.part.zone(r3.Add(a, r3.Scale(t, along))); z == za {
			low = t
		} else {
			high, next = t, z
		}
	}
	at := r3.Add(a, r3.Scale(high, along))
	b.line = append(b.line, at)
	b.marks = append(b.marks, mark{len(b.line) - 1, min(za, next), next})
	return b.walk(at, next, c, zc, depth+1)
}

// leg appends the segments of the line between two of its points. The knots between them are evenly
// spaced along the chord.
func (b *bender) leg(from, to, zone, n int) {
	m := b.part.Media[zone]
	if m.Uniform() {
		n = 1
	}
	for range n {
		b.segments = append(b.segments, segment{medium: m, zone: zone})
	}
	a, chord := b.line[from], r3.Sub(b.line[to], b.line[from])
	across := r3.Unit(r3.Vec{X: -chord.Z, Z: chord.X})
	total := length(b.line, from, to)
	passed := 0.0
	i := from
	for k := 1; k < n; k++ {
		share := float64(k) / float64(n)
		for i < to-1 && passed+distance(b.line[i], b.line[i+1]) < share*total {
			passed += distance(b.line[i], b.line[i+1])
			i++
		}
		edge := r3.Sub(b.line[i+1], b.line[i])
		on := r3.Add(b.line[i], r3.Scale((share*total-passed)/max(r3.Norm(edge), shortestLeg),
			edge))
		side := r3.Dot(r3.Sub(on, a), across)
		at := r3.Add(r3.Add(a, r3.Scale(share, chord)), r3.Scale(side, across))
		b.knots = append(b.knots, knot{at: at, across: across})
	}
}

// onFace returns the knot at the point of a face that is nearest to p.
func onFace(face wedge.Surface, p r3.Vec) knot {
	u, _ := face.Locate(p)
	at := face.At(u, 0).P
	at.Y = p.Y
	return knot{at: at, face: face, u: u}
}

// distance returns the distance between two points of a section.
func distance(a, b r3.Vec) float64 { return math.Hypot(b.X-a.X, b.Z-a.Z) }

// length returns the length of a polyline from one of its points to another.
func length(line []r3.Vec, from, to int) float64 {
	var sum float64
	for i := from; i < to; i++ {
		sum += distance(line[i], line[i+1])
	}
	return sum
}
