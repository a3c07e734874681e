// Copyright 2026 The Isochron Authors. All rights reserved.
// Use of this source code is governed by a BSD-style license that can be found in the LICENSE file.

package layers

// Block is the largest number of points that are solved for at a time: they stay
// in the first cache.
const Block = 1024

// Points are the ends of rays. The zero value has none. It must not be used
// concurrently, also not by [Stack.Solve].
type Points struct {
	n              int
	u, v, distance [Block]float64
	apart          [Block]float64 // how far along the faces from the start, by Stack.Solve
}

// Reset removes all points.
func (p *Points) Reset() { p.n = 0 }

// Add adds a point, given by its coordinates along the faces and its distance
// from the face at which the last leg begins, in metres. Rays to one that is
// NaN are NaN.
func (p *Points) Add(u, v, distance float64) {
	p.u[p.n], p.v[p.n], p.distance[p.n] = u, v, distance
	p.n++
}

// At returns the coordinates of point i along the faces.
func (p *Points) At(i int) (u, v float64) { return p.u[i], p.v[i] }

// pad repeats the last point up to a whole vector.
func (p *Points) pad() {
	for i := p.n; i%lanes != 0; i++ {
		p.u[i], p.v[i], p.distance[i] = p.u[p.n-1], p.v[p.n-1], p.distance[p.n-1]
	}
}
