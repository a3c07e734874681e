// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package layers

import (
	"math"
	"slices"
)

// Leg is a straight piece of a ray between two faces.
type Leg struct {
	Speed float64 // m/s
	// Thickness is the distance of the two faces in metres. For the first and the last leg it does
	// not include the distance of the end of the ray.
	Thickness float64
}

// Stack holds the layers of the rays from one start. A copy has the same layers in memory. A Stack
// must not be used concurrently.
type Stack struct {
	u, v     float64   // the start
	slowness float64   // of the fastest layer, s/m
	fast     thickness // of the fastest layer
	slow     []layer   // the others

	first, last float64    // the speeds of the first and the last leg as shares of the largest speed
	start       *thickness // thickness of the layer of the first leg
	without     float64    // base of that thickness without the distance of the start
}

// thickness gives b = h·r of a layer, as base + share·distance. The distance belongs to the point.
type thickness struct{ base, share float64 }

// layer is a layer slower than the fastest.
type layer struct {
	thickness
	bend   float64 // a = 1−r²
	limit  float64 // 1/√a, the limit of q/w for large q
	weight float64 // 1/r²
}

// NewStack returns the layers of rays with these legs.
func NewStack(legs []Leg) *Stack {
	fastest := 0.0
	for _, leg := range legs {
		fastest = max(fastest, leg.Speed)
	}
	s := &Stack{slowness: 1 / fastest}
	end := len(legs) - 1
	s.first, s.last = legs[0].Speed/fastest, legs[end].Speed/fastest
	speeds := []float64{fastest}
	for _, leg := range legs {
		if slices.Contains(speeds, leg.Speed) {
			continue
		}
		speeds = append(speeds, leg.Speed)
		r := leg.Speed / fastest
		a := (1 - r) * (1 + r)
		s.slow = append(s.slow, layer{bend: a, limit: 1 / math.Sqrt(a), weight: 1 / (r * r)})
	}
	place := func(leg Leg) *thickness {
		i := slices.Index(speeds, leg.Speed)
		if i == 0 {
			return &s.fast
		}
		return &s.slow[i-1].thickness
	}
	for _, leg := range legs {
		place(leg).base += leg.Thickness * leg.Speed / fastest
	}
	place(legs[end]).share = s.last
	s.start = place(legs[0])
	s.without = s.start.base
	return s
}

// Start sets where the rays start: the coordinates along the faces, and the distance from the face
// where the first leg ends, in metres.
func (s *Stack) Start(u, v, distance float64) {
	s.u, s.v = u, v
	s.start.base = s.without + s.first*distance
}

// Departure returns the sine and the cosine of the angle to the normal at the start of the ray with
// the tangent q.
func (s *Stack) Departure(q float64) (sin, cos float64) { return refracted(s.first, q) }

// Arrival returns the sine and the cosine of the angle to the normal at the end of the ray with the
// tangent q.
func (s *Stack) Arrival(q float64) (sin, cos float64) { return refracted(s.last, q) }

// refracted returns the sine and the cosine of the angle in a layer whose speed is r times the
// largest.
func refracted(r, q float64) (sin, cos float64) {
	u := 1 / math.Sqrt(1+q*q)
	return r * q * u, u * math.Sqrt(1+(1-r)*(1+r)*q*q)
}
