// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package wedge

import (
	"math"
	"sort"
)

// shot is the result of a ray that is sent from the start in a direction.
type shot struct {
	angle    float64
	ok       bool
	mismatch float64 // of Snell's law at the last crossing, s/m
	at       point   // the last crossing
}

// shoot follows a ray from the start to the last surface. The angle of its direction is in radians,
// from +z towards +x.
func (s *search) shoot(angle float64) shot {
	sin, cos := math.Sincos(angle)
	at, d := flat(s.from), point{sin, cos}
	stations, slowness := s.section.stations, s.section.slowness
	last := len(stations) - 1
	result := shot{angle: angle}
	for k := range stations {
		t := &stations[k]
		if !t.hit(at, d) || math.Hypot(t.x-s.from.X, t.z-s.from.Z) > s.reach {
			return result
		}
		at = point{t.x, t.z}
		s.crossings[k] = at
		along, across := d.x*t.tx+d.z*t.tz, d.z*t.tx-d.x*t.tz
		if across*t.in <= 0 {
			return result
		}
		if k == last {
			e := flat(s.to).minus(at)
			length := math.Hypot(e.x, e.z)
			result.at, result.ok = at, length > 0
			result.mismatch = slowness[k]*along - slowness[k+1]*(e.x*t.tx+e.z*t.tz)/length
			return result
		}
		along *= slowness[k] / slowness[k+1]
		if !(math.Abs(along) < 1) {
			return result
		}
		across = t.out * math.Sqrt(1-along*along)
		d = point{along*t.tx - across*t.tz, along*t.tz + across*t.tx}
	}
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
	x, ok := t.profile.meet(point{from.x + start*d.x, from.z + start*d.z}, d)
	if ok {
		t.u = x
		t.round(0)
	}
	return ok
}

// ordered returns the roots in ascending order.
func ordered(roots [2]float64) [2]float64 {
	if roots[0] > roots[1] {
		roots[0], roots[1] = roots[1], roots[0]
	}
	return roots
}

// meet returns the x at which the ray from a point in a direction first meets the profile, and
// reports whether it does.
func (p *profile) meet(from, d point) (x float64, ok bool) {
	if math.Abs(d.x) < 1e-12 {
		z, _, _ := p.curve(from.x)
		return from.x, (z-from.z)*d.z > 0
	}
	slope := d.z / d.x
	above := func(x float64) float64 { // distance of the line above the curve along z, m
		z, _, _ := p.curve(x)
		return z - from.z - (x-from.x)*slope
	}
	side := above(from.x) < 0
	// crossed is called for places in the order of travel. Between two of them the distance of the
	// line from the curve is monotonic, so they meet once at most.
	at := from.x
	crossed := func(next float64) bool {
		if (next-at)*d.x <= 0 {
			return false
		}
		if (above(next) < 0) == side {
			at = next
			return false
		}
		low, high := at, next
		for range 60 {
			if middle := low + (high-low)/2; (above(middle) < 0) == side {
				low = middle
			} else {
				high = middle
			}
		}
		x = high
		return true
	}
	forward := d.x > 0
	first := max(sort.SearchFloat64s(p.x, at)-1, 0) // the span of the start
	if !forward {
		first = p.final - 1 - min(first, p.final-1)
	}
	for k := first; k < p.final; k++ {
		i := k
		if !forward {
			i = p.final - 1 - k
		}
		near, far := p.x[i], p.x[i+1]
		if !forward {
			near, far = far, near
		}
		if (far-at)*d.x <= 0 {
			continue
		}
		if crossed(near) {
			return x, true
		}
		roots := ordered(quadraticRoots(p.dbend[i]/2, p.bend[i], p.dz[i]-slope))
		if !forward {
			roots[0], roots[1] = roots[1], roots[0]
		}
		for _, t := range roots {
			if e := p.x[i] + t; (e-near)*d.x > 0 && (far-e)*d.x > 0 && crossed(e) {
				return x, true
			}
		}
		if crossed(far) {
			return x, true
		}
	}
	// Beyond the end points both are straight.
	_, dz, _ := p.curve(at)
	if end := at - above(at)/(dz-slope); (end-at)*d.x > 0 && !math.IsInf(end, 0) {
		return end, true
	}
	return 0, false
}
