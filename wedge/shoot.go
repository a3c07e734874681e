// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"

	"gonum.org/v1/gonum/spatial/r3"
)

// shooter follows rays from a start by Snell's law.
type shooter struct {
	section   *section
	from      point
	reach     float64 // the largest distance of a crossing from the start, m
	crossings []point // of the ray last shot
}

// newShooter returns a shooter of rays within the reach (m). It changes the stations of the
// section.
func newShooter(s *section, from point, reach float64) *shooter {
	return &shooter{section: s, from: from, reach: reach, crossings: make([]point, len(s.stations))}
}

// shot is a ray that is sent from the start in a direction.
type shot struct {
	angle  float64 // of the direction, from +z towards +x, rad
	start  point   // the direction
	ok     bool    // the ray meets all surfaces, and arrives at each from the right side
	leaves bool    // the ray leaves the last surface: it is ok, and not totally reflected
	at     point   // the last crossing
	d      point   // the direction after the last crossing; zero unless leaves
	slow   float64 // the slowness along the last surface, s/m
	tx, tz float64 // the tangent of the last surface
}

// shoot follows a ray from the start to the last surface.
func (s *shooter) shoot(angle float64) shot {
	sin, cos := math.Sincos(angle)
	at, d := s.from, point{sin, cos}
	stations, slowness := s.section.stations, s.section.slowness
	last := len(stations) - 1
	result := shot{angle: angle, start: d}
	for k := range stations {
		t := &stations[k]
		if !t.hit(at, d) || math.Hypot(t.x-s.from.x, t.z-s.from.z) > s.reach {
			return result
		}
		at = point{t.x, t.z}
		s.crossings[k] = at
		along, across := d.x*t.tx+d.z*t.tz, d.z*t.tx-d.x*t.tz
		if across*t.in <= 0 {
			return result
		}
		if k == last {
			result.ok, result.at, result.slow = true, at, slowness[k]*along
			result.tx, result.tz = t.tx, t.tz
		}
		along *= slowness[k] / slowness[k+1]
		if !(math.Abs(along) < 1) {
			return result
		}
		across = t.out * math.Sqrt(1-along*along)
		d = point{along*t.tx - across*t.tz, along*t.tz + across*t.tx}
	}
	result.leaves, result.d = true, d
	return result
}

// hit moves the station to the place where a ray first meets its curve, and reports whether there
// is such a place. The ray starts at a point, in the direction of the unit vector d.
func (t *station) hit(from, d point) bool {
	// A ray that starts on the curve must not meet the curve at its start.
	const start = 1e-7
	switch t.kind {
	case straight:
		length := (t.tz*(from.x-t.cx) - t.tx*(from.z-t.cz)) / (d.z*t.tx - d.x*t.tz)
		if !(length > start) || math.IsInf(length, 0) {
			return false
		}
		t.x, t.z = from.x+length*d.x, from.z+length*d.z
		return true
	case circular:
		mx, mz := from.x-t.cx, from.z-t.cz
		half := mx*d.x + mz*d.z
		for _, length := range ordered(quadraticRoots(1, 2*half, mx*mx+mz*mz-t.radius*t.radius)) {
			if length > start {
				t.x, t.z = from.x+length*d.x, from.z+length*d.z
				// The centre lies a radius along the normal.
				t.tx, t.tz = (t.cz-t.z)/t.radius, (t.x-t.cx)/t.radius
				return true
			}
		}
		return false
	}
	from = point{from.x + start*d.x, from.z + start*d.z}
	if t.kind == general {
		length, ok := march(t.surface, from, d)
		if ok {
			u, _ := t.surface.Locate(r3.Vec{X: from.x + length*d.x, Z: from.z + length*d.z})
			at := t.surface.At(u, 0)
			t.set(u, &at)
		}
		return ok
	}
	x, ok := t.profile.meet(from, d)
	if ok {
		t.u = x
		t.round(0)
	}
	return ok
}

// march returns the length along d to the first place where a ray meets an extruded surface, and
// reports whether there is one. No step is longer than the distance from the surface, so the ray
// cannot pass through the surface unseen.
func march(surface Surface, from, d point) (length float64, ok bool) {
	const (
		least   = 1e-8 // m; the shortest step
		longest = 10.0 // m; the search ends there
		steps   = 2000
	)
	depth := func(length float64) float64 {
		return surface.Depth(r3.Vec{X: from.x + length*d.x, Z: from.z + length*d.z})
	}
	here := depth(0)
	side := here < 0
	for range steps {
		next := length + math.Abs(here) + least
		there := depth(next)
		if (there < 0) != side {
			for range 60 {
				if middle := length + (next-length)/2; (depth(middle) < 0) == side {
					length = middle
				} else {
					next = middle
				}
			}
			return next, true
		}
		if !(next < longest) {
			break
		}
		length, here = next, there
	}
	return 0, false
}

// ordered returns the roots in ascending order.
func ordered(roots [2]float64) [2]float64 {
	if roots[0] > roots[1] {
		roots[0], roots[1] = roots[1], roots[0]
	}
	return roots
}

// approach returns the x at which a line from a point over the profile reaches the range of its z,
// or an end point of the profile. The direction is the sign of dx. The line cannot meet the curve
// before.
func (p *profile) approach(from point, slope, dx float64) float64 {
	edge := p.low
	switch {
	case from.x < p.x[0] || from.x > p.x[p.final]:
		return from.x
	case from.z > p.high:
		edge = p.high
	case from.z >= p.low:
		return from.x
	}
	far := p.x[p.final]
	if dx < 0 {
		far = p.x[0]
	}
	x := from.x + (edge-from.z)/slope*(1-1e-9)
	if !((x-from.x)*dx > 0) || (x-far)*dx > 0 {
		return far
	}
	return x
}

// meet returns the x at which the ray from a point in a direction first meets the profile, and
// reports whether it does.
func (p *profile) meet(from, d point) (x float64, ok bool) {
	if math.Abs(d.x) < 1e-12 {
		z, _, _ := p.curve(from.x)
		return from.x, (z-from.z)*d.z > 0
	}
	l := sight{profile: p, from: from, dx: d.x, slope: d.z / d.x}
	here := l.above(from.x)
	l.under = here < 0
	l.at = p.approach(from, l.slope, d.x)
	if steep := math.Abs(l.slope); steep > p.steep {
		// The distance of the ray from the curve is monotonic. Its slope has bounds, so the place
		// where the ray meets the curve has bounds. If the ray is nearly vertical, x may round to
		// the wrong side of a bound. Then the spans are searched from the start, as below.
		if here*d.z < 0 {
			return 0, false
		}
		start, step := l.at, math.Copysign(here, d.x)
		l.at = from.x + step/(steep+p.steep)*(1-1e-9)
		if x, ok := l.meets(from.x + step/(steep-p.steep)*(1+1e-9)); ok {
			return x, true
		}
		l.at = start
	}
	forward := d.x > 0
	first := max(p.before(l.at), 0) // the span of the start
	if !forward {
		first = p.final - 1 - min(first, p.final-1)
	}
	for k := first; k < p.final; k++ {
		i := k
		if !forward {
			i = p.final - 1 - k
		}
		if x, ok := l.span(i, forward); ok {
			return x, true
		}
	}
	// Beyond the end points both are straight.
	_, dz, _ := p.curve(l.at)
	if end := l.at - l.above(l.at)/(dz-l.slope); (end-l.at)*d.x > 0 && !math.IsInf(end, 0) {
		return end, true
	}
	return 0, false
}

// sight is the line of a ray that looks for the first place where it meets a profile.
type sight struct {
	profile *profile
	from    point
	dx      float64 // the ray travels towards +x if it is positive, and towards -x if it is negative
	slope   float64 // dz/dx
	under   bool    // above is negative at the start
	at      float64 // up to this x the line does not meet the profile
}

// above returns the distance of the line above the curve along z, in m.
func (l *sight) above(x float64) float64 {
	z, _, _ := l.profile.curve(x)
	return z - l.from.z - (x-l.from.x)*l.slope
}

// span looks for the place between two neighbouring points of the profile. Between the ends and the
// places at which the curve is parallel to the line, the distance of both is monotonic.
func (l *sight) span(i int, forward bool) (x float64, ok bool) {
	p := l.profile
	near, far := p.x[i], p.x[i+1]
	if !forward {
		near, far = far, near
	}
	if (far-l.at)*l.dx <= 0 {
		return 0, false
	}
	if x, ok := l.meets(near); ok {
		return x, true
	}
	roots := ordered(quadraticRoots(p.dbend[i]/2, p.bend[i], p.dz[i]-l.slope))
	if !forward {
		roots[0], roots[1] = roots[1], roots[0]
	}
	for _, t := range roots {
		if e := p.x[i] + t; (e-near)*l.dx > 0 && (far-e)*l.dx > 0 {
			if x, ok := l.meets(e); ok {
				return x, true
			}
		}
	}
	return l.meets(far)
}

// meets returns the place where the line meets the curve up to next, and reports whether there is
// one. It is called for places in the order of travel. Between two of them the distance of the line
// from the curve is monotonic, so they meet once at most.
func (l *sight) meets(next float64) (x float64, ok bool) {
	if (next-l.at)*l.dx <= 0 {
		return 0, false
	}
	if (l.above(next) < 0) == l.under {
		l.at = next
		return 0, false
	}
	// Newton's method between two places on different sides of the line.
	low, high := l.at, next
	for x = high; ; {
		z, dz, _ := l.profile.curve(x)
		off := z - l.from.z - (x-l.from.x)*l.slope
		if (off < 0) == l.under {
			low = x
		} else {
			high = x
		}
		better := x - off/(dz-l.slope)
		least := 1e-16 + 2e-16*math.Abs(x) // the least step
		if !((better-low)*(better-high) < 0 || math.Abs(better-x) <= least) {
			better = low + (high-low)/2
		}
		if math.Abs(better-x) <= least {
			return x, true
		}
		x = better
	}
}
