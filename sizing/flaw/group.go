// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package flaw

import (
	"cmp"
	"math"
	"slices"
)

// place is a position with the inverse of its covariance.
type place struct {
	x, z       float64
	xx, xz, zz float64 // information, 1/m²
}

// spotShare is the standard uncertainty of a peak along an axis of its spot, as a share of the 6 dB
// extent.
const spotShare = 0.1

// place returns the position of the peak of a sighting.
func (s *sighting) place() place {
	pixel := s.view.step / math.Sqrt(12)
	long, wide := math.Hypot(spotShare*s.Length, pixel), math.Hypot(spotShare*s.Width, pixel)
	a, b := 1/(long*long), 1/(wide*wide)
	sin, cos := math.Sincos(s.Tilt) // the long axis runs along (sin, -cos), the short axis along (cos, sin)
	return place{s.X, s.Z, a*sin*sin + b*cos*cos, (b - a) * sin * cos, a*cos*cos + b*sin*sin}
}

// join returns the mean of two places, weighted with their information.
func (p place) join(q place) place {
	out := place{xx: p.xx + q.xx, xz: p.xz + q.xz, zz: p.zz + q.zz}
	bx := p.xx*p.x + p.xz*p.z + q.xx*q.x + q.xz*q.z
	bz := p.xz*p.x + p.zz*p.z + q.xz*q.x + q.zz*q.z
	det := out.xx*out.zz - out.xz*out.xz
	out.x, out.z = (out.zz*bx-out.xz*bz)/det, (out.xx*bz-out.xz*bx)/det
	return out
}

// worst returns the standard uncertainty in the direction in which it is largest, in m.
func (p place) worst() float64 {
	mean, half := (p.xx+p.zz)/2, math.Hypot((p.xx-p.zz)/2, p.xz)
	return 1 / math.Sqrt(mean-half)
}

// half returns the distance from the peak of a sighting to its 6 dB ellipse, along the unit vector
// (ux, uz), in m.
func (s *sighting) half(ux, uz float64) float64 {
	sin, cos := math.Sincos(s.Tilt)
	long, wide := 2*(ux*sin-uz*cos)/max(s.Length, s.view.step), 2*(ux*cos+uz*sin)/max(s.Width, s.view.step)
	return 1 / math.Hypot(long, wide)
}

// maxHalf limits the half extent of a spot that counts for the distance of two spots, in
// wavelengths.
const maxHalf = 2.0

// apart returns the distance of the peaks of two sightings, relative to the distance at which their
// 6 dB ellipses touch. They may be echoes of one reflector up to 1. Spots of different views lie
// apart on the two sides of a reflector from which the views see it.
func (s *sighting) apart(other *sighting) float64 {
	dx, dz := other.X-s.X, other.Z-s.Z
	distance := math.Hypot(dx, dz)
	if distance == 0 {
		return 0
	}
	ux, uz := dx/distance, dz/distance
	reach := min(s.half(ux, uz), maxHalf*s.view.length) + min(other.half(ux, uz), maxHalf*other.view.length)
	return distance / reach
}

// group returns the sightings of each reflector. A group has at most one sighting of each view: two
// indications of one view are two reflectors, unless tips join them. The closest sightings of
// different views are joined first.
func group(sightings []*sighting) [][]*sighting {
	type link struct {
		a, b  int
		apart float64
	}
	var links []link
	for i, s := range sightings {
		for j, other := range sightings[:i] {
			if d := s.apart(other); s.view != other.view && d <= 1 {
				links = append(links, link{j, i, d})
			}
		}
	}
	slices.SortStableFunc(links, func(a, b link) int { return cmp.Compare(a.apart, b.apart) })
	groups := make([][]*sighting, len(sightings))
	in := make([]int, len(sightings)) // the group of each sighting
	for i, s := range sightings {
		groups[i], in[i] = []*sighting{s}, i
	}
	for _, l := range links {
		a, b := in[l.a], in[l.b]
		if a == b || share(groups[a], groups[b]) {
			continue
		}
		groups[a], groups[b] = append(groups[a], groups[b]...), nil
		for i := range in {
			if in[i] == b {
				in[i] = a
			}
		}
	}
	return slices.DeleteFunc(groups, func(g []*sighting) bool { return len(g) == 0 })
}

// share reports whether two groups have sightings of one view.
func share(a, b []*sighting) bool {
	for _, s := range a {
		for _, other := range b {
			if s.view == other.view {
				return true
			}
		}
	}
	return false
}
