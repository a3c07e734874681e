// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package graded

import (
	"math"

	"gonum.org/v1/gonum/spatial/r2"
	"gonum.org/v1/gonum/spatial/r3"
)

// search is a search for rays with all that follows from its arguments.
type search struct {
	Options // with the defaults filled in
	part    *space
	ends    rectangle // around the points in the part, the feet of the elements, the skips, and a tenth more
	target  rectangle // around the points in the part; empty if no point lies in the part
	bounded bool      // Options.Region is the region of the caller
	fixed   bool      // Options.Spacing is the spacing of the caller
	latest  float64   // longest time of a shot ray, s
}

// patience is the longest time of a shot ray. Its unit is the time by the foot of the element:
// straight to the nearest point of the entry surface, then straight to the point at the mean group
// speed.
const patience = 3

// newRectangle returns an empty rectangle.
func newRectangle() rectangle {
	inf := math.Inf(1)
	return rectangle{Min: r2.Vec{X: inf, Y: inf}, Max: r2.Vec{X: -inf, Y: -inf}}
}

// empty reports whether a rectangle holds no place.
func (r rectangle) empty() bool { return r.Min.X > r.Max.X }

// hold extends a rectangle to a place.
func (r *rectangle) hold(q r3.Vec) {
	r.Min = r2.Vec{X: min(r.Min.X, q.X), Y: min(r.Min.Y, q.Z)}
	r.Max = r2.Vec{X: max(r.Max.X, q.X), Y: max(r.Max.Y, q.Z)}
}

// join extends a rectangle to another rectangle, which may be empty.
func (r *rectangle) join(other rectangle) {
	r.Min = r2.Vec{X: min(r.Min.X, other.Min.X), Y: min(r.Min.Y, other.Min.Y)}
	r.Max = r2.Vec{X: max(r.Max.X, other.Max.X), Y: max(r.Max.Y, other.Max.Y)}
}

// farthest returns the distance of a point from the farthest corner, or 0 if the rectangle is
// empty.
func (r rectangle) farthest(q r3.Vec) float64 {
	dx := max(math.Abs(q.X-r.Min.X), math.Abs(q.X-r.Max.X))
	dz := max(math.Abs(q.Z-r.Min.Y), math.Abs(q.Z-r.Max.Y))
	if far := math.Hypot(dx, dz); !math.IsInf(far, 1) {
		return far
	}
	return 0
}

// widened returns a rectangle with a margin added all round.
func (r rectangle) widened(margin float64) rectangle {
	all := r2.Vec{X: margin, Y: margin}
	return rectangle{Min: r2.Sub(r.Min, all), Max: r2.Add(r.Max, all)}
}

// foot returns the point of the entry surface that is nearest to an element.
func (p *Part) foot(element r3.Vec) r3.Vec { return p.Entry.At(p.Entry.Locate(element)).P }

// newSearch returns a search with its rectangles, without options.
func newSearch(p *space, elements, points []r3.Vec) search {
	s := search{part: p, target: newRectangle()}
	for _, q := range points {
		if p.inside(q, contactTolerance) {
			s.target.hold(q)
		}
	}
	s.ends = s.target
	for _, e := range elements {
		s.ends.hold(p.foot(e))
	}
	if !p.direct() {
		for _, q := range [...]r2.Vec{s.ends.Min, s.ends.Max} {
			s.ends.hold(p.Back.At(p.Back.Locate(r3.Vec{X: q.X, Z: q.Y})).P)
		}
	}
	s.ends = s.ends.widened(max(s.ends.longest()/10, 1e-4))
	return s
}

// reachable returns a rectangle that no ray can leave and come back to the target in the longest
// time of a ray, and this time.
//
// Let h be the distance of the foot from the element, D the distance of the foot from the point, c
// the speed of the coupling, v the mean and w the largest group speed. A ray takes at least h/c
// through the coupling. The rest of the time is at most patience (h/c + D/v) − h/c, and its way in
// the part is at most w times as long. No place of this way is farther from the point. In contact
// the way also begins at the element: it lies in an ellipse around element and point.
//
// With skips the way is longer than D by the thickness of the part for each skip and once more, at
// most, and v is the mean speed of the slowest leg.
func (s *search) reachable(elements []r3.Vec) (rectangle, float64) {
	p := s.part
	mean, most := p.speeds(s.ends, elements[0].Y)
	region, latest := s.ends, 0.0
	if !(mean > 0) {
		return region, latest // no such waves
	}
	longer := 0.0
	if !p.direct() {
		longer = float64(len(p.legs)) * p.thickness(s.ends, elements[0].Y)
	}
	for _, e := range elements {
		foot, lead := p.foot(e), 0.0
		if p.Coupling != nil {
			lead = distance(e, foot) / p.Coupling.Longitudinal
		}
		apart := s.target.farthest(foot)
		time := patience * (lead + (apart+longer)/mean)
		margin := most * (time - lead)
		if p.Coupling == nil {
			margin = halfWidth(apart, margin)
		}
		region.join(s.target.widened(margin))
		latest = max(latest, time)
	}
	return region, latest
}

// around returns a rectangle for the search over the lattice. A path may leave the rectangle, as the
// search is only for a path to bend.
func (s *search) around(elements []r3.Vec) rectangle {
	p := s.part
	mean, most := p.speeds(s.ends, elements[0].Y)
	region := s.ends
	if !(mean > 0) {
		return region
	}
	for _, e := range elements {
		way := s.target.farthest(p.foot(e))
		region.join(s.target.widened(halfWidth(way, way*most/mean)))
	}
	return region
}

// halfWidth returns half of the minor axis of the ellipse that holds all ways of a length between
// two points.
func halfWidth(apart, length float64) float64 {
	return math.Sqrt(max(length*length-apart*apart, 0)) / 2
}

// speeds returns the mean group speed on the slowest leg and the largest group speed on all legs, in
// m/s, from samples in a rectangle. The largest is a twentieth larger than the samples. Both are 0 if
// a leg has no such waves.
func (s *space) speeds(in rectangle, y float64) (mean, most float64) {
	mean = math.Inf(1)
	for _, pol := range s.legs {
		m, fastest := s.Part.speeds(pol, in, y)
		if m == 0 {
			return 0, 0
		}
		mean, most = min(mean, m), max(most, fastest)
	}
	return mean, most
}

// speeds returns the mean and the largest group speed in m/s of a wave in a part, from samples in a
// rectangle. The largest is a twentieth larger than the samples. Both are 0 if there is no such wave.
func (p *Part) speeds(pol Polarisation, in rectangle, y float64) (mean, most float64) {
	const places, directions = 8, 24
	var sum, count float64
	size := r2.Box(in).Size()
	for i := range (places + 1) * (places + 1) {
		at := r3.Vec{
			X: in.Min.X + size.X*float64(i%(places+1))/places, Y: y,
			Z: in.Min.Y + size.Y*float64(i/(places+1))/places,
		}
		if !p.inside(at, 0) {
			continue
		}
		medium := p.Media[p.zone(at)]
		for k := range directions {
			w := medium.Phase(pol, at, math.Pi*float64(k)/directions)
			if speed := math.Hypot(w.Speed, w.ByAngle); speed > 0 && !math.IsInf(speed, 1) {
				sum, count, most = sum+speed, count+1, max(most, speed)
			}
		}
	}
	if count == 0 {
		return 0, 0
	}
	return sum / count, most * 1.05
}
